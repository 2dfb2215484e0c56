"""One captured picture: its parts from top to bottom, each of one source picture or a mixture of two.

Where neighbouring lines say different numbers the picture is torn. Where between them the tear lies is told
by the weight of the lower number in the lines around: y = first line + sum of (1 - weight). A tear needs two
lines on each side; nearer to the picture's edge there is nothing to tell it from a misread line.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from scalesim.charts.counter.code import NUMBERS
from scalesim.signal.counter.cells import guards
from scalesim.signal.counter.find import normalised
from scalesim.signal.counter.lines import LEAST_LINES, NONE, Lines, read_lines, spelled_by_all
from scalesim.signal.counter.mixture import LEAST_WEIGHT, REACH, Mixture, Patterns

_ALIKE = 0.15
"""Weights of neighbouring parts that differ less are one mixture."""
_GAP = 4
"""Unread lines in a row that are looked at for a mixture."""
_AROUND = 2
_EVEN = 0.55
"""Weight up to which a mixture is even."""
_EVEN_FROM = 1 - _EVEN
_BLOCK = 16
"""Lines of a codec's block (ITU-T H.264, 6.3: macroblocks of 16 by 16)."""
_BLANK = 0.25
"""Share of the lines that must have the chart's contrast for a picture to be looked at."""


@dataclass(frozen=True)
class Part:
    """Lines `top` to `bottom` (edges, in lines of the picture) show `number`, modulo 4096.

    With a `second` number they are a mixture: `weight` of the second, the rest of `number`, which is earlier.
    """

    top: float
    bottom: float
    number: int
    second: int | None = None
    weight: float = 0.0

    @property
    def numbers(self) -> tuple[int, ...]:
        """The numbers it shows."""
        return (self.number,) if self.second is None else (self.number, self.second)

    @property
    def most(self) -> int:
        """The number that has most of the weight; of an even mixture the earlier one."""
        return self.second if self.second is not None and self.weight > _EVEN else self.number


@dataclass(frozen=True)
class Seen:
    """What a picture shows.

    Parameters:
        parts : from top to bottom, () when nothing could be read
        unread : lines that have the chart's contrast and say nothing; lit : lines that have it
    """

    parts: tuple[Part, ...]
    unread: int
    lit: int

    @property
    def torn(self) -> tuple[float, ...]:
        """The lines at which it is torn: where one source picture ends and another begins."""
        return tuple(lower.top for lower in self.parts[1:])


def see(levels: NDArray[np.float32], patterns: Patterns, near: int | None = None) -> Seen:
    """Return what a picture shows.

    Parameters:
        levels : (lines, 2, 28) of its cells
        patterns : what numbers look like in this clip
        near : a number close to what is expected, which makes mixtures quicker to find; None without any
    """
    lines = read_lines(levels)
    lit = int(lines.lit.sum())
    if lit < max(2 * LEAST_LINES, _BLANK * len(lines.lit)):
        return Seen((), 0, lit)
    picture = _Picture(levels, lines, patterns, near)
    found = lines.found
    if len(found) == 1 and np.count_nonzero(lines.numbers != NONE) >= 0.9 * lit:
        parts = picture.apart([(picture.top, picture.bottom, int(found[0]))])
    else:
        parts = picture.apart(_runs(lines.numbers))
    covered = sum(int(lines.lit[round(p.top) : round(p.bottom)].sum()) for p in parts)
    return Seen(tuple(parts), max(0, lit - covered), lit)


def see_whole(levels: NDArray[np.float32], patterns: Patterns, height: int) -> Seen | None:
    """Return what a picture of `height` lines shows by some of its lines, if all spell one number clearly.

    None when they do not: then all lines must be read.
    """
    number = spelled_by_all(levels)
    if number is None:
        return None
    mean = levels.mean(axis=0)
    if patterns.misfit(normalised(mean, *guards(mean)), number) > patterns.off:
        return None
    return Seen((Part(0, height, number),), 0, height)


