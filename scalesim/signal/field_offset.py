"""How far apart, in lines, successive fields look on the scene: from their pictures alone.

Fields of a true interlace carry lines that lie half a field line apart; a progressive picture sent as
fields carries the same lines twice. With f_k the luma of field k and m_k the mean of the fields before and
after it, which carry the other parity, the offset d is the one for which

    f_k(y) = m_k(y + s_k d)      s_k = +1 for fields of parity 1, -1 for those of parity 0

in the least squares sense, both pictures blurred by sigma = 2 lines and 1 sample first, and shifted by
cubic splines (Gauss-Newton from 0, all of the picture at once). Where f_(k-1) and f_(k+1) differ by more than
their noise, something moved: those places and those near them are left out. Positive: the field of parity 1
shows what lies further down, +1/2 for a true interlace.

The standard error counts a picture's parts as the independent ones, not its fields: what one field alone
carries (detail finer than its lines) is the same in every one of its kind. Parts are bands of lines and
columns of samples; the error is that of the larger of both groupings, times a factor and over a floor that
were set on pictures of a known offset, so that two errors cover it in at least 95 of 100. Few parts tell
little of their own spread: the error is widened by Student's t for as many parts as share the detail. What
moves is left out, and what is left need not speak for it: the error is divided by the square root of the
share that stood still.
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
"""A larger change between two fields of one parity is motion, whatever the noise."""

BANDS, COLUMNS = 16, 8
_SIGMA = (2.0, 1.0)
_STEPS = 5
_NOISES, _NEAR_MOTION = 4.0, 9
"""Changes of so many deviations of the noise are motion, and so is what lies in a square so wide around."""
_LEAST_STILL = 0.15
"""Share of the picture that must stand still; of two unlike pictures a tenth agrees by chance."""
_LEAST_SLOPE = 0.5 / 255
"""Root mean square slope, a line, below which a picture is flat."""
_COVERING, _FLOOR = 1.5, 0.003
"""Factor on the standard error, and its least value."""
_TWO_SIDED, _NORMAL = 0.975, 1.96
"""Quantile at which Student's t and the normal distribution are compared, and the latter's value."""
_LEAST_FREEDOM = 0.2
"""Degrees of freedom below which parts say nothing of their spread."""


@dataclass(frozen=True)
class FieldOffset:
    """The offset, positive when parity 1 looks further down.

    Parameters:
        lines : field lines; error : one standard error; twice that covers the truth in 95 of 100
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
    Raises: NotMeasurable when the picture shows no vertical detail or moves everywhere, or fields are too few
    """
    if len(fields) < 2 or any(a == b for a, b in pairwise(parities)):
        raise NotMeasurable("successive fields of both parities are needed, at least one of each")
    soft = [softened(field) for field in fields]
    found = [_of_field(soft, index, parities[index]) for index in range(len(soft))]
    usable = [one for one in found if not isinstance(one, str)]
    if not usable:
        why = " or ".join(sorted({one for one in found if isinstance(one, str) and one}))
        raise NotMeasurable(f"{why}: nothing tells its fields apart")
    weights = np.array([one.energy.sum() for one in usable])
    offsets = np.array([one.offset for one in usable])
    return FieldOffset(
        float(np.average(offsets, weights=weights)),
        _standard_error(usable),
        float(offsets.std(ddof=1)) if len(offsets) > 2 else 0.0,
        len(usable),
        float(np.mean([one.still for one in usable])),
    )


@dataclass(frozen=True)
class _OfField:
    """One field's offset; `pull` and `energy` are (bands, columns) sums of its parts."""

    offset: float
    pull: Array
    energy: Array
    still: float


def softened(field: Array) -> Array:
    """Return a (lines, samples) field blurred as fields are before they are set against each other."""
    from scipy.ndimage import gaussian_filter

    blurred: Array = gaussian_filter(np.asarray(field, dtype=np.float32), _SIGMA, mode="nearest")
    return blurred


