"""Line doubling from the output alone, for captures whose source is not known.

Without the source nobody can tell how thick an outline was meant to be: one that needs two scan
lines reads as doubled here. Outlines as thick as the ratio, or thinner, are judged rightly.
"""

from __future__ import annotations

import numpy as np

from scalesim.errors import NotMeasurable, ShapeError
from scalesim.metrics.outlines.strips import Array

BLUR_SAMPLES = 7
LEAST_STRENGTH = 2.5 / 255
LEAST_LENGTH = 0.25


def line_doubling_alone(landed_luma: Array) -> float:
    """Return how far outlines are doubled in a progressive picture (or one field); 0..1, lower is better.

    Parameters:  landed_luma : (lines, samples) luma in code values; not a woven interlaced frame
    Raises:      NotMeasurable when outlines together are shorter than a quarter of the width;
                 ShapeError for another shape

    After a blur of 7 samples along the line only, every line y_k that is a local extremum down the
    picture (q = +1 a maximum, -1 a minimum; on a tie the upper) is taken for an outline, and each
    neighbour's residual over its own outer line for what the outline left there:

        a = max(0, q (y_{k-1} - y_{k-2}))    b = max(0, q (y_{k+1} - y_{k+2}))
        m = max(a, b)    r = min(a, b)    c = q (y_k - the neighbour on the side of r)
        s = q min(y_k - y_{k-2}, y_k - y_{k+2})
        S = sum (s - T) 2 (min(m, c) + r) / (m + c + 2 r) / sum (s - T)
            over s > T = max(2.5/255, 6 sigma / sqrt 7), each fraction at most 1

    m + c + 2 r is the outline's whole contrast and m + r what lies beside its strongest line, so S is
    2 (1 - P) as with the source. The minimum in s keeps flat areas beside an edge from counting as
    outlines on one line. sigma is the noise, from the median absolute second difference along both
    axes. Definition of this project.
    """
    if landed_luma.ndim != 2:
        raise ShapeError(f"luma has {landed_luma.ndim} axes; it must have 2: (lines, samples)")
    if landed_luma.shape[0] < 5 or landed_luma.shape[1] < BLUR_SAMPLES:
        raise NotMeasurable(
            f"the picture is too small: {landed_luma.shape[0]} lines of {landed_luma.shape[1]} samples, "
            f"at least 5 of {BLUR_SAMPLES} are needed"
        )
    luma = np.asarray(landed_luma, dtype=np.float32)
    limit = max(LEAST_STRENGTH, 6 * _noise(luma) / BLUR_SAMPLES**0.5)
    blurred = _blurred(luma)
    light, dark = _extrema(blurred, limit), _extrema(-blurred, limit)
    weight = np.concatenate((light[0], dark[0]))
    if len(weight) < LEAST_LENGTH * luma.shape[1]:
        raise NotMeasurable(
            f"the picture has too few thin horizontal outlines: {len(weight) / luma.shape[1]:.2f} picture "
            f"widths in all, at least {LEAST_LENGTH} are needed"
        )
    return float(np.average(np.concatenate((light[1], dark[1])), weights=weight))


def _extrema(y: Array, limit: float) -> tuple[Array, Array]:
    """Return (strength above the limit, score) of every local maximum down the picture."""
    here = y[2:-2]
    strength = here - np.maximum(y[:-4], y[4:])
    found = np.flatnonzero((here > y[1:-3]) & (here >= y[3:-1]) & (strength > limit))
    flat, width = y.ravel(), y.shape[1]
    outer_above, above, peak, below, outer_below = (flat[found + line * width] for line in range(5))
    rest_above, rest_below = np.maximum(0, above - outer_above), np.maximum(0, below - outer_below)
    partner, rest = np.maximum(rest_above, rest_below), np.minimum(rest_above, rest_below)
    contrast = peak - np.where(rest_above > rest_below, below, above)
    beside = np.minimum(partner, contrast) + rest
    whole = np.maximum(partner + contrast + 2 * rest, 1e-12)
    return strength.ravel()[found] - limit, np.minimum(1, 2 * beside / whole)


def _blurred(luma: Array) -> Array:
    """Return the mean of 7 samples along the line; 6 fewer samples."""
    total = luma[:, : 1 - BLUR_SAMPLES].copy()
    for shift in range(1, BLUR_SAMPLES):
        total += luma[:, shift : luma.shape[1] - BLUR_SAMPLES + 1 + shift]
    total /= np.float32(BLUR_SAMPLES)
    return total


def _noise(luma: Array) -> float:
    """Return sigma by the median absolute second difference along both axes (squares of taps sum to 36)."""
    down = luma[:-2:2] - 2 * luma[1:-1:2] + luma[2::2]
    across = down[:, :-2] - 2 * down[:, 1:-1] + down[:, 2:]
    return float(1.4826 / 6 * np.median(np.abs(across)))
