"""The pictures of one frame of a comparison: close looks, all of one part at one scale, and its viewer."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from numpy.typing import NDArray

from scalesim.core.codes import to_codes
from scalesim.draw.views import Zoom, cut, exact_step, fitted, zoom_for
from scalesim.figure import Figure, View, Window
from scalesim.jobs.compare.crops import Crop, best_crop, cells_of, check_crop
from scalesim.jobs.compare.evidence import part_anchor
from scalesim.jobs.compare.tables import listed
from scalesim.jobs.compare.viewing import viewer_of
from scalesim.jobs.predict.outcome import Outcome
from scalesim.jobs.predict.views import Contestant, part_size, shape_of, source_view
from scalesim.jobs.predict.words import signal_sentence
from scalesim.result import Cell, Part, Picture

ROOM = (300, 400)
"""(height, width) in dots of a close look: three in a row fill a page, and one a phone."""

WIDE_ROOM = (420, 610)
"""That of one where the least exact scale is so large that little would be seen: two in a row."""

STILL_FOOT = "Predicted: lines drawn as they land, no beam or glass."
_FOLDER = "pictures"
_TALL = 12
"""Dots of a line at the least exact scale, from which on a close look takes more room."""


def room_of(views: Sequence[View]) -> tuple[int, int]:
    """Return the room of a close look at views, the source first."""
    tallest = exact_step(views) * max(abs(view.lines[0]) for view in views)
    return WIDE_ROOM if tallest > _TALL else ROOM


@dataclass(frozen=True, eq=False)
class Look:
    """A frame and those who are shown on it.

    Parameters:
        name, mode : of the frame
        source : the whole source as a view, without marks
        contestants : in their order
        shape : width of a source sample on the tube, in heights of a source line
        tube : its shape
        note : what to say where the contestants do not all have that shape
    """

    name: str
    mode: str
    source: View
    contestants: tuple[Contestant, ...]
    shape: float
    tube: str
    note: str = ""

    @property
    def views(self) -> list[View]:
        """The source, then the contestants, without marks and all black."""
        return [self.source, *(each.ground for each in self.contestants)]

    @property
    def size(self) -> tuple[int, int]:
        """Lines and samples of the source."""
        return self.source.values.shape[0], self.source.values.shape[1]


@dataclass(frozen=True)
class Chosen:
    """A part that is looked at, why, whether just that was asked for, and what chooses another size's."""

    crop: Crop
    why: str
    asked: bool = False
    choose: Callable[[float, float], Window] | None = None


def look_of(
    name: str,
    outcomes: Sequence[tuple[int, str, Outcome | Callable[[], Outcome]]],
    said: Mapping[str, str],
    tube: str,
) -> Look:
    """Return a frame with what each contestant made of it.

    Parameters:  outcomes : (number among all, label, picture or what makes it); said : label -> what is said
        of it
    """
    contestants = tuple(Contestant(label, k, p, said.get(label, "")) for k, label, p in outcomes)
    source = contestants[0].placed.source
    assert source.frame is not None
    codes = to_codes(source.frame)
    shapes = [shape_of(each.placed, tube) for each in contestants]
    other = [
        each.label
        for each, shape in zip(contestants, shapes, strict=True)
        if abs(shape / shapes[0] - 1) > 0.01
    ]
    note = ""
    if other:
        which = f"{listed(other)} {'has' if len(other) == 1 else 'have'} another"
        note = f"All are drawn in the shape that {contestants[0].label} has on the tube, where {which}. "
    lines, samples = codes.shape[:2]
    view = source_view(codes, f"{samples}x{lines}, before any box", [])
    return Look(name, source.mode, view, contestants, shapes[0], tube, note)


def parts_of(look: Look, asked: Sequence[Crop] = ()) -> list[Chosen]:
    """Return the parts that were asked for, or the one that shows what was judged.

    Raises: ParameterError for a part outside the frame
    """
    for crop in asked:
        check_crop(crop, look.name, *look.size)
    if asked:
        return [Chosen(crop, "The part was asked for.", True) for crop in asked]
    luma = look.contestants[0].placed.source.luma
    cells = cells_of(luma, [list(each.judged.values()) for each in look.contestants])

    def choose(tall: float, wide: float) -> Window:
        top, left, height, width = best_crop(cells, look.size, (tall, wide))
        return float(top), float(left), float(height), float(width)

    size = part_size(look.views, look.shape, room_of(look.views), look.size)
    crop = best_crop(cells, look.size, size)
    return [Chosen(crop, cells.why(len(look.contestants)), choose=choose)]


