"""The pictures of one frame: predicted again, cut, placed and stored; only words and names are kept."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.core.encoding import code_to_light, luma
from scalesim.io.pictures.write import to_codes
from scalesim.jobs.compare.compare import Comparison
from scalesim.jobs.frames import FrameSource
from scalesim.jobs.predict.outcome import Outcome
from scalesim.jobs.predict.words import signal_sentence
from scalesim.page.compare_difference import LIMIT, difference, difference_png
from scalesim.page.compare_look import (
    Box,
    Crop,
    Face,
    Placing,
    Shown,
    busiest_crop,
    check_crop,
    drawn,
    face_for,
    on_source,
    places_on,
    visible_on,
)
from scalesim.page.picture_store import PictureStore, png

_TILE = 480
"""Dots of the page that a close look may be wide when it is enlarged."""


@dataclass(frozen=True)
class Tile:
    """A close look: a stored picture, its size in dots of the page, and how it is drawn."""

    label: str
    picture: str
    width: int
    height: int
    drawn: str
    signal: str


@dataclass(frozen=True)
class ViewerPicture:
    """A stored picture for the viewer, its words and place; `fields` are two more, by name and place."""

    id: str
    picture: str
    label: str
    caption: str
    place: Box
    fields: tuple[tuple[str, Box, str], ...] = ()
    light: bool = True


@dataclass(frozen=True)
class FramePictures:
    """What the page shows of one frame."""

    name: str
    size: str
    crop: Crop
    crop_reason: str
    tiles: tuple[Tile, ...]
    viewer: tuple[ViewerPicture, ...]
    start: tuple[float, float]


@dataclass(frozen=True, eq=False)
class Contestant:
    """One chain's visible picture on the face, and how it came there."""

    label: str
    shown: Shown
    placing: Placing
    signal: str


@dataclass(frozen=True, eq=False)
class Look:
    """Everything that stills and tiles of a frame are cut from."""

    name: str
    source: NDArray
    face: Face
    crop: Crop
    contestants: tuple[Contestant, ...]


def frame_pictures(
    comparison: Comparison,
    number: int,
    store: PictureStore,
    *,
    crop: Crop | None,
    tube: str,
    advance: Callable[[str], None],
) -> tuple[FramePictures, Look] | None:
    """Predict a frame through the chains that fit it, and store its pictures; None when none fits.

    Raises: ParameterError for a crop outside the frame
    """
    frame = comparison.frames[number]
    labels = _drawable(comparison, frame)
    if not labels:
        return None
    clip = frame.load()
    assert clip.frame is not None
    lines, samples = clip.frame.shape[:2]
    if crop is not None:
        check_crop(crop, frame.name, lines, samples)
    # captures tell their raster only when they have been registered, and there are few
    boxes = {label: comparison.shown(label, clip, tube) for label in labels if label in comparison.captures}
    outputs = [
        boxes[label].raster if label in boxes else comparison.chains[label].resolve(clip.raster).output
        for label in labels
    ]
    face = face_for(outputs, tube)
    places = places_on(lines, samples)
    contestants, lights, pictures, maps = [], [], [], []
    for label in labels:
        advance(f"{frame.name}: pictures of {label}")
        outcome = boxes[label] if label in boxes else comparison.shown(label, clip, tube)
        lights.append(on_source(outcome, places))
        contestant = _contestant(label, outcome, face)
        contestants.append(contestant)
        name = f"{number + 1:02d}-{comparison.contestants.index(label) + 1:02d}"
        pictures.append(_viewer_picture(name, contestant, outcome, face, store))
        maps.append(_difference_picture(name, contestant, outcome, store))
    reason = "The window was asked for."
    if crop is None:
        crop, reason = _chosen(lights, clip.frame, places)
    look = Look(frame.name, to_codes(clip.frame), face, crop, tuple(contestants))
    source = _source_picture(f"{number + 1:02d}-source", look, store)
    first = contestants[0].placing.window(face, crop)
    found = FramePictures(
        frame.name,
        f"{samples}x{lines}, {clip.mode}",
        crop,
        reason,
        _tiles(f"{number + 1:02d}", look, store),
        (source, *pictures, *maps),
        (first.x + first.width / 2, first.y + first.height / 2),
    )
    return found, look


def _drawable(comparison: Comparison, frame: FrameSource) -> list[str]:
    done = {row.chain for row in comparison.rows if row.frame == frame.name}
    return [label for label in comparison.contestants if label in done]


