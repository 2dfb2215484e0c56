"""Traces that a smooth enlargement leaves in a picture.

An interpolated line repeats its few interpolation phases again and again, so the mean size of its
differences, taken sample by sample over many lines, goes up and down with the period of the
enlargement: a peak in its spectrum at 1/scale cycles per sample (folded below 1/2).
Source of the idea: A. C. Gallagher, "Detection of linear and cubic interpolation in JPEG compressed
images", Canadian Conference on Computer and Robot Vision, 2005 (second differences; cited from
memory). First and third differences are looked at as well, because they sit between samples and so
see the enlargement by exactly 2, whose two phases mirror each other.

Three things look alike and are let pass: native or line-repeated art (it has steps of one sample,
which no smooth enlargement keeps), blocks of 8 left by earlier compression, and gratings.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_LONGEST, _WIDEST = 1024, 512
_SHORTEST, _NARROWEST = 128, 64
# Differences are held to this many 8-bit codes, so that few strong edges do not outweigh texture.
_HELD = 16.0
# Thresholds set on native and enlarged pictures; the counts are in the tests' docstring.
_PEAK, _HARD, _ACTIVE_RANGE, _COVERED, _REPEATED, _GRATING, _BLOCKS = 14.0, 0.006, 12.0, 0.25, 0.3, 200.0, 5.0
_LOWEST = 0.15
# ITU-R BT.601 luma in 8-bit codes: lossy files hold colour differences at half size, enlarged by 2 on
# reading, and these weights cancel them.
_LUMA = 255 * np.array([0.299, 0.587, 0.114], dtype=np.float32)


@dataclass(frozen=True)
class Trace:
    """A periodic trace: `along` is "lines" (down the picture) or "samples" (along a line).

    `cycles` is its frequency per line or sample, `strength` its height over the median around it.
    """

    along: str
    cycles: float
    strength: float

    @property
    def scales(self) -> tuple[float, float]:
        """The two enlargements, larger first, that leave this period: 1/f and 1/(1 - f)."""
        return 1 / self.cycles, 1 / (1 - self.cycles)


def traces_of_rescaling(values: NDArray[np.float32]) -> tuple[Trace, ...]:
    """Return traces of smooth enlargement in code values (lines, samples, 3).

    Scales of about 1.3 to 6 are seen, but for 8/5 and 8/3, which look like compression blocks. Only
    the middle of the picture is looked at. Flat, tiny (under 128 along, 64 across) and hard-edged
    pictures give none. The absence of a trace proves nothing.
    """
    found = []
    for along, axis in (("lines", 0), ("samples", 1)):
        profile = _middle(values, axis)
        trace = _trace(profile, along) if profile is not None else None
        found += [trace] if trace else []
    return tuple(found)


def rescaling_note(values: NDArray[np.float32]) -> str | None:
    """Return one sentence when the picture looks enlarged, else None."""
    traces = traces_of_rescaling(values)
    if not traces:
        return None
    where = " and ".join(
        f"in {t.along} (about {' or '.join(f'{s:.2f}' for s in sorted(set(t.scales)))} times)" for t in traces
    )
    return f"The picture looks rescaled by a smooth filter, {where}: if you can, use the source's own size."


def _middle(values: NDArray[np.float32], axis: int) -> NDArray[np.float32] | None:
    """Luma 0..255 of the middle of the picture, the examined axis last; None when it is too small."""
    size = [min(n, _LONGEST if a == axis else _WIDEST) for a, n in enumerate(values.shape[:2])]
    if size[axis] < _SHORTEST or size[1 - axis] < _NARROWEST:
        return None
    top, left = ((n - s) // 2 for n, s in zip(values.shape[:2], size, strict=True))
    part = values[top : top + size[0], left : left + size[1]] @ _LUMA
    return np.ascontiguousarray(part.T if axis == 0 else part)


def _trace(grey: NDArray[np.float32], along: str) -> Trace | None:
    """Look for the trace along the last axis of `grey` (n, length)."""
    steps = np.abs(np.diff(grey, axis=1))
    if (steps.max(axis=0) == 0).mean() > _REPEATED or not _smooth(grey, steps):
        return None
    best = (0.0, 0.0)
    for order in (1, 2, 3):
        size = steps if order == 1 else np.abs(np.diff(grey, n=order, axis=1))
        best = max(best, _peak(np.minimum(size, _HELD).mean(axis=0)))
    strength, cycles = best
    if strength < _PEAK or _has_grating(grey, cycles):
        return None
    return Trace(along, cycles, strength)


def _smooth(grey: NDArray[np.float32], steps: NDArray[np.float32]) -> bool:
    """Tell whether edges are spread widely over the picture and practically none is one sample hard.

    Windows of five samples are judged by their second difference in the middle over their range:
    1 for a native step and 2 for a native single line, against about 0.7 and 1.3 at most after an
    enlargement by 1.5.
    """
    n = grey.shape[1]
    windows = [grey[:, k : n - 4 + k] for k in range(5)]
    extent = np.maximum.reduce(windows) - np.minimum.reduce(windows)
    active = extent > _ACTIVE_RANGE
    if min(active.any(axis=0).mean(), active.any(axis=1).mean()) < _COVERED:
        return False
    travel = steps[:, :-3] + steps[:, 1:-2] + steps[:, 2:-1] + steps[:, 3:]
    bend = np.abs(windows[1] - 2 * windows[2] + windows[3])
    hard = active & (bend > np.where(travel <= 1.15 * extent, 0.82, 1.55) * extent)
    return bool(hard.sum() <= _HARD * active.sum())


def _peak(size: NDArray[np.float32]) -> tuple[float, float]:
    """Return (height over the median around it, frequency) of the highest peak above `_LOWEST`."""
    level = np.log(size + 0.05)
    level -= np.convolve(np.pad(level, 8, mode="edge"), np.full(17, 1 / 17), "valid")
    spectrum = np.abs(np.fft.rfft(level * np.hanning(level.size)))
    # Against its own neighbourhood, since smooth pictures have far more at low frequencies.
    reach = level.size // 32
    around = np.lib.stride_tricks.sliding_window_view(np.pad(spectrum, reach, mode="reflect"), 2 * reach + 1)
    # The floor keeps a spectrum that is empty but for rounding from dividing by nothing.
    spectrum = spectrum / np.maximum(np.median(around, axis=1), 1e-3)
    first = int(np.ceil(_LOWEST * level.size))
    at = first + int(np.argmax(spectrum[first:]))
    if _left_by_blocks(spectrum, at, level.size):
        return 0.0, 0.0
    return float(spectrum[at]), at / level.size


def _left_by_blocks(spectrum: NDArray[np.float64], at: int, length: int) -> bool:
    """Tell whether a peak may come from the blocks of 8 or 4 of earlier lossy compression.

    Those leave peaks at several eighths of a cycle; an enlargement by 2 leaves 4/8 alone, by 4 or
    4/3 only 2/8 and 4/8. At 1/8 and 3/8 (8/3, 8/5) the two cannot be told apart.
    """
    eighth = round(8 * at / length)
    if abs(at - eighth * length / 8) > 2:
        return False
    rivals = {2: (1, 3), 4: (1, 2, 3)}.get(eighth)
    if rivals is None:
        return True
    centres = [round(k * length / 8) for k in rivals]
    return bool(spectrum[at] < _BLOCKS * max(spectrum[c - 2 : c + 3].max() for c in centres))


def _has_grating(grey: NDArray[np.float32], cycles: float) -> bool:
    """Tell whether a regular grating explains the period: a spectral line of the picture itself."""
    n = grey.shape[1]
    centred = (grey - grey.mean(axis=1, keepdims=True)) * np.hanning(n).astype(np.float32)
    power = (np.abs(np.fft.rfft(centred, axis=1)) ** 2).mean(axis=0)
    for part in (cycles, cycles / 2, cycles / 4, (1 - cycles) / 2):
        at = round(part * n)
        ring = np.r_[power[max(at - 12, 1) : max(at - 3, 1)], power[at + 4 : at + 13]]
        if power[max(at - 2, 0) : at + 3].max() > _GRATING * (np.median(ring) + 1e-9):
            return True
    return False
