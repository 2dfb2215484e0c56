"""Staircase: how jagged slanted edges became.

Slanted edges are found once in the source (`slants`): plateaus of 1/160 of the height (4 lines of 720,
one and a half scan lines of 240) flat within a quarter of the step, mean slope 0.03 to 1 source lines
per source sample, crossing at least 1/120 of the height (two scan lines of 240). Their smooth course,
a cubic for each piece, is what the output ought to follow.

On the output, for every sample along an edge, the place is found where the picture crosses half
way between its levels above and below (straight lines between line centres). A constant displacement of
a piece is no stair and is taken off. What is left, as a root mean square over all samples and in
scan lines (field-line pitches), is divided by 1/sqrt(12): that of a place rounded to whole scan lines, which
is what a pure drop does to a slant.

    staircase = sqrt(12 * mean((place - course)^2)),  1 at most

So a drop to 240 lines reads 1. The frame lines of an interlaced picture lie half a pitch apart: a
drop to them reads 1/2. The source's own stairs are in the figure: without antialiasing they read
(scan lines) / (source lines), 1/3 at 720 to 240, and add up as squares. The greys of an antialiased
source tell where between its lines an edge lies, so a drop of one reads about 0.7. A blur hides
stairs: read it beside `edge_spread_lines`. Definition of this project.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import NotMeasurable
from scalesim.metrics._base import Evidence, metric
from scalesim.metrics.edges.slants import Slant, SlantRules, find_slants
from scalesim.metrics.key import Key

GENTLEST, STEEPEST = 0.03, 1.0
LEAST_LENGTH = 0.05
"""Less edge than this, in picture widths altogether, says nothing about a chain."""

LEAST_PIECES = 3
_LEAST_FOLLOWED = 0.8


@metric(
    Key(
        "staircase",
        "0…1",
        "lower",
        "stairs in slanted edges",
        reading="jaggedness of slanted edges; 1 is a pure drop. Blur hides stairs, so read it beside "
        "a sharpness",
        family="slopes",
        share="% of a drop's",
        short="stairs",
        plural=True,
        improves="smoother",
        best="smoothest slopes",
        worst="most jagged slopes",
    )
)
def staircase(evidence: Evidence) -> tuple[float]:
    """Root mean square stair of slanted edges in shares of a pure drop's (see the module's text).

    Raises NotMeasurable when fewer than 3 pieces of edge, or less than 0.05 picture widths of them, can
    be followed in the visible picture.
    """
    rules = slant_rules(evidence.source.shape[0])
    pieces = evidence.once(f"slants {rules}", lambda: find_slants(evidence.source_luma, rules))
    stairs = [stairs_of(evidence, piece) for piece in pieces]
    stairs = [found for found in stairs if len(found)]
    followed = sum(map(len, stairs)) / evidence.landed.shape[1]
    if len(stairs) < LEAST_PIECES or followed < LEAST_LENGTH:
        raise NotMeasurable(
            f"{len(stairs)} slanted edges of {followed:.2f} picture widths in all could be followed; "
            f"at least {LEAST_PIECES} of {LEAST_LENGTH} are needed"
        )
    square = float(np.mean(np.concatenate(stairs) ** 2))
    return (min(1.0, float(np.sqrt(12 * square)) * evidence.raster.landed_pitch),)


def slant_rules(source_lines: int) -> SlantRules:
    """Return which slanted edges of a source of so many lines are followed."""
    plateau = max(2, round(source_lines / 160))
    return SlantRules(plateau, 0.25, 3, (GENTLEST, STEEPEST), source_lines / 120)


def stairs_of(evidence: Evidence, piece: Slant) -> NDArray:
    """Return how many landed lines the output lies below a piece's course, less the mean, per sample.

    Empty when the piece cannot be followed over four fifths of its length.
    """
    columns, course = _course(evidence, piece)
    if len(columns) < 2:
        return np.zeros(0)
    pitch = 1 / evidence.raster.landed_pitch
    place = half_crossings(evidence.landed_luma, columns, course, pitch, piece.rise)
    stair = place - course
    found = np.isfinite(stair)
    if np.count_nonzero(found) < _LEAST_FOLLOWED * len(stair):
        return np.zeros(0)
    followed: NDArray = stair[found] - np.mean(stair[found])
    return followed


def _course(evidence: Evidence, piece: Slant) -> tuple[NDArray, NDArray]:
    """Return the visible landed samples along a piece and its landed line coordinate at each."""
    lines, samples = evidence.window
    ends = sorted(map(evidence.samples.inverse(), (piece.begin, piece.end)))
    columns = np.arange(
        max(samples.start, int(np.ceil(ends[0] - 0.5))), min(samples.stop, int(ends[1] + 0.5))
    )
    at = evidence.samples(columns + 0.5)
    slope = np.abs(piece.slope(at))
    course = evidence.lines.inverse()(piece.line(at))
    kept = (slope >= GENTLEST) & (slope <= STEEPEST) & (course >= lines.start) & (course < lines.stop)
    return columns[kept], course[kept]


def half_crossings(luma: NDArray, columns: NDArray, course: NDArray, pitch: float, rise: int) -> NDArray:
    """Return where each column crosses half way between the levels above and below; NaN where it does not.

    The levels are medians over the columns, one to two scan lines away from the course. Of
    several crossings in the right sense the one nearest to the course counts, within 1.25 scan lines.

    Parameters:  luma : (lines, samples); columns, course : (n,) samples and expected line coordinates;
                 pitch : landed lines per scan line; rise : +1 lighter below, -1 darker
    """
    reach = int(np.ceil(1.25 * pitch)) + 1
    nearest = np.floor(course).astype(np.int64)
    rows = nearest[:, None] + np.arange(-reach, reach + 1)
    places = np.full(len(columns), np.nan)
    inside = (rows[:, 0] >= 0) & (rows[:, -1] < len(luma))
    if not inside.any():
        return places
    values = luma[rows[inside], columns[inside, None]].astype(np.float64)
    away = rows[inside] + 0.5 - course[inside, None]
    above = np.median(values[(away <= -pitch) & (away > -2 * pitch)])
    below = np.median(values[(away >= pitch) & (away < 2 * pitch)])
    if (below - above) * rise <= 0:
        return places
    level = (values - (above + below) / 2) * rise
    crosses = (level[:, :-1] < 0) & (level[:, 1:] >= 0)
    share = -level[:, :-1] / np.where(crosses, level[:, 1:] - level[:, :-1], 1.0)
    off = np.where(crosses, away[:, :-1] + share, np.inf)
    best = np.take_along_axis(off, np.argmin(np.abs(off), axis=1)[:, None], axis=1)[:, 0]
    places[inside] = np.where(np.abs(best) <= 1.25 * pitch, course[inside] + best, np.nan)
    return places
