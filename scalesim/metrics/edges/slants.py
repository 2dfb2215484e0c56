"""Slanted edges in the source: found once, column by column, linked, and cut into smooth pieces.

A *column* here is one sample of every line; every fourth of 1280 is looked at. In a column an edge is
found by the rules of `edges` with plateaus and flatness of the caller's choice. Edges of one polarity
in neighbouring columns are linked when each is the other's nearest. A linked run is fitted with a
polynomial, and halved until the fit is good: within 0.35 source line (root mean square), which
admits the stairs of one source line that a picture without antialiasing has (0.29), and no larger ones.

Definition of this project. For edges near the vertical, pass the transposed picture.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.metrics.edges.clean import find_edges

COLUMNS = 320
"""Columns looked at over the width of the picture, about."""

SMOOTH = 0.35
"""Source lines, root mean square, that a piece may stray from its polynomial."""

_LEAST_COLUMNS = 6
_STEEPEST = 1.0


@dataclass(frozen=True, eq=False)
class Slant:
    """One smooth piece of a slanted edge.

    Parameters:
        begin, end : source sample coordinates it spans
        middle : source sample coordinate its polynomial is about
        shape : polynomial in (sample - middle), highest power first, giving the source line coordinate
        rise : +1 when the picture is lighter below the edge, else -1
        above, below : the plateaus' levels, code values
    """

    begin: float
    end: float
    middle: float
    shape: tuple[float, ...]
    rise: int
    above: float
    below: float

    def line(self, samples: NDArray) -> NDArray:
        """Return the edge's source line coordinate at source sample coordinates."""
        place: NDArray = np.polyval(self.shape, samples - self.middle)
        return place

    def slope(self, samples: NDArray) -> NDArray:
        """Return source lines per source sample at source sample coordinates."""
        slope: NDArray = np.polyval(np.polyder(self.shape), samples - self.middle)
        return slope

    @property
    def length(self) -> float:
        """Source samples it spans."""
        return self.end - self.begin


@dataclass(frozen=True)
class SlantRules:
    """What counts as a piece.

    Parameters:
        plateau : source lines each plateau must have
        flatness : range of a plateau in shares of the step
        degree : of the polynomial: 1 for straight edges, 3 to follow curves
        slopes : least and most mean slope, source lines per source sample, either way
        extent : source lines it must cross
    """

    plateau: int
    flatness: float
    degree: int
    slopes: tuple[float, float]
    extent: float


def find_slants(luma: NDArray, rules: SlantRules) -> list[Slant]:
    """Return the slanted pieces of a (lines, samples) luma picture, from the left."""
    every = max(1, round(luma.shape[1] / COLUMNS))
    columns = np.ascontiguousarray(luma[:, every // 2 :: every])
    edges = find_edges(columns, plateau=rules.plateau, flatness=rules.flatness)
    if len(edges.places) < _LEAST_COLUMNS:
        return []
    row = np.floor(edges.places).astype(np.int64)
    reach = int(edges.reach)
    above = columns[np.clip(row - reach, 0, None), edges.strips]
    below = columns[np.clip(row + reach - 1, None, len(columns) - 1), edges.strips]
    samples = edges.strips * every + every // 2 + 0.5
    found: list[Slant] = []
    for run in linked_runs(edges.strips, edges.places, below > above, _STEEPEST * every + 1.0):
        _cut(samples[run], edges.places[run], (above[run], below[run]), rules, found)
    return found


def linked_runs(columns: NDArray, places: NDArray, rising: NDArray, farthest: float) -> list[NDArray]:
    """Return the indices of each run of edges in consecutive columns, each the next one's nearest.

    Parameters:
        columns, places, rising : (edges,) integer column, line coordinate and polarity of each
        farthest : lines between neighbours of a run, at most
    """
    apart = float(places.max()) + 2 * farthest + 1
    keys = (2 * columns + rising) * apart + places
    order = np.argsort(keys)
    following = _nearest(keys[order], 2 * apart, farthest)
    before = _nearest(keys[order], -2 * apart, farthest)
    index = np.arange(len(keys))
    mutual = (following >= 0) & (before[following] == index)
    root = index.copy()
    root[following[mutual]] = index[mutual]
    for _ in range(int(np.ceil(np.log2(len(keys)))) + 1):
        root = root[root]  # doubles the distance each time
    by_run = np.lexsort((columns[order], root))
    starts = np.flatnonzero(np.diff(root[by_run])) + 1
    return [order[run] for run in np.split(by_run, starts) if len(run) >= _LEAST_COLUMNS]


def _nearest(keys: NDArray, ahead: float, farthest: float) -> NDArray:
    """Return for each of the sorted keys the index of the one nearest to key + ahead, or -1."""
    target = keys + ahead
    right = np.clip(np.searchsorted(keys, target), 1, len(keys) - 1)
    left = right - 1
    nearest = np.where(target - keys[left] <= keys[right] - target, left, right)
    return np.where(np.abs(keys[nearest] - target) <= farthest, nearest, -1)


def _cut(
    samples: NDArray, places: NDArray, levels: tuple[NDArray, NDArray], rules: SlantRules, found: list[Slant]
) -> None:
    """Add the run as one piece when it is smooth, else both its halves."""
    if len(samples) < _LEAST_COLUMNS or np.ptp(places) < rules.extent:
        return
    middle = float(samples[0] + samples[-1]) / 2
    powers = np.vander((samples - middle) / 64, rules.degree + 1)  # scaled, so that the solver is at ease
    shape = np.linalg.lstsq(powers, places, rcond=None)[0]
    if float(np.mean((powers @ shape - places) ** 2)) > SMOOTH**2:
        half = len(samples) // 2
        for part in (slice(None, half), slice(half, None)):
            _cut(samples[part], places[part], (levels[0][part], levels[1][part]), rules, found)
        return
    shape = shape / 64.0 ** np.arange(rules.degree, -1, -1)
    slope = abs(places[-1] - places[0]) / (samples[-1] - samples[0])
    if rules.slopes[0] <= slope <= rules.slopes[1]:
        above, below = (float(np.median(level)) for level in levels)
        ends = (float(samples[0]), float(samples[-1]))
        found.append(Slant(*ends, middle, tuple(shape), 1 if below > above else -1, above, below))
