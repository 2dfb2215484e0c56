"""A frame and its contestants as views on one ground, with what was judged of each marked."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from scalesim.core.codes import to_codes
from scalesim.core.raster import visible_slices
from scalesim.draw.views import exact_step
from scalesim.figure import Mark, View
from scalesim.jobs.predict.outcome import TUBES, Outcome
from scalesim.metrics import Case, Evidence, Judged, judged

POINTED_AT = ("line_doubling", "lost_lines")
"""Metrics whose cases are marked, and that a part is chosen by."""
SPLIT_ENOUGH = 0.25
"""An outline is marked from this share of an even split on."""
_MOST = 120
_SHOWN = 0.1
"""A landed line that carries less of an outline is no line that it is on."""
_LEAST_DOTS = 6
"""Dots that a scan line of the coarsest screen is tall at least."""


@dataclass(frozen=True, eq=False)
class Contestant:
    """A contestant of one frame: its label, number among all, picture, and whole view without marks."""

    label: str
    number: int
    outcome: Outcome
    said: str = ""

    @cached_property
    def view(self) -> View:
        """What the tube shows of its picture, where it lies on the source."""
        raster, geometry = self.outcome.raster, self.outcome.geometry
        lines, samples = visible_slices(raster, *self.outcome.landed.shape[:2])
        down, along = geometry.landed_blocks(raster), geometry.samples
        return View(
            self.label,
            to_codes(self.outcome.landed)[lines, samples],
            (down.scale, down(float(lines.start))),
            (along.scale, along(float(samples.start))),
            self.said,
            "frame line" if raster.scan == "interlaced" else "scan line",
        )

    @cached_property
    def evidence(self) -> Evidence:
        """What its metrics look at, with what they found out so far."""
        return self.outcome.evidence()

    @cached_property
    def judged(self) -> dict[str, Judged]:
        """Metric -> what it judged, of those that have a value."""
        found = {name: judged(self.evidence, name) for name in POINTED_AT}
        return {name: each for name, each in found.items() if each is not None}

    @cached_property
    def marks(self) -> tuple[Mark, ...]:
        """What is at fault in it, worst first."""
        found = [
            (case.severity * case.weight, self._mark(case, name))
            for name, each in self.judged.items()
            for case in each.worst(_MOST, least=SPLIT_ENOUGH)
        ]
        return tuple(mark for _, mark in sorted(found, key=lambda each: -each[0]))

    def _mark(self, case: Case, name: str) -> Mark:
        if name == "lost_lines" or case.profile is None:
            return Mark(case.lines, case.samples, "lost")
        blocks = self.outcome.geometry.landed_blocks(self.outcome.raster)
        on = [
            k for k, share in enumerate(case.profile.landed, case.profile.landed_line) if abs(share) > _SHOWN
        ]
        ends = sorted((blocks(float(on[0])), blocks(float(on[-1] + 1)))) if on else list(case.lines)
        return Mark((ends[0], ends[1]), case.samples, "split")

    @property
    def marked(self) -> View:
        """Its view with its marks."""
        return replace(self.view, marks=self.marks)


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
