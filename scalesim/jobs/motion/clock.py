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
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.jobs.motion.events import Event
from scalesim.jobs.motion.plane import Plane, Tears

FEWEST = 12
"""Tears below which nothing is told of the clocks."""
UNSTEADY = (
    "they do not move as those of two steady clocks do, or the capture itself lost or repeated pictures"
)
AT_EDGE = "the tear stands at the edge of the picture, where half of it cannot be seen"
SHORTEST_S = 0.5
_TUKEY = 4.685
_MOST_OFF, _MOST_ASTRAY = 0.03, 0.3
"""Of a height: tears that lie farther off the line are astray; share of them above which there is no line."""
_WIDE = 4.0
"""Lines between which a tear may lie to be used."""
_JUMP, _PACE = 2.5, 0.02
"""Source pictures, and share of the captured ones, by which numbers may leave their pace within a part."""
_EDGE_LINES = 2.5
"""Lines at the picture's edges where no tear is told from a misread line."""
_LEAST_MARGIN = 2.0


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


def _tears_of(events: Sequence[Event], lines: int) -> Tears:
    torn = [each for each in events if each.kind == "torn" and _is_placed(each)]
    picture = np.array([each.picture for each in torn], np.float64)
    source = np.array([each.other for each in torn], np.float64)
    place = np.array([each.line for each in torn], np.float64) / max(lines, 1)
    return Tears(picture, source, place, _parts(picture, source))


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


def _fitted(tears: Tears, lines: int) -> Plane | str:
    """Return the plane of the tears, or why there is none."""
    kept = np.ones(len(tears), bool)
    for _ in range(20):
        used = tears[kept]
        if len(used) < FEWEST or not np.ptp(used.source) > 0:
            return UNSTEADY
        fit = Plane.of(used, lines)
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
        fit = Plane.of(used, lines)
    return fit.between_lines(used, lines) if fit.hides(used, lines) else fit
