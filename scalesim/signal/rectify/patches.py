"""Where small parts of a picture lie in another, to a fraction of a pixel: by phase correlation."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

_PATCH, _HOP = 64, 32
_LEAST_CONTRAST = 0.015
_LEAST_LIKENESS = 0.7
_MOST_OFF = 8.0


def patch_shifts(
    fixed: NDArray, moved: NDArray, *, patch: int = _PATCH, hop: int = _HOP
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return (places, shifts), both (n, 2) as (across, down) in pixels: what lies at a place of `fixed` lies
    a shift further in `moved`. Flat patches, and such as do not look alike, are left out.

    Parameters:  fixed, moved : (rows, columns) of one size; NaN where there is nothing; patch, hop : pixels
    Source: the cross-correlation of Hann-windowed patches, its peak by a parabola; likeness is that peak's
        share of the patches' own energies
    """
    rows, columns = fixed.shape
    tops = range(0, rows - patch + 1, hop)
    lefts = range(0, columns - patch + 1, hop)
    window = np.outer(np.hanning(patch), np.hanning(patch))
    places, shifts = [], []
    for top in tops:
        for left in lefts:
            cut = np.s_[top : top + patch, left : left + patch]
            found = _shift(fixed[cut], moved[cut], window)
            if found is not None:
                places.append((left + (patch - 1) / 2, top + (patch - 1) / 2))
                shifts.append(found)
    return np.array(places).reshape(-1, 2), np.array(shifts).reshape(-1, 2)


def _shift(one: NDArray, other: NDArray, window: NDArray) -> tuple[float, float] | None:
    if not (np.isfinite(one).all() and np.isfinite(other).all()):
        return None
    a, b = ((each - (each * window).sum() / window.sum()) * window for each in (one, other))
    energy = np.sqrt((a**2).sum() * (b**2).sum())
    if min(a.std(), b.std()) < _LEAST_CONTRAST:
        return None
    both = np.fft.irfft2(np.fft.rfft2(b) * np.conj(np.fft.rfft2(a)), s=a.shape)
    y, x = np.unravel_index(int(both.argmax()), both.shape)
    if both[y, x] < _LEAST_LIKENESS * energy:
        return None
    size = len(a)
    down = _peak(both[(y + np.array([-1, 0, 1])) % size, x]) + (y + size // 2) % size - size // 2
    across = _peak(both[y, (x + np.array([-1, 0, 1])) % size]) + (x + size // 2) % size - size // 2
    return (float(across), float(down)) if max(abs(across), abs(down)) < _MOST_OFF else None


def _peak(values: NDArray) -> float:
    """Return where the parabola through three values peaks, from the middle one."""
    low, middle, high = values
    bend = low - 2 * middle + high
    return float(0.5 * (low - high) / bend) if bend < 0 else 0.0