class _Picture:
    """A picture on its way to its parts."""

    def __init__(
        self, levels: NDArray[np.float32], lines: Lines, patterns: Patterns, near: int | None
    ) -> None:
        self.levels, self.lines, self.patterns = levels, lines, patterns
        self.near = None if near is None else near + np.arange(-2 * REACH, 2 * REACH + 1)
        lit = np.flatnonzero(lines.lit)
        self.top, self.bottom = int(lit[0]), int(lit[-1]) + 1

    def part(self, top: int, bottom: int, number: int) -> Part | None:
        """Return lines that spell a number as a part: it, a mixture, or None when they are neither."""
        margin = _AROUND if bottom - top > 3 * _AROUND else 0
        x = self.mean(top + margin, bottom - margin)
        misfit = self.patterns.misfit(x, number)
        if misfit > self.patterns.off:
            found = self.patterns.explain(x, number + np.arange(-REACH, 1))
            if found is not None and found.pure is None and number in (found.first, found.second):
                return _mixed(top, bottom, found)
        return Part(top, bottom, number) if misfit <= self.patterns.other else None

    def mean(self, top: int, bottom: int) -> NDArray[np.float32]:
        """Return the mean levels of the lit lines from `top` to `bottom`, (48,)."""
        lit = self.lines.lit[top:bottom]
        white, black = self.lines.white[top:bottom][lit], self.lines.black[top:bottom][lit]
        return normalised(self.levels[top:bottom][lit].mean(axis=0), white.mean(axis=0), black.mean(axis=0))

    def apart(self, runs: list[tuple[int, int, int]]) -> list[Part]:
        """Return the parts of a picture, of the runs of lines that spell one number."""
        told = [self.part(top, bottom, number) for top, bottom, number in runs]
        parts = [part for part in told if part is not None]
        parts = _joined([part for each in self._between(parts) for part in each])
        if len(parts) == 1:
            return [replace(parts[0], top=self.top, bottom=self.bottom)]
        return self._placed([_undragged(parts, k) for k in range(len(parts))])

    def _between(self, parts: list[Part]) -> list[list[Part]]:
        """Return the parts, with what unread lines between and around them are a mixture of."""
        edges = [self.top, *(int(e) for p in parts for e in (p.top, p.bottom)), self.bottom]
        found: list[list[Part]] = []
        for k, (top, bottom) in enumerate(zip(edges[::2], edges[1::2], strict=True)):
            if bottom - top >= _GAP and self.lines.lit[top:bottom].sum() >= _GAP:
                near = self.near
                if parts:
                    near = np.array([n for p in parts for n in p.numbers])[:, None] + np.arange(-REACH, 1)
                mixed = self.patterns.explain(self.mean(top, bottom), None if near is None else near.ravel())
                if mixed is None and not parts and near is not None:
                    mixed = self.patterns.explain(self.mean(top, bottom))
                if mixed is not None:
                    found.append([_mixed(top, bottom, mixed)])
            if k < len(parts):
                found.append([parts[k]])
        return found

    def _placed(self, parts: list[Part]) -> list[Part]:
        """Return the parts with the tears between them placed within the line."""
        if not parts:
            return []
        placed = [replace(parts[0], top=self.top)]
        for part in parts[1:]:
            above = placed[-1]
            at = self._tear(above, part)
            placed[-1] = replace(above, bottom=at)
            placed.append(replace(part, top=at))
        placed[-1] = replace(placed[-1], bottom=self.bottom)
        return placed

    def _tear(self, above: Part, below: Part) -> float:
        """Return where in the lines between two parts the one ends and the other begins."""
        first = max(int(above.bottom) - _AROUND, int(np.ceil(above.top)))
        last = min(int(below.top) + _AROUND, int(below.bottom))
        if above.second is not None or below.second is not None or above.number == below.number:
            return (above.bottom + below.top) / 2
        lit = self.lines.lit[first:last]
        white, black = self.lines.white[first:last], self.lines.black[first:last]
        if not lit.all():
            return (above.bottom + below.top) / 2
        x = normalised(self.levels[first:last], white, black)
        weight = np.clip(self.patterns.weight(x, above.number, below.number), 0, 1)
        weight[weight < LEAST_WEIGHT], weight[weight > 1 - LEAST_WEIGHT] = 0, 1
        return float(first + (1 - weight).sum())


def _runs(numbers: NDArray[np.int64]) -> list[tuple[int, int, int]]:
    """Return (first line, past the last, number) of lines that say one number, at least two of them."""
    read = np.flatnonzero(numbers != NONE)
    if not len(read):
        return []
    said = numbers[read]
    cuts = np.flatnonzero(said[1:] != said[:-1]) + 1
    starts, stops = np.r_[0, cuts], np.r_[cuts, len(said)]
    runs: list[tuple[int, int, int]] = []
    for start, stop in zip(starts, stops, strict=True):
        if stop - start < LEAST_LINES:
            continue
        run = (int(read[start]), int(read[stop - 1]) + 1, int(said[start]))
        if runs and runs[-1][2] == run[2]:
            run = (runs.pop()[0], run[1], run[2])
        runs.append(run)
    return runs


def _joined(parts: list[Part]) -> list[Part]:
    """Return the parts, neighbours that are one mixture of the same two pictures joined."""
    joined: list[Part] = []
    for part in parts:
        before = joined[-1] if joined else None
        if before is not None and _alike(before, part):
            lines = (before.bottom - before.top, part.bottom - part.top)
            mixed = before if before.second is not None else part
            weight = (_share(before, mixed) * lines[0] + _share(part, mixed) * lines[1]) / sum(lines)
            joined[-1] = replace(mixed, top=before.top, bottom=part.bottom, weight=weight)
        else:
            joined.append(part)
    return joined


def _alike(one: Part, other: Part) -> bool:
    """Tell whether two parts are the same: one number, or one mixture that was read in pieces."""
    if one.second is None and other.second is None:
        return one.number == other.number
    mixed = one if one.second is not None else other
    if not set(one.numbers) | set(other.numbers) <= set(mixed.numbers):
        return False
    return abs(_share(one, mixed) - _share(other, mixed)) < _ALIKE


def _undragged(parts: list[Part], place: int) -> Part:
    """Return a part of a torn picture, as one number where the codec alone mixed it.

    A strip lower than a block of the codec, of the very two pictures that meet at its tear, is what the codec
    carries over from the picture before.
    """
    part = parts[place]
    if part.second is None or part.bottom - part.top >= _BLOCK:
        return part
    beside = {n for other in parts[max(0, place - 1) : place + 2] if other is not part for n in other.numbers}
    if not beside & set(part.numbers) or _EVEN_FROM < part.weight < _EVEN:
        return part
    return Part(part.top, part.bottom, part.most)


def _share(part: Part, mixed: Part) -> float:
    """Return the weight of the second number of `mixed` in a part."""
    if part.second is None:
        return float(part.number == mixed.second)
    return part.weight


def _mixed(top: float, bottom: float, found: Mixture) -> Part:
    if found.pure is not None:
        return Part(top, bottom, found.pure)
    return Part(top, bottom, found.first, found.second, found.weight)


def after(number: int, before: int) -> int:
    """Return by how much a number lies after another, the count wrapping: -2048 to 2047."""
    return (number - before + NUMBERS // 2) % NUMBERS - NUMBERS // 2