def _chosen(lights: list[NDArray], frame: NDArray, places: tuple[NDArray, NDArray]) -> tuple[Crop, str]:
    """Return the window where contestants differ most (one alone: from the source), and why."""
    alone = len(lights) == 1
    if alone:
        at = np.ix_(*(each.astype(np.int64) for each in places))
        lights = [*lights, luma(code_to_light(frame[at]))]
    crop, amount = busiest_crop(lights, frame.shape[0], frame.shape[1])
    who = "the chain differs most from the source" if alone else "the chains differ most from each other"
    return crop, f"The window was chosen because {who} there: by {amount:.1f}\u00a0% of white on average."


def _contestant(label: str, outcome: Outcome, face: Face) -> Contestant:
    raster = outcome.raster
    return Contestant(
        label,
        visible_on(face, to_codes(outcome.landed), raster),
        Placing(outcome.source.raster, raster, outcome.geometry),
        signal_sentence(outcome.source.mode, outcome.mode_out, raster),
    )


def _source_picture(name: str, look: Look, store: PictureStore) -> ViewerPicture:
    whole = Box(0, 0, look.face.width, look.face.height)
    caption = "Before any box, drawn over the whole face of the tube."
    return ViewerPicture("source", store.add(name, png(look.source)), "The source", caption, whole)


def _viewer_picture(
    name: str, contestant: Contestant, outcome: Outcome, face: Face, store: PictureStore
) -> ViewerPicture:
    stored = store.add(f"{name}-landed", png(contestant.shown.codes))
    fields = []
    for phase, values in enumerate(outcome.cycle if len(outcome.cycle) == 2 else ()):
        part = _field_on(face, values, outcome, phase)
        fields.append(
            (store.add(f"{name}-field-{phase}", png(part.codes)), part.place, f"field {phase + 1} of 2")
        )
    caption = contestant.signal + (" At rest: both fields as they land." if fields else "")
    return ViewerPicture(
        name, stored, contestant.label, caption, contestant.shown.place, tuple(fields), light=True
    )


def _field_on(face: Face, values: NDArray, outcome: Outcome, phase: int) -> Shown:
    """Return one picture of the cycle where the display draws its lines, each a field-line pitch tall."""
    raster = outcome.raster
    landing = float(raster.fields[phase % raster.period].landing)
    # a field line is centred on its frame line but twice as tall, so it begins half a frame line higher
    lines = landing - 0.25 if raster.scan == "interlaced" else landing
    return visible_on(face, to_codes(values), raster, lower=lines * face.height / raster.lines)


def _difference_picture(
    name: str, contestant: Contestant, outcome: Outcome, store: PictureStore
) -> ViewerPicture:
    percent = difference(outcome)
    stored = store.add(f"{name}-difference", difference_png(percent))
    typical, most = np.abs(percent).mean(), np.abs(percent).max()
    caption = (
        f"Light less that of the ideal, percent of white: {typical:.1f} on average, at most {most:.0f}. "
        f"Blue is darker, orange lighter, white equal; the colours end at {LIMIT:.0f}."
    )
    place = contestant.shown.place
    return ViewerPicture(
        f"{name}-difference", stored, f"Difference: {contestant.label}", caption, place, light=False
    )


def _tiles(prefix: str, look: Look, store: PictureStore) -> tuple[Tile, ...]:
    """Store the close looks: the source in its own dots, and every chain at one whole scale."""
    face = look.face
    windows = [each.placing.window(face, look.crop) for each in look.contestants]
    scale = max(1, int(_TILE // windows[0].width))
    tiles = [_source_tile(prefix, look, round(windows[0].height * scale), store)]
    for number, (each, window) in enumerate(zip(look.contestants, windows, strict=True), start=1):
        lines = max(1, round(window.height * each.placing.raster.landed_lines / face.height))
        width, height = round(window.width * scale), round(window.height * scale)
        picture = store.add(f"{prefix}-{number:02d}-look", png(drawn(each.shown, window, lines, width)))
        tall = f"{height / lines:.3g} dots to a line, {lines} lines"
        tiles.append(Tile(each.label, picture, width, height, tall, each.signal))
    return tuple(tiles)


def _source_tile(prefix: str, look: Look, height: int, store: PictureStore) -> Tile:
    top, left, lines, samples = look.crop
    scale = max(1, height // lines)
    picture = store.add(f"{prefix}-00-look", png(look.source[top : top + lines, left : left + samples]))
    said = f"{scale} dot{'s' if scale > 1 else ''} to a line and to a sample, {lines} lines"
    return Tile(
        "The source", picture, samples * scale, lines * scale, said, "Before any box, in its own shape."
    )
