"""The pictures of one frame of a comparison: predicted again, cut, and placed on the tube's face."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.core.codes import to_codes
from scalesim.core.encoding import code_to_light, luma
from scalesim.jobs.compare.look import (
    Contestant,
    Crop,
    Face,
    Look,
    Placing,
    busiest_crop,
    check_crop,
    drawn,
    face_for,
    on_source,
    places_on,
    visible_on,
)
from scalesim.jobs.compare.viewing import viewer_of
from scalesim.jobs.predict.outcome import Outcome
from scalesim.jobs.predict.words import signal_sentence
from scalesim.result import Part, Picture, Still, Tile

_TILE = 480
"""Dots of the page that a close look may be wide when it is enlarged."""

_MOST_TILES = 4
"""Contestants that a still has room for."""

_STILL_FOOT = "Predicted: lines drawn as they land, no beam or glass."
_FOLDER = "pictures"


@dataclass(frozen=True)
class Captions:
    """What is said of a contestant: `figures` beside its picture, `still` on a still."""

    figures: str
    still: str


def frame_part(
    number: int,
    name: str,
    outcomes: Sequence[tuple[int, str, Outcome]],
    captions: Mapping[str, Captions],
    *,
    crop: Crop | None,
    tube: str,
    still: str,
    pair: Sequence[str] = (),
) -> Part:
    """Return what a page shows of one frame.

    Parameters:
        number, name : of the frame, from 0
        outcomes : (number among the contestants, label, its picture) of those that fit the frame
        crop : (top, left, height, width) in source lines and samples; None finds where they differ most
        still : name of its still, "" for none
        pair : labels of the two that the viewer opens with
    Raises: ParameterError for a crop outside the frame
    """
    source = outcomes[0][2].source
    assert source.frame is not None
    lines, samples = source.frame.shape[:2]
    if crop is not None:
        check_crop(crop, name, lines, samples)
    face = face_for([outcome.raster for *_, outcome in outcomes], tube)
    contestants = tuple(_contestant(k, label, p, face) for k, label, p in outcomes)
    reason = "The window was asked for."
    if crop is None:
        crop, reason = _chosen([outcome for *_, outcome in outcomes], source.frame)
    look = Look(name, to_codes(source.frame), face, crop, contestants)
    top, left, height, width = crop
    text = (
        "Each close look shows what the chain made of the same piece of the picture: "
        f"lines {top} to {top + height}, samples {left} to {left + width} of the source. {reason} "
        f"Lines are drawn as they land on a {tube} tube, without beam or glass, so a scan line of one "
        "screen is as tall as two of another with twice as many. Two fields are shown together, at rest."
    )
    viewer = viewer_of(number, look, [p for *_, p in outcomes], pair)
    shown = (_still(still, look, captions),) if still else ()
    return Part(
        name,
        (text,),
        (*_tiles(number, look, captions), viewer, *shown),
        anchor=f"frame-{number + 1}",
        quiet=f"{samples}x{lines}, {source.mode}",
    )


def _chosen(outcomes: Sequence[Outcome], frame: NDArray) -> tuple[Crop, str]:
    """Return the window where contestants differ most (one alone: from the source), and why."""
    places = places_on(*frame.shape[:2])
    lights = [on_source(outcome, places) for outcome in outcomes]
    alone = len(lights) == 1
    if alone:
        at = np.ix_(*(each.astype(np.int64) for each in places))
        lights = [*lights, luma(code_to_light(frame[at]))]
    crop, amount = busiest_crop(lights, frame.shape[0], frame.shape[1])
    who = "the chain differs most from the source" if alone else "the chains differ most from each other"
    return crop, f"The window was chosen because {who} there: by {amount:.1f}\u00a0% of white on average."


def _contestant(number: int, label: str, outcome: Outcome, face: Face) -> Contestant:
    raster = outcome.raster
    return Contestant(
        label,
        number,
        visible_on(face, to_codes(outcome.landed), raster),
        Placing(outcome.source.raster, raster, outcome.geometry),
        signal_sentence(outcome.source.mode, outcome.mode_out, raster),
    )


# the close looks


def _tiles(number: int, look: Look, captions: Mapping[str, Captions]) -> tuple[Picture, ...]:
    """Return the close looks: the source in its own dots, and every chain at one whole scale."""
    windows = [each.placing.window(look.face, look.crop) for each in look.contestants]
    times = max(1, int(_TILE // windows[0].width))
    tiles = [_source_tile(number, look, round(windows[0].height * times))]
    for place, (each, window) in enumerate(zip(look.contestants, windows, strict=True), start=1):
        lines = max(1, round(window.height * each.placing.raster.landed_lines / look.face.height))
        width, height = round(window.width * times), round(window.height * times)
        figures = captions[each.label].figures if each.label in captions else ""
        tiles.append(
            Picture(
                f"{_FOLDER}/{number + 1:02d}-{place:02d}-look",
                drawn(each.shown, window, lines, width),
                each.label,
                f"{look.name}, close look: {each.label}",
                f"{figures}." if figures else "",
                f"{each.signal} Drawn with {height / lines:.3g} dots to a line, {lines} lines.",
                size=(height, width),
            )
        )
    return tuple(tiles)


def _source_tile(number: int, look: Look, height: int) -> Picture:
    top, left, lines, samples = look.crop
    times = max(1, height // lines)
    dots = f"{times} dot{'s' if times > 1 else ''} to a line and to a sample, {lines} lines"
    return Picture(
        f"{_FOLDER}/{number + 1:02d}-00-look",
        look.source[top : top + lines, left : left + samples],
        "The source",
        f"{look.name}, close look: The source",
        quiet=f"Before any box, in its own shape. Drawn with {dots}.",
        size=(lines * times, samples * times),
    )


def _still(name: str, look: Look, captions: Mapping[str, Captions]) -> Still:
    """Return the first contestants as a still for a video edit."""
    more = len(look.contestants) - _MOST_TILES
    foot = f"{_STILL_FOOT} {more} more on the page." if more > 0 else _STILL_FOOT
    first = look.contestants[0].placing.window(look.face, look.crop)
    tiles = tuple(
        Tile(each.label, captions[each.label].still, _cutter(look, each))
        for each in look.contestants[:_MOST_TILES]
    )
    return Still(
        name, f"{look.name}: the same part after each chain", foot, tiles, (first.height, first.width)
    )


def _cutter(look: Look, each: Contestant):  # type: ignore[no-untyped-def]  # a Tile's cut
    def cut(height: float, width: float, times: int) -> NDArray:
        window = each.placing.window(look.face, look.crop, (height, width))
        return drawn(each.shown, window, round(window.height * times), round(window.width * times))

    return cut
