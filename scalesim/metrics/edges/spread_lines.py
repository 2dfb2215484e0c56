"""Edge spread: over how many scan lines a horizontal edge is smeared.

The edges are chosen once, in the source, by rules that do not look at any output: so every chain is
judged on the same edges. Along the line the picture is averaged in strips of 1/240 of its width, the
same in source and output. For vertical edges the axes change places: what is said here of lines and
height then holds for samples and width, and the functions get transposed pictures.

An edge is a step between two source lines where, in a strip,

- the levels of the plateaus on either side differ by at least 0.12 of white (code values);
- each plateau is 1/60 of the picture height (12 lines of 720) and flat within 15 % of that step;
- between them lies a transition of no more than 1/360 of the height on either side, whose lines do
  not leave the plateaus' levels by more than 15 % of the step (a border of its own colour is an
  outline, not an edge).

On the output the profile through the edge is normalised to its own outermost lines, and the 10 % and
90 % crossings nearest the middle are found by straight lines between line centres. A sharp step
between two adjacent lines therefore reads 0.8 pitch, the least there is on that raster.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scalesim.core.affine import Affine
from scalesim.errors import NotMeasurable
from scalesim.metrics._base import Evidence, metric
from scalesim.metrics.key import Key, Resolution
from scalesim.metrics.outlines.strips import landed_strips, source_strips, strip_width

LEAST_STEP = 0.12
FLATNESS = 0.15
LEAST_EDGES = 20
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


def edge_widths(strips: NDArray, edges: Edges, lines: Affine) -> NDArray:
    """Return the 10-90 % width of each edge on an output, in its lines; NaN where it cannot be had.

    Parameters:  strips : (landed lines, strips) of the output; lines : map landed -> source lines
    """
    to_output = lines.inverse()
    places = to_output(edges.places)
    # only lines whose whole span lies on the edge's own plateaus
    half = max(1, int(np.floor(edges.reach / abs(lines.scale))) - 1)
    nearest = np.floor(places).astype(np.int64)
    rows = nearest[:, None] + np.arange(-half, half + 1)
    inside = (rows[:, 0] >= 0) & (rows[:, -1] < strips.shape[0])
    widths = np.full(len(places), np.nan)
    profiles = strips[rows[inside], edges.strips[inside, None]]
    widths[inside] = profile_widths(profiles, places[inside] - nearest[inside] - 0.5 + half)
    return widths


def profile_widths(profiles: NDArray, middles: NDArray) -> NDArray:
    """Return the 10-90 % width of each row of `profiles`, in points; NaN where a crossing is missing.

    Parameters:
        profiles : (edges, points) values at equal distances
        middles : (edges,) where the edge is expected, in points; of several 50 % crossings the nearest counts
    """
    points = np.arange(profiles.shape[1])
    low, high = profiles[:, :1], profiles[:, -1:]
    size = high - low
    size = np.where(np.abs(size) < LEAST_STEP / 4, np.nan, size)
    level = (profiles - low) / size
    crossing = (level[:, :-1] < 0.5) & (level[:, 1:] >= 0.5)
    distance = np.where(crossing, np.abs(points[:-1] + 0.5 - middles[:, None]), np.inf)
    at = np.argmin(distance, axis=1)
    begin = _last_at_or_before(level <= 0.1, at)
    end = _first_after(level >= 0.9, at)
    found = np.isfinite(np.min(distance, axis=1)) & (begin >= 0) & (end < profiles.shape[1])
    widths = np.full(len(profiles), np.nan)
    rows = np.nonzero(found)[0]
    left = _between(level, rows, begin[rows], 0.1)
    right = _between(level, rows, end[rows] - 1, 0.9)
    widths[rows] = right - left
    return widths


def _last_at_or_before(mask: NDArray, at: NDArray) -> NDArray:
    points = np.arange(mask.shape[1])
    return np.where(mask & (points <= at[:, None]), points, -1).max(axis=1)


def _first_after(mask: NDArray, at: NDArray) -> NDArray:
    points = np.arange(mask.shape[1])
    return np.where(mask & (points > at[:, None]), points, mask.shape[1]).min(axis=1)


def _between(level: NDArray, rows: NDArray, left: NDArray, share: float) -> NDArray:
    a, b = level[rows, left], level[rows, left + 1]
    return left + (share - a) / np.where(b == a, 1.0, b - a)


Across = Literal["lines", "samples"]
"""What an edge lies across: the lines, when it is horizontal, or the samples of a line."""


@dataclass(frozen=True, eq=False)
class EdgeView:
    """One source's edges across one axis, and the output to look for them on.

    Parameters:
        edges : those the display does not hide
        source, strips : (lines or samples, strips) of the source, and of the landed picture
        look : map from the landed lines or samples to the source's
    """

    edges: Edges
    source: NDArray
    strips: NDArray
    look: Affine

    def widths(self) -> NDArray:
        """Return the 10-90 % width of each of `edges` in output points; NaN where it cannot be had."""
        return edge_widths(self.strips, self.edges, self.look)


def edges_across(evidence: Evidence, axis: Across) -> EdgeView:
    """Return the edges across an axis, found once per evidence."""
    name = f"edges across {axis}"
    if name not in evidence.cache:
        evidence.cache[name] = _view(evidence, axis)
    view: EdgeView = evidence.cache[name]
    return view


def _view(evidence: Evidence, axis: Across) -> EdgeView:
    source, landed = evidence.source_luma, evidence.landed_luma
    look, along = evidence.lines, evidence.samples
    seen, seen_along = evidence.window
    if axis == "samples":
        source, landed = (np.ascontiguousarray(picture.T) for picture in (source, landed))
        look, along, seen, seen_along = along, look, seen_along, seen
    strips = evidence.once(f"strips along {axis}", lambda: source_strips(source))
    found = evidence.once(f"edges across {axis}", lambda: find_edges(strips))
    place = look.inverse()(found.places)
    width = strip_width(source.shape[1])
    middle = along.inverse()((found.strips + 0.5) * width)
    shown = (place >= seen.start) & (place < seen.stop)
    shown &= (middle >= seen_along.start) & (middle < seen_along.stop)
    edges = Edges(found.strips[shown], found.places[shown], found.reach)
    return EdgeView(edges, strips, landed_strips(landed, along, width, range(strips.shape[1])), look)


def median_width(view: EdgeView, kind: str) -> tuple[float, float]:
    """Return (median width in output points, number of edges measured).

    Raises: NotMeasurable with fewer than `LEAST_EDGES` edges of that kind
    """
    widths = view.widths()
    widths = widths[np.isfinite(widths)]
    if len(widths) < LEAST_EDGES:
        raise NotMeasurable(
            f"{len(widths)} {kind} edges could be measured; at least {LEAST_EDGES} are needed"
        )
    return float(np.median(widths)), float(len(widths))


@metric(
    Key(
        "edge_spread_lines",
        "scan lines",
        "lower",
        "height of a horizontal edge",
        reading="height of a horizontal edge, 10 to 90 %. 0.8 is as sharp as a progressive picture can be, "
        "0.4 an interlaced one",
        differs=Resolution(0.01, captured=0.03, position=0.066, position_mean=0.017),
        family="sharpness",
        needs="strips",
        digits=2,
        short="the height of a horizontal edge",
        head="edge height, scan lines",
        improves="sharper",
        best="sharpest edges",
        worst="softest edges",
        told=True,
        say="A horizontal edge is {} scan lines tall "
        "(0.8 is the sharpest a progressive picture can be, 0.4 an interlaced one).",
        captions=("edges {} scan lines tall", "edges {} scan lines tall", "edges {} lines"),
        marks=((0.8, "sharpest progressive"), (0.4, "sharpest interlaced")),
    ),
    Key(
        "edge_count",
        "edges",
        "neither",
        "edges measured",
        reading="horizontal edges that could be measured, of those chosen once in the source for every chain",
        family="sharpness",
        needs="strips",
        digits=0,
    ),
)
def edge_spread_lines(evidence: Evidence) -> tuple[float, float]:
    """Median 10-90 % width across horizontal edges, in field-line pitches of the output raster.

    On an interlaced raster the landed lines are half a pitch apart. Edges the display hides are left
    out. Raises NotMeasurable with fewer than 20 edges.
    """
    width, count = median_width(edges_across(evidence, "lines"), "horizontal")
    return width * evidence.raster.landed_pitch, count
