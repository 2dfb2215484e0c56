"""MTF50: the frequency at which half the contrast is left, across the lines and along them.

Where the source has straight edges slanted by 2 to 10 degrees (plateaus of 1/60 of the picture flat
within 15 % of the step, crossing at least two output lines), they are measured on the output by
the method of ISO 12233 (`slanted_edge`), cut out along the course known from the source.
Beyond what is known to be plateau the rows go on at their own last value, so that the standard's
Hamming window, 32 lines wide, takes nothing off the edge itself. The median over the edges counts,
weighted by their lengths.

Else the figure is from the *edge model*: the chain's taps as measured on the picture (`kernel`), and
what they make of a step at each boundary between two source lines. These fall at many places between output
lines, so that all the steps together are one edge spread, finer than the lines: the mean level in each
quarter of a line, weighted by the source's own steps, straight between. Where the source's steps all fall
alike on the lines there is nothing finer to be had, and a sharp step reads 0.6034, a box one line wide.

Both are taken on code values, in which boxes filter. The slanted edges include the source's own softness,
the edge model the height of its lines. Frequencies
above 1/2 cycle per line are beyond what lines can carry: detail there comes out as aliasing, so
read it beside `staircase` and `lost_lines`. The figure ends at 1 cycle per output line (2 per pitch
on an interlaced raster): such a value says 1 or more, as a drop gives.

Which way was taken is in ``evidence.how`` under the metric's key: "slanted edge" or `EDGE_MODEL`.
Definition of this project where ISO 12233 does not say.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.core.affine import Affine
from scalesim.errors import NotMeasurable
from scalesim.metrics._base import Evidence, metric
from scalesim.metrics.edges.kernel import Across, Kernel, kernel_across
from scalesim.metrics.edges.slanted_edge import frequency_at_half, slanted_edge_mtf, spread_mtf
from scalesim.metrics.edges.slants import Slant, SlantRules, find_slants
from scalesim.metrics.key import Key

LEAST_SLOPE, MOST_SLOPE = np.tan(np.radians(2.0)), np.tan(np.radians(10.0))
EDGE_MODEL = "edge model of the chain's kernel"
"""A figure of the kernel: frames that show the same kernel have the same, however many steps they have."""
HIGHEST = 1.0
"""Cycles per output line, at most."""

_BESIDE = 16
_MOST_SLANTS = 12
_KNOTS = 4
_LEAST_SEEN = 0.05
"""Of the weight of the best seen quarter of a line: what less of the source's steps fall on is left out."""


@metric(
    Key(
        "mtf50_lines",
        "cycles per line pitch",
        "higher",
        "finest vertical detail (MTF50)",
        reading="finest detail across the lines that keeps half its contrast, by ISO 12233's slanted edge "
        "where the frame has one, else from the edges; 1 (2 on an interlaced raster) means that or more",
        family="sharpness",
        digits=2,
        counts="slanted edges, or steps of the edge model",
        improves="sharper",
    )
)
def mtf50_lines(evidence: Evidence) -> tuple[float]:
    """MTF50 across the lines, in cycles per field-line pitch of the output (see the module's text).

    Raises NotMeasurable when no slanted edge can be measured, as `kernel_across`.
    """
    return (mtf50(evidence, "lines") / evidence.raster.landed_pitch,)


@metric(
    Key(
        "mtf50_samples",
        "cycles per sample",
        "higher",
        "finest horizontal detail (MTF50)",
        reading="the same along the line; 1 means 1 or more",
        family="sharpness",
        digits=2,
        counts="slanted edges, or steps of the edge model",
        improves="sharper",
    )
)
def mtf50_samples(evidence: Evidence) -> tuple[float]:
    """MTF50 along the lines, in cycles per output sample (see the module's text).

    Raises NotMeasurable when no slanted edge can be measured, as `kernel_across`.
    """
    return (mtf50(evidence, "samples"),)