_FLAT = "the picture shows no vertical detail (it is flat, or all its edges stand upright)"
_MOVES = "the picture moves everywhere"


def _of_field(soft: list[Array], index: int, parity: int) -> _OfField | str:
    """Return the offset of one field, or why it cannot be had; "" for one that lacks a neighbour."""
    before, after = soft[index - 1] if index else None, soft[index + 1] if index + 1 < len(soft) else None
    if before is None or after is None:
        other = after if before is None else before
        assert other is not None
        if len(soft) > 2:
            return ""  # with more fields, only those with a neighbour on either side can tell motion
        still = np.ones(other.shape, dtype=bool)
    else:
        other = (before + after) / 2
        still = still_places(before, after)
    if still.mean() < _LEAST_STILL:
        return _MOVES
    return _fitted(soft[index], other, still, 1.0 if parity == 1 else -1.0) or _FLAT


def still_places(before: Array, after: Array, noises: float = _NOISES) -> Array:
    """Return where nothing moved from one (lines, samples) field of a parity to the next, nor near there.

    Parameters:  noises : a change of so many deviations of the noise is motion; more for many pairs
    """
    from scipy.ndimage import minimum_filter

    change = np.abs(before - after)
    noise = float(np.median(change)) / 0.674
    limit = min(max(noises * noise, 1.5 / 255), MOVED)
    still: Array = minimum_filter(change <= limit, _NEAR_MOTION)
    return still


def _fitted(field: Array, other: Array, still: Array, sign: float) -> _OfField | None:
    """Return one field's offset by Gauss-Newton, and what each part of the picture has to say of it."""
    from scipy.ndimage import shift

    offset = 0.0
    inner = still.copy()
    inner[:6] = inner[-6:] = False
    rest = slope = np.zeros_like(field)
    for step in range(_STEPS + 1):
        # half the way each, so that both pictures are smoothed alike
        a = shift(field, (sign * offset / 2, 0), order=3, mode="nearest")
        b = shift(other, (-sign * offset / 2, 0), order=3, mode="nearest")
        slope = np.where(inner, np.gradient((a + b) / 2, axis=0) * sign, 0.0)
        rest = a - b
        energy = float(np.sum(slope**2))
        if energy <= _LEAST_SLOPE**2 * max(int(inner.sum()), 1):
            return None
        if step < _STEPS:
            offset = float(np.clip(offset + np.sum(slope * rest) / energy, -2, 2))
    return _OfField(offset, _parts(slope * rest), _parts(slope**2), float(still.mean()))


def _parts(values: Array) -> Array:
    """Return the sums over bands and columns of a picture."""
    bands = np.array_split(values, min(BANDS, values.shape[0]), axis=0)
    rows = np.stack([band.sum(axis=0) for band in bands])
    columns = np.array_split(rows, min(COLUMNS, rows.shape[1]), axis=1)
    return np.stack([column.sum(axis=1) for column in columns], axis=1)


def _standard_error(fields: Sequence[_OfField]) -> float:
    """Return the error of the mean offset, the parts of the picture taken as independent of each other."""
    pull = np.sum([one.pull for one in fields], axis=0)
    energy = np.sum([one.energy for one in fields], axis=0)
    spread = max(_spread(pull.sum(axis=k), energy.sum(axis=k)) for k in (0, 1))
    spread = max(spread, _spread(pull.ravel(), energy.ravel()))
    still = float(np.mean([one.still for one in fields]))
    return float(np.hypot(_COVERING * spread / np.sqrt(still), _FLOOR))


def _spread(pull: Array, energy: Array) -> float:
    """Return the standard error from parts, widened where few of them hold the detail; infinite for one."""
    from scipy.special import stdtrit

    shared = float(energy.sum() ** 2 / np.sum(energy**2))
    if shared - 1 < _LEAST_FREEDOM:
        return float("inf")
    widened = float(stdtrit(shared - 1, _TWO_SIDED)) / _NORMAL
    return widened * float(np.sqrt(np.sum(pull**2) * shared / (shared - 1)) / energy.sum())
