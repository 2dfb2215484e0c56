"""How far the source's clock is from the capture's, by where tears lie: far closer than pictures count.

A tear is where the box's one buffer changed to source picture j while captured picture k was read out, at y
of its height. Both clocks being steady, all tears lie on one plane,

    y = a + c (j - k) + e j,    source pictures for each captured one = 1 / (1 + e / c)

where 1 / c is the share of a picture's time in which its height is read out, less what the source takes to
write it. The numbers in the picture say j, so nothing needs unwrapping, and no roll is an alias of another.
Tears in blanking, or hidden by a still scene, are just missing.

c shows once the tear has passed from one edge to the other. Before that it is taken as that of usual
blanking, whose doubt is then in the error. Between jumps of the player a may be another.

Source: the law of a buffer between two clocks (`scalesim.core.slip`); least squares, robust by leaving out
what is astray (Tukey's constant).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot, sqrt

import numpy as np
from numpy.typing import NDArray

from scalesim.jobs.motion.events import Event
from scalesim.signal.laglog.stepped import COARSE, line_of

FEWEST = 12
"""Tears below which nothing is told of the clocks."""
UNSTEADY = (
    "they do not move as those of two steady clocks do, or the capture itself lost or repeated pictures"
)
AT_EDGE = "the tear stands at the edge of the picture, where half of it cannot be seen"
SHORTEST_S = 0.5
_SCAN, _BEAT_ERROR = 0.95, 0.045
"""Usual share of a period in which a picture's height is read: 1080 of 1125 lines, 480 of 525 (CTA-861), or
all of it; and the doubt of its inverse."""
_TUKEY = 4.685
_MOST_OFF, _MOST_ASTRAY = 0.03, 0.3
"""Of a height: tears that lie farther off the line are astray; share of them above which there is no line."""
_SURE = 4.0
_WIDE = 4.0
"""Lines between which a tear may lie to be used."""
_JUMP, _PACE = 2.5, 0.02
"""Source pictures, and share of the captured ones, by which numbers may leave their pace within a part."""
_EDGE_LINES = 2.5
"""Lines at the picture's edges where no tear is told from a misread line."""
_LEAST_MARGIN = 2.0
_LEAST_LINES = 0.1
"""Of a line: no tear is read better."""


@dataclass(frozen=True)
class Clocks:
    """The rate of a source against the capture's clock.

    Parameters:
        ratio : source pictures for each captured one; error : its standard error
        tears : how many; seconds : from the first to the last
        measured : whether the tears themselves show the share of a picture's time in which it is read
        spread : standard deviation of tears about their plane, of a height
        rate : captured pictures a second
    """

    ratio: float
    error: float
    tears: int
    seconds: float
    measured: bool
    spread: float
    rate: float

    @property
    def source_hz(self) -> float:
        """The source's pictures a second by the capture's clock."""
        return self.rate * self.ratio

    @property
    def apart_hz(self) -> float:
        """How many more pictures a second the source makes than are captured."""
        return self.rate * (self.ratio - 1)

    @property
    def apart_error_hz(self) -> float:
        """Its standard error."""
        return self.rate * self.error

    @property
    def ppm(self) -> float:
        """The same in parts in a million of the capture's rate."""
        return 1e6 * (self.ratio - 1)

    @property
    def drift_us_per_s(self) -> float:
        """By how much the source's pictures come earlier each second, as `clocks` works it out."""
        return 1e6 * (self.ratio - 1) / self.ratio

    @property
    def drift_error_us_per_s(self) -> float:
        """Its standard error."""
        return 1e6 * self.error / self.ratio**2


@dataclass(frozen=True, eq=False)
class _Tears:
    """Tears: captured picture k, source picture j below, place y of the height 0..1, part between jumps."""

    picture: NDArray
    source: NDArray
    place: NDArray
    part: NDArray

    def __getitem__(self, which: NDArray) -> _Tears:
        return _Tears(self.picture[which], self.source[which], self.place[which], self.part[which])

    def __len__(self) -> int:
        return len(self.picture)


