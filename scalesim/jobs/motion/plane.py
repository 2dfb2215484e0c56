"""The plane on which the tears of two steady clocks lie, by least squares; see `clock` for its law."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import hypot, sqrt

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.laglog.stepped import COARSE, line_of

_SCAN, _BEAT_ERROR = 0.95, 0.045
"""Usual share of a period in which a picture's height is read: 1080 of 1125 lines, 480 of 525 (CTA-861), or
all of it; and the doubt of its inverse."""
_SURE = 4.0
_LEAST_LINES = 0.1
"""Of a line: no tear is read better."""


@dataclass(frozen=True, eq=False)
class Tears:
    """Tears: captured picture k, source picture j below, place y of the height 0..1, part between jumps."""

    picture: NDArray
    source: NDArray
    place: NDArray
    part: NDArray

    def __getitem__(self, which: NDArray) -> Tears:
        return Tears(self.picture[which], self.source[which], self.place[which], self.part[which])

    def __len__(self) -> int:
        return len(self.picture)


@dataclass(frozen=True, eq=False)
class Plane:
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
    def of(cls, tears: Tears, lines: int) -> Plane:
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

    def expected(self, tears: Tears) -> NDArray:
        """Return where each tear should lie, of a height; infinite in a part of which none was used."""
        begin = np.array([self.begins.get(int(part), np.inf) for part in tears.part])
        ahead = tears.source - tears.picture
        found: NDArray = begin + self.beat * ahead + self.roll * (tears.source - self.about)
        return found

    def rest(self, tears: Tears) -> NDArray:
        """Return what is left of each tear, of a height."""
        return tears.place - self.expected(tears)

    def hides(self, tears: Tears, lines: int) -> bool:
        """Tell whether tears are told to whole lines, and pass from one to the next so slowly that they hide.

        A tear that moves by more than a line from picture to picture is rounded anew each time.
        """
        slow = abs(self.roll) < 1 / lines and _are_whole(tears.place * lines)
        return slow and 1 / lines > COARSE * self.spread

    def between_lines(self, tears: Tears, lines: int) -> Plane:
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
