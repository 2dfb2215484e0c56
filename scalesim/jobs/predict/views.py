"""A frame and its contestants as views on one ground, with what was judged of each marked."""

from __future__ import annotations

import zlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from scalesim.core.codes import to_codes
from scalesim.core.raster import visible_slices
from scalesim.draw.views import exact_step
from scalesim.figure import Mark, View
from scalesim.jobs.predict.outcome import TUBES, Outcome
from scalesim.metrics import Case, Judged, judged

POINTED_AT = ("line_doubling", "lost_lines")
"""Metrics whose cases are marked, and that a part is chosen by."""
SPLIT_ENOUGH = 0.25
"""An outline is marked from this share of an even split on."""
_MOST = 120
_SHOWN = 0.1
"""A landed line that carries less of an outline is no line that it is on."""
_LEAST_DOTS = 6
"""Dots that a scan line of the coarsest screen is tall at least."""


class InTurn:
    """Pictures of one frame, made when they are asked for; only the last one is held.

    Parameters:  make : gives the picture of a label
    """

    def __init__(self, make: Callable[[str], Outcome]) -> None:
        self._make = make
        self._label: str | None = None
        self._held: Outcome | None = None

    def __call__(self, label: str) -> Outcome:
        """Return the picture of a label."""
        if self._held is None or self._label != label:
            self._held = None  # before the next is made
            self._held, self._label = self._make(label), label
        return self._held


def packed(codes: NDArray) -> Callable[[], NDArray]:
    """Return what gives an array again, which takes little room until then: drawn pictures pack well."""
    shape, kind, small = codes.shape, codes.dtype, zlib.compress(codes.tobytes(), level=1)
    return lambda: np.frombuffer(zlib.decompress(small), kind).reshape(shape)


@dataclass(frozen=True, eq=False)
class _Seen:
    """What is kept of a picture: the outcome without it, its view, what was judged and what is at fault.

    Parameters:  ground : the view, all black; codes : gives what is seen in it
    """

    placed: Outcome
    pictures: int
    ground: View
    codes: Callable[[], NDArray]
    judged: dict[str, Judged]
    marks: tuple[Mark, ...]


@dataclass(frozen=True, eq=False)
class Contestant:
    """A contestant of one frame: its label, number among all, picture, and whole view without marks.

    Parameters:
        given : its picture, or what makes it whenever it is looked at: so that of many one is held at a time
    """

    label: str
    number: int
    given: Outcome | Callable[[], Outcome]
    said: str = ""

    @property
    def outcome(self) -> Outcome:
        """Its picture, which may be made for this: where it lies is known without it (`placed`)."""
        return self.given() if callable(self.given) else self.given

    @property
    def placed(self) -> Outcome:
        """The outcome without its pictures: raster, geometry, source and chain."""
        return self._seen.placed

    @property
    def pictures(self) -> int:
        """How many pictures take turns."""
        return self._seen.pictures

    @property
    def view(self) -> View:
        """What the tube shows of its picture, where it lies on the source; made anew each time."""
        return replace(self.ground, values=self._seen.codes())

    @property
    def ground(self) -> View:
        """That view, all black and of no weight: for who asks how large it is and where it lies."""
        return self._seen.ground

    @property
    def judged(self) -> dict[str, Judged]:
        """Metric -> what it judged, of those that have a value, without profiles."""
        return self._seen.judged

    @property
    def marks(self) -> tuple[Mark, ...]:
        """What is at fault in it, worst first."""
        return self._seen.marks

    @cached_property
    def _seen(self) -> _Seen:
        """All of this at once, so that the picture need not be held for it."""
        outcome = self.outcome
        evidence = outcome.evidence()
        found = {name: each for name in POINTED_AT if (each := judged(evidence, name)) is not None}
        marks = self._marks(outcome, found)
        evidence.cache.clear()
        bare = {name: replace(each, profile=None) for name, each in found.items()}
        placed, count = replace(outcome, cycle=()), len(outcome.cycle)
        window = visible_slices(outcome.raster, *outcome.landed.shape[:2])
        codes = to_codes(outcome.landed[window])
        return _Seen(placed, count, self._ground(placed, *window, codes.shape), packed(codes), bare, marks)

    def _ground(self, outcome: Outcome, lines: slice, samples: slice, shape: tuple[int, ...]) -> View:
        raster, geometry = outcome.raster, outcome.geometry
        down, along = geometry.landed_blocks(raster), geometry.samples
        return View(
            self.label,
            np.broadcast_to(np.uint8(0), shape),
            (down.scale, down(float(lines.start))),
            (along.scale, along(float(samples.start))),
            self.said,
            "frame line" if raster.scan == "interlaced" else "scan line",
        )

    @staticmethod
    def _marks(outcome: Outcome, judged: dict[str, Judged]) -> tuple[Mark, ...]:
        found = [
            (case.severity * case.weight, _mark(case, name, outcome))
            for name, each in judged.items()
            for case in each.worst(_MOST, least=SPLIT_ENOUGH)
        ]
        return tuple(mark for _, mark in sorted(found, key=lambda each: -each[0]))

    @property
    def marked(self) -> View:
        """Its view with its marks."""
        return replace(self.view, marks=self.marks)


def _mark(case: Case, name: str, outcome: Outcome) -> Mark:
    if name == "lost_lines" or case.profile is None:
        return Mark(case.lines, case.samples, "lost")
    blocks = outcome.geometry.landed_blocks(outcome.raster)
    on = [k for k, share in enumerate(case.profile.landed, case.profile.landed_line) if abs(share) > _SHOWN]
    ends = sorted((blocks(float(on[0])), blocks(float(on[-1] + 1)))) if on else list(case.lines)
    return Mark((ends[0], ends[1]), case.samples, "split")


def source_view(codes: NDArray, said: str, shown: list[Contestant]) -> View:
    """Return the source, with quiet marks where the contestants are at fault, in turns."""
    lists = [[replace(mark, quiet=True) for mark in each.marks] for each in shown]
    mixed = [mark for turn in range(_MOST) for marks in lists for mark in marks[turn : turn + 1]]
    return View("The source", codes, said=said, line_word="source line", marks=tuple(mixed))


def shape_of(outcome: Outcome, tube: str) -> float:
    """Return how wide a source sample is on the tube, in heights of a source line."""
    raster, geometry = outcome.raster, outcome.geometry
    lines = raster.landed_lines * abs(geometry.landed_blocks(raster).scale)
    return float(TUBES[tube]) * lines / (raster.samples * abs(geometry.samples.scale))


def part_size(
    views: list[View], shape: float, room: tuple[int, int], frame: tuple[int, int]
) -> tuple[float, float]:
    """Return the (lines, samples) of a part that fills a room at a scale at which scan lines can be seen."""
    step = exact_step(views)
    scan = [abs(view.lines[0]) * (2 if view.line_word == "frame line" else 1) for view in views[1:]] or [1.0]
    dots = step * int(np.ceil(_LEAST_DOTS / (step * max(scan)) - 1e-9))
    return min(room[0] / dots, frame[0]), min(room[1] / (dots * shape), frame[1])
