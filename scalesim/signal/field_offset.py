"""How far apart, in lines, successive fields look on the scene: from their pictures alone.

Fields of a true interlace carry lines that lie half a field line apart; a progressive picture sent as
fields carries the same lines twice. With f_k the luma of field k and m_k the mean of the fields before and
after it, which carry the other parity, the offset d is the one for which

    f_k(y) = m_k(y + s_k d)      s_k = +1 for fields of parity 1, -1 for those of parity 0

in the least squares sense, both pictures blurred by sigma = 1 line and 1 sample first, and shifted by
cubic splines (Gauss-Newton from 0). Where f_(k-1) and f_(k+1) differ by more than 12 codes of 255 something
moved: those places are left out. Positive: the field of parity 1 shows what lies further down, +1/2 for a
true interlace.

The standard error is that of the mean over blocks of the picture (8 side by side) and over the fields.
Definition of this project; d says nothing of where the display draws the fields.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import NotMeasurable

Array = NDArray[Any]

MOVED = 12 / 255
"""A larger change between two fields of one parity is motion, not noise."""

BLOCKS = 8
_STEPS = 4
_LEAST_STILL = 0.15
"""Share of the picture that must stand still; of two unlike pictures a tenth agrees by chance."""
_LEAST_SLOPE = 1.0 / 255
"""Root mean square slope, a line, below which a block is flat."""


@dataclass(frozen=True)
class FieldOffset:
    """The offset, positive when parity 1 looks further down.

    Parameters:
        lines : field lines; error : its standard error
        jitter : standard deviation of the offset from field to field, field lines
        fields : how many fields gave an estimate
        still : share of the picture that stood still, 0..1
    """

    lines: float
    error: float
    jitter: float
    fields: int
    still: float


def field_offset(fields: Sequence[Array], parities: Sequence[int]) -> FieldOffset:
    """Return the offset between fields of both parities.

    Parameters:  fields : (lines, samples) luma code values of successive fields, at least two
                 parities : 0 or 1 each, alternating
    Raises: NotMeasurable when the picture is flat, moves everywhere, or there are too few fields
    """
    if len(fields) < 2 or any(a == b for a, b in pairwise(parities)):
        raise NotMeasurable("successive fields of both parities are needed, at least one of each")
    soft = [_blurred(field) for field in fields]
    found = [_of_field(soft, index, parities[index]) for index in range(len(soft))]
    usable = [one for one in found if one is not None]
    if not usable:
        raise NotMeasurable("the picture is flat, or moves everywhere: nothing tells its fields apart")
    offsets = np.concatenate([one[0] for one in usable])
    weights = np.concatenate([one[1] for one in usable])
    lines = float(np.average(offsets, weights=weights))
    per_field = np.array([np.average(o, weights=w) for o, w, _ in usable])
    return FieldOffset(
        lines,
        _standard_error(offsets, weights, lines),
        float(per_field.std(ddof=1)) if len(per_field) > 2 else 0.0,
        len(usable),
        float(np.mean([still for *_, still in usable])),
    )


def _blurred(field: Array) -> Array:
    from scipy.ndimage import gaussian_filter

    blurred: Array = gaussian_filter(np.asarray(field, dtype=np.float32), 1.0, mode="nearest")
    return blurred


def _of_field(soft: list[Array], index: int, parity: int) -> tuple[Array, Array, float] | None:
    """Return (offsets, weights) of the blocks of one field and the share that stood still, or None."""
    before, after = soft[index - 1] if index else None, soft[index + 1] if index + 1 < len(soft) else None
    if before is None or after is None:
        other = after if before is None else before
        assert other is not None
        if len(soft) > 2:
            return None  # with more fields, only those with a neighbour on either side can tell motion
        still = np.ones(other.shape, dtype=bool)
    else:
        other = (before + after) / 2
        still = np.abs(before - after) <= MOVED
    if still.mean() < _LEAST_STILL:
        return None
    sign = 1.0 if parity == 1 else -1.0
    blocks = np.array_split(np.arange(other.shape[1]), min(BLOCKS, other.shape[1]))
    pairs = [_of_block(soft[index][:, b], other[:, b], still[:, b], sign) for b in blocks]
    kept = [pair for pair in pairs if pair is not None]
    if not kept:
        return None
    offsets, weights = (np.array(each) for each in zip(*kept, strict=True))
    return offsets, weights, float(still.mean())


def _of_block(field: Array, other: Array, still: Array, sign: float) -> tuple[float, float] | None:
    """Return (offset, weight) of a block by Gauss-Newton; the weight is the energy of its slopes."""
    from scipy.ndimage import shift

    offset = 0.0
    inner = still.copy()
    inner[:3] = inner[-3:] = False
    energy = 0.0
    for _ in range(_STEPS):
        # half the way each, so that both pictures are smoothed alike
        a = shift(field, (sign * offset / 2, 0), order=3, mode="nearest")
        b = shift(other, (-sign * offset / 2, 0), order=3, mode="nearest")
        slope = np.gradient((a + b) / 2, axis=0)[inner] * sign
        energy = float(np.sum(slope**2))
        if energy <= _LEAST_SLOPE**2 * max(slope.size, 1):
            return None
        offset += float(np.sum(slope * (a - b)[inner]) / energy)
        offset = float(np.clip(offset, -2, 2))
    return offset, energy


def _standard_error(offsets: Array, weights: Array, mean: float) -> float:
    if len(offsets) < 2:
        return float("inf")
    share = weights / weights.sum()
    return float(np.sqrt(np.sum(share**2 * (offsets - mean) ** 2) * len(offsets) / (len(offsets) - 1)))
