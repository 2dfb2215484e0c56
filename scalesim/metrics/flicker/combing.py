"""Combing: the line-to-line tearing of what moved between the two fields of a woven picture.

Where lines of two moments alternate, four lines in a row go up and down in turn. With a, b, c, d
those lines (luma, code values), the *comb* of the place is the least of the three steps,

    t = max(0, min(a - b, c - b, c - d), min(b - a, b - c, d - c))

which an edge, a thin line or a gradient leaves at 0, and lines that alternate by D give as D. Fine
detail of a still may alternate too, so what one moment of the source has at the same place is taken
off: R, the range of the source's luma over the source lines that the four look at and one more
landed line on either side, in the same sample. An interlaced source has two moments: R is the
larger of its fields' own ranges, so its own tearing is not excused. With v the landed luma,

    combing = sum max(0, t - g R)^2 / sum (v_y - (v_(y-1) + v_(y+1)) / 2)^2,  1 at most

the share of the vertical second-difference energy that is tearing; g >= 1 is the chain's gain in
contrast (ratio of standard deviations). A still reads 0 after any chain, interlaced or not; so do
fields on one set of lines, where what moves is doubled, not torn. A picture in which all that
changes from line to line is torn reads 1. Steps t - g R below 6/255 are noise and count as 0.

Limits: what alternates line by line in a still of an interlaced source cannot be told from motion;
tearing in front of fine detail counts less; tearing that a later scaler has spread over more than
one line in a row is not seen. Definition of this project.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.metrics._base import Evidence, metric
from scalesim.metrics.key import Key

LEAST_COMB = 6 / 255
_MOST_PLACES = 20000
_LEAST_ENERGY = 1e-12
_TORN, _TORN_SHARE, _RUN, _GOING_SHARE = 12 / 255, 0.2, 5, 1 / 12


@metric(
    Key(
        "combing",
        "0…1",
        "lower",
        "line-to-line tearing of motion",
        reading="line-to-line change that is tearing of motion between two fields",
        family="flicker",
        needs="motion",
        share="% of line changes",
    )
)
def combing(evidence: Evidence) -> tuple[float]:
    """Share of the line-to-line change in the visible window that is tearing (see the module's text).

    0 when nothing changes from line to line.
    """
    lines, samples = evidence.window
    landed = evidence.landed_luma[lines, samples]
    if len(landed) < 4:
        return (0.0,)
    steps = np.diff(landed, axis=0)
    energy = float(np.sum(np.diff(steps, axis=0) ** 2, dtype=np.float64)) / 4
    rows, columns = np.nonzero(comb(steps) > LEAST_COMB)
    if energy < _LEAST_ENERGY or not len(rows):
        return (0.0,)
    every = -(-len(rows) // _MOST_PLACES)
    rows, columns = rows[::every], columns[::every]
    still = _contrast_gain(evidence) * source_range(evidence, rows + lines.start, columns + samples.start)
    torn = comb(steps)[rows, columns] - still
    torn = np.where(torn > LEAST_COMB, torn, 0.0)
    return (min(1.0, every * float(np.sum(torn**2, dtype=np.float64)) / energy),)


_BAND = 32
"""Lines compared at a time: few enough to stay near the processor."""

_PATTERN = 0.5
"""More of the picture than this alternates line by line only when it was drawn so."""


def looks_woven(luma: NDArray) -> bool:
    """Return whether a picture looks like two fields of different times, whatever it is said to be.

    Looked for are four lines in a row that alternate by more than 12/255 while each field by itself is
    calm there (lines two apart differ by less than half of it). Something has moved when they make up a
    fifth of the vertical second-difference energy, and a twelfth of them go on for eight lines.

    On 34 stills (3-D scenes, drawn frames, photographs) the first share is 0.16 at most; with one field
    moved along the line by 6 or 16 samples 0.27 at least. By 2 samples it is 0.10 to 0.86, so slight motion
    is missed in some.

    Parameters:  luma : (lines, samples) code values
    """
    steps = np.diff(luma, axis=0)
    torn = comb(steps)
    found = torn > _TORN
    if not found.any():
        return False
    rows, columns = np.nonzero(found)
    lines = luma[rows + np.arange(4)[:, None], columns]
    calm = np.maximum(np.abs(lines[0] - lines[2]), np.abs(lines[1] - lines[3]))
    found[rows, columns] = calm < torn[rows, columns] / 2
    bends = np.diff(steps, axis=0)
    energy = float(np.vdot(bends, bends)) / 4
    if energy < _LEAST_ENERGY or len(found) < _RUN or found.mean() > _PATTERN:
        return False
    going = found[: len(found) - _RUN + 1].copy()
    for further in range(1, _RUN):
        going &= found[further : len(found) - _RUN + 1 + further]
    share = float(np.sum(torn[found] ** 2, dtype=np.float64)) / energy
    return share > _TORN_SHARE and float(going.sum()) > _GOING_SHARE * float(found.sum())


def comb(steps: NDArray) -> NDArray:
    """Return t of each four lines in a row: (lines - 3, samples) from the (lines - 1, samples) steps."""
    found = np.empty((max(len(steps) - 2, 0), *steps.shape[1:]), steps.dtype)
    for top in range(0, len(found), _BAND):
        first, second, third = (steps[top + k : top + k + min(_BAND, len(found) - top)] for k in range(3))
        least, against = found[top : top + _BAND], -second
        np.minimum(first, against, out=least)
        np.minimum(least, third, out=least)
        np.maximum(against, first, out=against)
        np.maximum(against, third, out=against)
        np.maximum(least, np.negative(against, out=against), out=least)
        np.maximum(least, 0, out=least)
    return found


def source_range(evidence: Evidence, rows: NDArray, columns: NDArray) -> NDArray:
    """Return R at places on the landed picture: rows is the first of the four lines."""
    look, source = evidence.lines, evidence.source_luma
    period = evidence.source_raster.period
    first = np.floor(look(rows - 1.0)).astype(np.int64)
    count = int(np.ceil(6 * abs(look.scale))) + 1
    sample = np.floor(evidence.samples(columns + 0.5)).astype(np.int64)
    sample = np.clip(sample, 0, source.shape[1] - 1)
    ranges = np.zeros(len(rows))
    for parity in range(period):
        # the field's lines from one field line above what is looked at to one below
        inside = first[:, None] - (first[:, None] + parity) % period + np.arange(0, count + period, period)
        values = source[np.clip(inside, parity, source.shape[0] - period + parity), sample[:, None]]
        ranges = np.maximum(ranges, np.ptp(values, axis=1))
    return ranges


def _contrast_gain(evidence: Evidence) -> float:
    """Return how much more contrast the landed picture has than the source, at least 1."""
    spread = float(np.std(evidence.source_luma[:: evidence.source_raster.period, ::4]))
    return max(1.0, float(np.std(evidence.landed_luma[:, ::4])) / max(spread, 1e-6))