def figure_of(
    look: Look, chosen: Chosen, name: str, title: str, caption: str, *, source: bool = True
) -> Figure:
    """Return the contestants of a look as a figure, the source in front of them, what is at fault marked."""
    shown = [each.marked for each in look.contestants]
    first = source_view(look.source.values, look.source.said, list(look.contestants))
    return Figure(
        name,
        title,
        caption,
        (first, *shown) if source else tuple(shown),
        tuple(map(float, chosen.crop)),  # type: ignore[arg-type]  # four of them
        look.shape,
        look.source.values,
        STILL_FOOT,
        chosen.asked,
        chosen.choose,
    )


def frame_part(
    number: int,
    look: Look,
    captions: Mapping[str, Sequence[Cell]],
    parts: Sequence[Chosen],
    figures: Sequence[Figure] = (),
    pair: Sequence[str] = (),
) -> Part:
    """Return what a page shows of one frame.

    Parameters:
        number : of the frame, from 0
        captions : label -> its figures
        parts : what is looked at closely; the viewer begins at the first
        figures : stills of it
        pair : labels of the two that the viewer opens with
    """
    lines, samples = look.size
    text, tiles = [], []
    for place, chosen in enumerate(parts):
        window, zoom = window_of(look, chosen)
        text.append(_part_words(window, chosen, zoom, place if len(parts) > 1 else None))
        tiles += _tiles(number, look, captions, window, zoom, place)
    text[-1] += (
        f" {look.note}Lines are drawn as they land on a {look.tube} tube, without beam or glass, whole dots "
        "to a line and exact areas along it. Two fields are shown together, at rest."
    )
    viewer = viewer_of(
        number, look.name, look.source.values, look.contestants, look.tube, parts[0].crop, pair
    )
    return Part(
        look.name,
        tuple(text),
        (*tiles, viewer, *figures),
        anchor=part_anchor(number),
        quiet=f"{samples}x{lines}, {look.mode}",
    )


def window_of(look: Look, chosen: Chosen) -> tuple[Window, Zoom]:
    """Return the window of the source that close looks of a part show, and their scale."""
    crop = (float(chosen.crop[0]), float(chosen.crop[1]), float(chosen.crop[2]), float(chosen.crop[3]))
    room = room_of(look.views)
    zoom = zoom_for(look.views, crop, look.shape, room)
    size = round(crop[2] * zoom.dots), round(crop[3] * zoom.wide)
    size = size if chosen.asked else room
    return fitted(look.views, crop, zoom, size), zoom


def _part_words(window: Window, chosen: Chosen, zoom: Zoom, place: int | None) -> str:
    top, left, height, width = window
    said = "Each close look shows" if place is None else f"Part {place + 1}: each close look shows"
    return (
        f"{said} the same part at the same scale: lines {top:.0f} to {top + height:.0f}, samples "
        f"{left:.0f} to {left + width:.0f} of the source, whose lines are {zoom.dots} "
        f"dot{'s' if zoom.dots > 1 else ''} tall. {chosen.why}"
    )


def _cut(each: Contestant, window: Window, zoom: Zoom) -> NDArray:
    return cut(each.view, window, zoom)


def _tiles(
    number: int, look: Look, captions: Mapping[str, Sequence[Cell]], window: Window, zoom: Zoom, place: int
) -> list[Picture]:
    """Return the close looks of one part: the source and every contestant at one exact scale."""
    stem = f"{_FOLDER}/{number + 1:02d}" if place == 0 else f"{_FOLDER}/{number + 1:02d}-part-{place + 1}"
    source = look.source
    looks = (1 / zoom.dots, window[0]), (1 / zoom.wide, window[1])
    tiles = [
        Picture(
            f"{stem}-00-look",
            partial(cut, source, window, zoom),
            source.label,
            f"{look.name}, close look: {source.label}",
            quiet=f"Before any box. Drawn with {zoom.words(source)}.",
            looks=looks,
        )
    ]
    for at, each in enumerate(look.contestants, start=1):
        figures = tuple(captions.get(each.label, ()))
        signal = signal_sentence(look.mode, each.placed.mode_out, each.placed.raster)
        tiles.append(
            Picture(
                f"{stem}-{at:02d}-look",
                partial(_cut, each, window, zoom),
                each.label,
                f"{look.name}, close look: {each.label}",
                quiet=f"{signal} Drawn with {zoom.words(each.ground)}.",
                figures=figures,
                looks=looks,
            )
        )
    return tiles