def clocks_of(events: Sequence[Event], lines: int, rate: float) -> Clocks | str:
    """Return how far the source's clock is from the capture's, or why the tears do not tell.

    Parameters:  events : in the order of time; lines : of a picture; rate : captured pictures a second
    """
    tears = _tears_of(events, lines)
    if len(tears) < FEWEST:
        return f"{len(tears)} tears lie at a known line, and it takes {FEWEST}"
    seconds = float(tears.picture.max() - tears.picture.min()) / rate
    if seconds < SHORTEST_S:
        return f"all tears lie within {seconds:.2g} s, and it takes {SHORTEST_S:g} s"
    found = _fitted(tears, lines)
    if isinstance(found, str):
        return found
    ratio = 1 / (1 + found.apart)
    return Clocks(
        ratio, found.apart_error * ratio**2, found.used, seconds, found.measured, found.spread, rate
    )


def _tears_of(events: Sequence[Event], lines: int) -> _Tears:
    torn = [each for each in events if each.kind == "torn" and _is_placed(each)]
    picture = np.array([each.picture for each in torn], np.float64)
    source = np.array([each.other for each in torn], np.float64)
    place = np.array([each.line for each in torn], np.float64) / max(lines, 1)
    return _Tears(picture, source, place, _parts(picture, source))


def _parts(picture: NDArray, source: NDArray) -> NDArray:
    """Return (n,) which stretch between jumps of the player each tear is of: there numbers keep a pace."""
    if len(picture) < 2:
        return np.zeros(len(picture), np.int64)
    along, by = np.diff(picture), np.diff(source)
    pace = float(np.median(by[along > 0] / along[along > 0])) if (along > 0).any() else 1.0
    return np.concatenate([[0], np.cumsum(np.abs(by - pace * along) > np.maximum(_JUMP, _PACE * along))])


def _is_placed(event: Event) -> bool:
    low, high = event.between or (0.0, 0.0)
    return event.line is not None and event.other is not None and high - low <= _WIDE


def _fitted(tears: _Tears, lines: int) -> _Fit | str:
    """Return the plane of the tears, or why there is none."""
    kept = np.ones(len(tears), bool)
    for _ in range(20):
        used = tears[kept]
        if len(used) < FEWEST or not np.ptp(used.source) > 0:
            return UNSTEADY
        fit = _Fit.of(used, lines)
        off = np.abs(fit.rest(tears))
        spread = 1.4826 * float(np.median(off[kept]))
        # where the edge would cut off one side of the readings' noise, none is used
        margin = (_EDGE_LINES + max(_TUKEY * spread * lines, _LEAST_MARGIN)) / lines
        clear = np.abs(fit.expected(tears) - 0.5) < 0.5 - margin
        near = off <= max(_TUKEY * spread, 3 / lines)
        after = near & clear if (near & clear).sum() >= FEWEST else near
        if (after == kept).all():
            break
        kept = after
    if near.mean() < 1 - _MOST_ASTRAY or fit.spread > _MOST_OFF or fit.beat <= 0.1:
        return UNSTEADY
    if (near & clear).sum() < FEWEST:
        return AT_EDGE
    used = tears[kept]
    if len(fit.begins) > 1 and fit.hides(used, lines):  # one part, whose lines it passes can be followed
        parts, many = np.unique(used.part, return_counts=True)
        used = used[used.part == parts[many.argmax()]]
        if len(used) < FEWEST:
            return UNSTEADY
        fit = _Fit.of(used, lines)
    return fit.between_lines(used, lines) if fit.hides(used, lines) else fit


