"""Where a still of pictures looks when it cannot show all of them: at the outlines that were judged worst."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from scalesim.figure import Window
from scalesim.jobs.report.reference import Reference
from scalesim.result import Picture, Result, Viewer, within

JUDGED = ("line_doubling", "lost_lines")
"""Measures of single outlines: those that figures mark."""


@dataclass(frozen=True)
class Fault:
    """An outline at fault in one of the pictures, on the source.

    Parameters:  lines, samples : (begin, end); percent : how badly
    """

    lines: tuple[float, float]
    samples: tuple[float, float]
    percent: float


@dataclass(frozen=True)
class Looks:
    """Which part of some pictures of one place a still shows.

    Parameters:
        count : of the pictures; size : (lines, samples) of each
        on : where their lines and samples look on the source, as of a `Picture`; () where it is not known
        faults : the outlines at fault that lie in them
    """

    count: int
    size: tuple[int, int]
    on: tuple[tuple[float, float], ...]
    faults: tuple[Fault, ...]

    def choose(self, tall: float, wide: float) -> Window:
        """Return the part of a size that holds most of the faults, by length and how badly; else the middle.

        Of equal ones it is the nearest to the middle. Parameters:  tall, wide : lines and samples
        """
        height, width = min(float(int(tall)), self.size[0]), min(float(int(wide)), self.size[1])
        centred = (self.size[0] - height) // 2, (self.size[1] - width) // 2
        placed = [self.in_picture(fault) for fault in self.faults]
        tops = {centred[0], *(_begin(f.lines, height, self.size[0]) for f in placed)}
        lefts = {centred[1], *(_begin(f.samples, width, self.size[1]) for f in placed)}

        def worth(at: tuple[float, float]) -> tuple[float, float]:
            window = (*at, height, width)
            held = sum(f.percent * (f.samples[1] - f.samples[0]) for f in placed if _holds(window, f))
            return held, -abs(at[0] - centred[0]) - abs(at[1] - centred[1])

        top, left = max(((top, left) for top in sorted(tops) for left in sorted(lefts)), key=worth)
        return top, left, height, width

    def told(self, window: Window) -> str:
        """Return what a caption says of a part: which it is, and why it is that."""
        top, left, height, width = window
        (down, above), (across, before) = self.on or ((1.0, 0.0), (1.0, 0.0))
        lines = f"lines {above + down * top:.0f} to {above + down * (top + height):.0f}"
        samples = f"samples {before + across * left:.0f} to {before + across * (left + width):.0f}"
        of = "of the source" if self.on else f"of its {self.size[0]} and {self.size[1]}"
        which = "the picture" if self.count == 1 else "each picture, the same of all"
        said = f"Only a part of {which}: {lines}, {samples} {of}"
        inside = sum(_holds(window, self.in_picture(fault)) for fault in self.faults)
        if inside:
            return f"{said}, with {inside} of the {len(self.faults)} outlines judged worst."
        return f"{said}."

    def in_picture(self, fault: Fault) -> Fault:
        """Return an outline of the source in lines and samples of the pictures."""
        (down, above), (across, before) = self.on
        lines = tuple((each - above) / down for each in fault.lines)
        samples = tuple((each - before) / across for each in fault.samples)
        return Fault((lines[0], lines[1]), (samples[0], samples[1]), fault.percent)


def _begin(ends: tuple[float, float], size: float, whole: int) -> float:
    """Return where a part of a size begins that has something in its middle and lies on the picture."""
    return float(min(max(0, round((ends[0] + ends[1] - size) / 2)), whole - size))


def _holds(window: Window, fault: Fault) -> bool:
    top, left, height, width = window
    down = top <= fault.lines[0] and fault.lines[1] <= top + height
    return down and left <= fault.samples[0] and fault.samples[1] <= left + width


def looks_of(pictures: Sequence[Picture], size: tuple[int, int], faults: Sequence[Fault]) -> Looks:
    """Return where a still of pictures may look.

    Parameters:  size : (lines, samples) of the first; faults : of the source that they show
    """
    on = pictures[0].looks
    if len(on) != 2 or any(each.looks != on for each in pictures):
        return Looks(len(pictures), size, (), ())
    found = Looks(len(pictures), size, on, tuple(faults))
    whole = (0.0, 0.0, float(size[0]), float(size[1]))
    return replace(found, faults=tuple(each for each in faults if _holds(whole, found.in_picture(each))))


def faults_of(asked: Reference, answer: Result, items: Sequence[Any]) -> tuple[Fault, ...]:
    """Return the outlines at fault in the pictures that an article places, as their page points at them."""
    labels = {item.label for item in items if isinstance(item, Picture) and item.looks}
    if asked.select != "look" or not labels:
        return ()
    return tuple(dict.fromkeys(_faults(answer, labels, {item.alt for item in items})))


def _faults(answer: Result, labels: set[str], shown: set[str]) -> Iterator[Fault]:
    for part in answer.parts():
        own = list(within(part.items))
        if not any(isinstance(item, Picture) and item.alt in shown for item in own):
            continue
        for viewer in (item for item in own if isinstance(item, Viewer)):
            layers = {layer.id for layer in viewer.layers if layer.light and layer.label in labels}
            for judged in viewer.judged:
                cases = [each for found in judged.found if found.layer in layers for each in found.cases]
                if judged.key in JUDGED:
                    yield from (Fault((a, b), (c, d), percent) for a, b, c, d, percent in cases)