def mtf50(evidence: Evidence, axis: Across) -> float:
    """Return the MTF50 across an axis in cycles per landed line or sample, and note the method and its n."""
    slanted = _from_slants(evidence, axis)
    key = f"mtf50_{axis}"
    if slanted is not None:
        evidence.how[key] = "slanted edge"
        value, evidence.n[key] = slanted
        return value
    try:
        kernel = kernel_across(evidence, axis)
    except NotMeasurable as reason:
        raise NotMeasurable(
            "no straight edge, slanted by 2 to 10 degrees and sharp within 1/360 of the picture in the "
            f"source, could be measured, and {reason}"
        ) from None
    evidence.how[key], evidence.n[key] = EDGE_MODEL, round(kernel.steps)
    frequencies = np.linspace(0, HIGHEST, 201)
    return frequency_at_half(frequencies, spread_mtf(*pooled_spread(kernel), frequencies)) or HIGHEST


def _from_slants(evidence: Evidence, axis: Across) -> tuple[float, int] | None:
    """Return the weighted median over the slanted edges and their number, None when none can be measured."""
    source, landed = evidence.source_luma, evidence.landed_luma
    look, along = evidence.lines, evidence.samples
    seen, seen_along = evidence.window
    if axis == "samples":
        source, landed, look, along, seen, seen_along = source.T, landed.T, along, look, seen_along, seen
    rules = slant_rules(source.shape[0], look)
    half = max(1, int((rules.plateau + max(1, round(source.shape[0] / 360))) / abs(look.scale)) - 1)
    found = []
    slants = evidence.once(f"slants across {axis} {rules}", lambda: find_slants(source, rules))
    for slant in sorted(slants, key=lambda s: -s.length)[:_MOST_SLANTS]:
        cut = _cut(landed, slant, (look, along), (seen, seen_along), half)
        value = None if cut is None else _measured(*cut)
        if value is not None:
            found.append((value, slant.length))
    if not found:
        return None
    values, weights = np.array(sorted(found)).T
    return float(values[np.searchsorted(np.cumsum(weights), weights.sum() / 2)]), len(found)


def slant_rules(source_lines: int, look: Affine) -> SlantRules:
    """Return which slanted edges are straight, long and alone enough."""
    plateau = max(3, round(source_lines / 60))
    return SlantRules(plateau, 0.15, 1, (float(LEAST_SLOPE), float(MOST_SLOPE)), 2 * abs(look.scale))


def _cut(
    landed: NDArray, slant: Slant, looks: tuple[Affine, Affine], seen: tuple[slice, slice], half: int
) -> tuple[NDArray, NDArray] | None:
    """Return (rows along the edge, points across it) of the output, and each row's first coordinate."""
    look, along = looks
    first, last = sorted(map(along.inverse(), (slant.begin, slant.end)))
    columns = np.arange(max(seen[1].start, int(np.ceil(first - 0.5))), min(seen[1].stop, int(last + 0.5)))
    course = np.floor(look.inverse()(slant.line(along(columns + 0.5)))).astype(np.int64)
    whole = (course - half >= seen[0].start) & (course + half < seen[0].stop)
    if not whole.all() or len(columns) < 8:
        return None
    rows = course[:, None] + np.arange(-half, half + 1)
    beside = max(half, _BESIDE) - half
    patch = np.pad(landed[rows, columns[:, None]], ((0, 0), (beside, beside)), mode="edge")
    return patch, rows[:, 0] - float(beside)


def _measured(patch: NDArray, starts: NDArray) -> float | None:
    """Return the MTF50 of a patch, `HIGHEST` when half is not reached, None when it cannot be had."""
    try:
        frequencies, mtf = slanted_edge_mtf(patch, starts, bins_corrected=True)
    except NotMeasurable:
        return None
    return frequency_at_half(frequencies, mtf) or HIGHEST


def pooled_spread(kernel: Kernel) -> tuple[NDArray, NDArray]:
    """Return (places in output lines from the step, mean level 0..1) of all steps together, in order."""
    lines, levels = kernel.responses()
    distance = lines + 0.5 - kernel.places[:, None]
    knots = np.round(distance * _KNOTS).astype(np.int64)
    weight = np.broadcast_to(kernel.weights[:, None], levels.shape).ravel()
    index = (knots - knots.min()).ravel()
    total = np.bincount(index, weight)
    seen = total > _LEAST_SEEN * total.max()
    places, spread = (
        np.bincount(index, weight * values.ravel())[seen] / total[seen] for values in (distance, levels)
    )
    return places, spread