@dataclass(frozen=True, eq=False)
class _Fit:
    """A plane: `beat` c, `roll` e about the mean source picture, and the begin of each part.

    `cov` is the covariance of (c, e), `spread` the deviation of what is left, `measured` whether c is.
    """

    beat: float
    roll: float
    begins: dict[int, float]
    about: float
    cov: NDArray
    spread: float
    measured: bool
    used: int

    @property
    def apart(self) -> float:
        """By how much a source picture is longer than a captured one, of that."""
        return self.roll / self.beat

    @property
    def apart_error(self) -> float:
        """Its standard error."""
        along = np.array([-self.apart, 1.0])
        return sqrt(float(along @ self.cov @ along)) / abs(self.beat)

    @classmethod
    def of(cls, tears: _Tears, lines: int) -> _Fit:
        """Return the plane of least squares through tears."""
        parts = np.unique(tears.part)
        about = float(tears.source.mean())
        ahead = tears.source - tears.picture
        # numbers count from anywhere, so ahead is taken about each part's own mean
        ahead = ahead - _means(ahead, tears.part)
        columns = [ahead, tears.source - about, *((tears.part == part) * 1.0 for part in parts)]
        design = np.stack(columns, axis=1)
        least = _LEAST_LINES / lines
        free, cov = _solved(design, tears.place, None)
        spread = max(_deviation(tears.place - design @ free, len(free)), least)
        alone = ahead - design[:, 1:] @ _solved(design[:, 1:], ahead, None)[0]
        shows = float(alone @ alone) > 1e-6 * len(alone)
        told = spread / sqrt(float(alone @ alone)) if shows else np.inf
        usual = not shows or abs(free[0] - 1 / _SCAN) <= _SURE * hypot(told, _BEAT_ERROR)
        if usual:
            free, cov = _solved(design, tears.place, spread / _BEAT_ERROR)
            spread = max(_deviation(tears.place - design @ free, len(free)), least)
        rest = tears.place - design @ free
        own = _means(tears.source - tears.picture, tears.part)
        begins = {
            int(part): float(level - free[0] * own[tears.part == part][0])
            for part, level in zip(parts, free[2:], strict=True)
        }
        wide = (spread * _alike(rest)) ** 2
        measured = bool(told < _BEAT_ERROR / 2)
        return cls(
            float(free[0]), float(free[1]), begins, about, wide * cov[:2, :2], spread, measured, len(tears)
        )

    def expected(self, tears: _Tears) -> NDArray:
        """Return where each tear should lie, of a height; infinite in a part of which none was used."""
        begin = np.array([self.begins.get(int(part), np.inf) for part in tears.part])
        ahead = tears.source - tears.picture
        found: NDArray = begin + self.beat * ahead + self.roll * (tears.source - self.about)
        return found

    def rest(self, tears: _Tears) -> NDArray:
        """Return what is left of each tear, of a height."""
        return tears.place - self.expected(tears)

    def hides(self, tears: _Tears, lines: int) -> bool:
        """Tell whether tears are told to whole lines, and pass from one to the next so slowly that they hide.

        A tear that moves by more than a line from picture to picture is rounded anew each time.
        """
        slow = abs(self.roll) < 1 / lines and _are_whole(tears.place * lines)
        return slow and 1 / lines > COARSE * self.spread

    def between_lines(self, tears: _Tears, lines: int) -> _Fit:
        """Return the fit as passages from line to line tell it, where tears are told to whole lines.

        A slow tear hides between two lines: what tells is when it passes from one to the next.
        """
        rest = self.rest(tears)
        step = 1 / lines
        own = line_of(tears.picture, rest, step, 1.0, sqrt(self.cov[1, 1]))
        # what the doubt of c adds to e comes with it as before
        lean = self.cov[0, 1] / self.cov[0, 0]
        cov = np.array(
            [[self.cov[0, 0], self.cov[0, 1]], [self.cov[0, 1], own.error**2 + lean**2 * self.cov[0, 0]]]
        )
        return replace(self, roll=self.roll + own.slope, cov=cov)


def _means(values: NDArray, part: NDArray) -> NDArray:
    """Return (n,) the mean of each value's part."""
    found = np.empty(len(values))
    for each in np.unique(part):
        found[part == each] = values[part == each].mean()
    return found


def _are_whole(lines: NDArray) -> bool:
    return bool((np.abs(lines - np.rint(lines)) < _LEAST_LINES / 10).mean() > 0.9)


def _solved(design: NDArray, values: NDArray, prior: float | None) -> tuple[NDArray, NDArray]:
    """Return (solution, covariance for noise 1); `prior` weighs one more reading: that c is the usual one."""
    if prior is not None:
        row = np.zeros((1, design.shape[1]))
        row[0, 0] = prior
        design, values = np.concatenate([design, row]), np.append(values, prior / _SCAN)
    scale = np.maximum(np.abs(design).max(axis=0), 1e-12)
    inverse = np.linalg.pinv((design / scale).T @ (design / scale), rcond=1e-13)
    solution: NDArray = np.linalg.lstsq(design / scale, values, rcond=1e-12)[0] / scale
    return solution, inverse / np.outer(scale, scale)


def _deviation(rest: NDArray, parameters: int) -> float:
    return sqrt(float(rest @ rest) / max(len(rest) - parameters, 1))


def _alike(rest: NDArray) -> float:
    """Return by how much neighbours that are alike widen an error: root (1 + r)/(1 - r) (Bartlett 1946)."""
    power = float(rest @ rest)
    if not power > 0:
        return 1.0
    r = float(rest[1:] @ rest[:-1]) / power
    return sqrt((1 + r) / (1 - r)) if 3 / sqrt(len(rest)) < r < 1 else 1.0
