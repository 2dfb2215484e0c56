"""What a page shows of one frame on the tube: close looks at the glass, linked pictures, and stills."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from scalesim.figure import MOST_VIEWS, Figure
from scalesim.jobs.compare.look import Face, face_for
from scalesim.jobs.compare.on_tube import (
    Painted,
    glass_place,
    glass_view,
    light_words,
    part_of_glass,
    whole_glass,
)
from scalesim.jobs.compare.pictures import Chosen, Look, window_of
from scalesim.jobs.compare.tables import listed
from scalesim.jobs.compare.viewing import SOURCE, middle_of, opening_of
from scalesim.jobs.predict.outcome import Outcome
from scalesim.jobs.predict.prediction import Prediction
from scalesim.jobs.predict.views import Contestant
from scalesim.result import Box, Layer, Part, Picture, Viewer
from scalesim.tube.display import Display
from scalesim.tube.lock.on_display import OnDisplay

_FOLDER = "pictures"
_SAID = {
    "progressive": "Every line is drawn in every field.",
    "interlaced": "The mean of both fields, at rest; the tube alternates.",
    "field-only": "Both fields on one set of lines: the mean of both, at rest; the tube alternates.",
    "uneven": "The fields lie a fraction of a line apart, so their lines stand in pairs.",
}
_ALTERNATES = (
    " Of two fields the mean of their light is shown, so nothing flickers here; the tube shows one after "
    "the other, which can flicker: see Cautions."
)
_CLOSER = (
    "The whole glass, with fewer dots to a line than the close looks above. Wipe and flip show what the tube "
    "makes of one chain against what it makes of another."
)
STILL_FOOT = "Predicted, as a tube paints it: beam, sharpness along the line and black level of the display."


def tube_part(
    number: int,
    look: Look,
    displays: Sequence[Display],
    parts: Sequence[Chosen],
    pair: Sequence[str],
    stills: Sequence[Sequence[str]] = (),
) -> Part:
    """Return what a page shows of a frame on some displays.

    Parameters:
        number : of the frame, from 0
        displays : at least one
        parts : what is looked at closely; the viewer begins at the first
        pair : labels of the two that the viewer opens with
        stills : labels of those on each still, at most four with the source
    """
    face = face_for([each.placed.raster for each in look.contestants], look.tube)
    window, zoom = window_of(look, parts[0])
    tiles, text = [], []
    for place, display in enumerate(displays):
        shown = drawn_on(look.contestants, display)
        painted = [part_of_glass(each.outcome, display, look.tube, window, zoom) for each in shown]
        tiles += [
            _tile(number, place, look, each, display, found)
            for each, found in zip(shown, painted, strict=True)
        ]
        text.append(f"{light_words(painted)} ({display.name})")
    fields = any(each.pictures > 1 for each in look.contestants)
    said = (
        f"The same part as {'the' if len(displays) == 1 else 'each'} tube paints it, at the same scale."
        f"{_ALTERNATES if fields else ''} A tube's lines are brighter than its mean, so the glass is shown "
        f"darker, all chains alike: {'; '.join(text)}."
    )
    viewer = _viewer(number, look, displays, face, parts[0], pair)
    return Part(
        f"{look.name} on the tube",
        (said,),
        (*tiles, viewer, *_figures(number, look, displays, parts[0], stills)),
        anchor=f"frame-{number + 1}-tube",
        listed=False,
    )


def drawn_on(contestants: Sequence[Contestant], display: Display) -> list[Contestant]:
    """Return the contestants whose fields a display lands as they are; all of them when there are none.

    The same chain on another display, whose circuits land its fields elsewhere, is another contestant.
    """
    own = [each for each in contestants if _lands_so(each.placed, display)]
    return own or list(contestants)


def _lands_so(outcome: Outcome, display: Display) -> bool:
    if not isinstance(outcome, Prediction):
        return True
    return OnDisplay(display)(outcome.resolved.signal).fields == outcome.raster.fields


def _figures(
    number: int, look: Look, displays: Sequence[Display], chosen: Chosen, stills: Sequence[Sequence[str]]
) -> list[Figure]:
    """Return stills of some contestants on each display, the source in front of them."""
    found = []
    for still, labels in enumerate(stills):
        asked = [each for each in look.contestants if each.label in labels]
        for place, display in enumerate(displays):
            more = f"-{still + 1}" if still else ""
            name = f"figures/tube-{number + 1:02d}-{place + 1}{more}"
            shown = tuple(drawn_on(asked, display)[: MOST_VIEWS - 1])
            found.append(_figure(replace(look, contestants=shown), chosen, display, name))
    return found


def _figure(look: Look, chosen: Chosen, display: Display, name: str) -> Figure:
    top, left, height, width = chosen.crop
    window = (float(top), float(left), float(height), float(width))
    views = [glass_view(each, display, look.tube, window, look.size) for each in look.contestants]
    names = [each.label for each in look.contestants]
    letters = zip(names, "bcd", strict=False)
    after = listed(f"{name} ({letter})" for name, letter in letters)
    return Figure(
        name,
        f"{listed(names)} on the tube: {display.name}",
        f"The same part of {look.name} before any box (a), and on the glass after {after}.",
        (look.source, *views),
        window,
        look.shape,
        look.source.values,
        STILL_FOOT,
        chosen.asked,
    )


def _stem(number: int, each: Contestant, display: int) -> str:
    return f"{_FOLDER}/{number + 1:02d}-{each.number + 1:02d}-tube-{display + 1}"


def _tile(
    number: int, place: int, look: Look, each: Contestant, display: Display, painted: Painted
) -> Picture:
    raster = each.placed.raster
    return Picture(
        f"{_stem(number, each, place)}-look",
        painted.codes,
        f"{each.label}, {display.name}",
        f"{look.name}, close look at the glass: {each.label} on {display.name}",
        _SAID[raster.scan],
    )


def _layer(number: int, place: int, tube: str, each: Contestant, display: Display, face: Face) -> Layer:
    stem = _stem(number, each, place)
    return Layer(
        stem.removeprefix(f"{_FOLDER}/"),
        stem,
        lambda: whole_glass(each.outcome, display, tube, face).codes,
        f"{each.label}, {display.name}",
        _SAID[each.placed.raster.scan],
        glass_place(each.placed, display, face),
        no_taps="This is light of the glass; the linked pictures of the lines tell their weights.",
    )


def _viewer(
    number: int,
    look: Look,
    displays: Sequence[Display],
    face: Face,
    chosen: Chosen,
    pair: Sequence[str],
) -> Viewer:
    """Return the linked pictures of the glass; the first display's are the contestants that keys choose."""
    whole = Box(0, 0, face.width, face.height)
    caption = "Before any box, drawn over the whole face of the tube."
    stem = f"{_FOLDER}/{number + 1:02d}-{SOURCE}"
    source = Layer(SOURCE, stem, look.source.values, "The source", caption, whole)
    drawn = {
        (place, each.label): _layer(number, place, look.tube, each, display, face)
        for place, display in enumerate(displays)
        for each in drawn_on(look.contestants, display)
    }
    first: dict[str, Layer] = {}
    for (_, label), layer in drawn.items():
        first.setdefault(label, layer)
    named = [replace(layer, label=label) for label, layer in first.items()]
    return Viewer(
        f"{look.name} on the tube",
        "Look closer at the glass",
        (_CLOSER,),
        (source, *drawn.values()),
        opening_of(named, pair),
        middle_of(look.contestants[0].placed, face, chosen.crop),
        source=SOURCE,
        contestants=tuple(layer.id for layer in drawn.values()),
    )
