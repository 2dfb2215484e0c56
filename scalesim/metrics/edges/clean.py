"""Clean edges: isolated steps between two level plateaus, found in a source by rules that see no output.

An edge is a step between two source lines where, in a strip or a column,

- the levels of the plateaus on either side differ by at least 0.12 of white (code values);
- each plateau is 1/60 of the picture height (12 lines of 720) and flat within 15 % of that step;
- between them lies a transition of no more than 1/360 of the height on either side, whose lines do
  not leave the plateaus' levels by more than 15 % of the step (a border of its own colour is an
  outline, not an edge).

Definition of this project.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

LEAST_STEP = 0.12
FLATNESS = 0.15
_MOST_EDGES = 20000


@dataclass(frozen=True, eq=False)
class Edges:
    """Chosen edges: the strip each is in, its place (source line coordinate), and its plateau's reach."""

    strips: NDArray
    places: NDArray
    reach: float


def find_edges(strips: NDArray, *, plateau: int | None = None, flatness: float = FLATNESS) -> Edges:
    """Return the horizontal edges of a (lines, strips) picture, by the rules in the module's text.

    Parameters:  plateau : lines of a plateau, instead of 1/60 of the height; flatness : its range in
                 shares of the step
    """
    lines = strips.shape[0]
    plateau = plateau or max(3, round(lines / 60))
    spread = max(1, round(lines / 360))
    reach = plateau + spread
    if lines < 2 * reach + 2:
        return Edges(np.zeros(0, int), np.zeros(0), reach)
    above, below = _plateaus(strips, plateau, spread)
    step = below.level - above.level
    size = np.abs(step)
    chosen = (size >= LEAST_STEP) & (np.maximum(above.range, below.range) <= flatness * size)
    # of neighbouring candidates, keep the one in the middle of the transition: the steepest
    slope = np.abs(np.diff(strips, axis=0))[reach - 1 : lines - reach]
    chosen &= slope >= _neighbourhood_max(slope, 2 * spread + 1) - 1e-7
    chosen &= _between_plateaus(strips, spread, (above.level, below.level), (plateau, flatness))
    rows, columns = np.nonzero(chosen)
    middle = 0.5 * (above.level + below.level)[rows, columns]
    places = _crossing(strips, rows + reach, columns, middle)
    return _thinned(Edges(columns, places, reach))


@dataclass(frozen=True, eq=False)
class _Plateaus:
    level: NDArray
    range: NDArray


def _plateaus(strips: NDArray, plateau: int, spread: int) -> tuple[_Plateaus, _Plateaus]:
    """Return mean and range of the plateaus above and below each boundary between two lines."""
    running = np.zeros((strips.shape[0] + 1, strips.shape[1]))
    np.cumsum(strips, axis=0, out=running[1:])
    level = (running[plateau:] - running[:-plateau]) / plateau
    least, most = (_windowed(extreme, strips, plateau) for extreme in (np.minimum, np.maximum))
    found = _Plateaus(level.astype(strips.dtype), most - least)
    gap = plateau + 2 * spread
    above = _Plateaus(found.level[:-gap], found.range[:-gap])
    below = _Plateaus(found.level[gap:], found.range[gap:])
    return above, below


def _between_plateaus(
    strips: NDArray, spread: int, levels: tuple[NDArray, NDArray], rules: tuple[int, float]
) -> NDArray:
    """Return where the transition stays between its plateaus: a bright or dark border is an outline."""
    (above, below), (plateau, flatness) = levels, rules
    part = strips[plateau : plateau + above.shape[0] + 2 * spread - 1]
    least, most = (_windowed(extreme, part, 2 * spread) for extreme in (np.minimum, np.maximum))
    slack = flatness * np.abs(below - above)
    lowest, highest = np.minimum(above, below) - slack, np.maximum(above, below) + slack
    inside: NDArray = (least >= lowest) & (most <= highest)
    return inside


def _windowed(extreme: Callable[[NDArray, NDArray], NDArray], values: NDArray, size: int) -> NDArray:
    """Return the least or most of every `size` values in a row down the lines: (lines - size + 1, strips)."""
    covered = 1
    while covered < size:  # each step covers up to twice as many
        step = min(covered, size - covered)
        values = extreme(values[:-step], values[step:])
        covered += step
    return values


def _neighbourhood_max(values: NDArray, size: int) -> NDArray:
    from scipy.ndimage import maximum_filter1d

    return np.asarray(maximum_filter1d(values, size, axis=0, mode="nearest"))


def _crossing(strips: NDArray, below: NDArray, columns: NDArray, middle: NDArray) -> NDArray:
    """Return where the profile crosses `middle` between the lines below-1 and below, else their boundary."""
    upper, lower = strips[below - 1, columns], strips[below, columns]
    rise = lower - upper
    share = np.divide(middle - upper, rise, out=np.full_like(rise, 0.5), where=rise != 0)
    return below - 0.5 + np.clip(share, 0.0, 1.0)


def _thinned(edges: Edges) -> Edges:
    """Return at most `_MOST_EDGES` edges, evenly taken: a median needs no more."""
    every = -(-len(edges.places) // _MOST_EDGES) or 1
    return Edges(edges.strips[::every], edges.places[::every], edges.reach)
