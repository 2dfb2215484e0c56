"""Colour difference to the ideal: CIEDE2000.

Code values become light as the display makes it (ITU-R BT.1886 with black at 0, V^2.4), XYZ by the
primaries and white of ITU-R BT.709-6 (item 1.3 and 1.4; white D65 at x 0.3127, y 0.3290), and
CIELAB (CIE 15) against that white, so that every grey has a* = b* = 0. The difference of two colours is
that of G. Sharma, W. Wu, E. N. Dalal, "The CIEDE2000 color-difference formula", Color Research and
Application 30(1), 2005, with k_L = k_C = k_H = 1, computed by scikit-image.

About 1 is just seen on large patches side by side; the formula knows nothing of fine detail, so on
a picture it says how far colours are off, not how visible that is.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.core.encoding import code_to_light
from scalesim.metrics._base import Evidence, metric
from scalesim.metrics.fidelity.likeness import registered
from scalesim.metrics.key import Key

MOST_PLACES = 50000
"""Places compared: the formula takes about half a microsecond for each."""

_PRIMARIES = ((0.640, 0.330), (0.300, 0.600), (0.150, 0.060))
_WHITE = (0.3127, 0.3290)


@metric(
    Key(
        "delta_e_2000",
        "ΔE00",
        "lower",
        "colour difference (ΔE2000)",
        reading="mean CIEDE2000 to an ideal scaling. Knows nothing of flicker, so never judge by it alone",
        family="fidelity",
        digits=2,
    )
)
def delta_e_2000(evidence: Evidence) -> tuple[float]:
    """Mean CIEDE2000 between landed and ideal (moved by the residual shift), visible window.

    Every line is looked at, but of its samples only every n-th, n odd, so that at most 50000 places
    are compared (every 7th of 1280 on 240 lines): the same places for every chain that ends on one
    raster.
    """
    pair = registered(evidence)
    every = sample_step(*pair.test.shape)
    grid = np.s_[:, every // 2 :: every]
    return (float(np.mean(ciede2000(pair.reference_colours[grid], pair.test_colours[grid]))),)


def sample_step(lines: int, samples: int) -> int:
    """Return the least odd n for which every n-th sample of all lines is at most `MOST_PLACES` places.

    Odd, so that it does not keep step with art whose dots are two or four samples wide.
    """
    return max(1, -(-lines * samples // MOST_PLACES)) // 2 * 2 + 1


def ciede2000(reference: NDArray, test: NDArray) -> NDArray:
    """Return the difference of each place of two (..., 3) pictures of code values."""
    from skimage.color import deltaE_ciede2000

    difference: NDArray = deltaE_ciede2000(code_to_lab(reference), code_to_lab(test))
    return difference


def code_to_lab(values: NDArray) -> NDArray:
    """Return CIELAB of (..., 3) BT.709 code values shown by BT.1886: L* 0..100, white D65, float64.

    Values outside 0..1 are clipped: a display shows no less than black and no more than white.
    """
    light = code_to_light(np.clip(np.asarray(values, dtype=np.float64), 0.0, 1.0))
    matrix = light_to_xyz()
    relative = light @ (matrix / matrix.sum(axis=1, keepdims=True)).T
    low, slope = (6 / 29) ** 3, (29 / 6) ** 2 / 3
    x, y, z = np.moveaxis(np.where(relative > low, np.cbrt(relative), slope * relative + 4 / 29), -1, 0)
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


def light_to_xyz() -> NDArray:
    """Return the 3x3 matrix from BT.709 light to XYZ, white at Y = 1, from primaries and white."""
    columns = np.array([(x / y, 1.0, (1 - x - y) / y) for x, y in _PRIMARIES]).T
    white = np.array([_WHITE[0] / _WHITE[1], 1.0, (1 - sum(_WHITE)) / _WHITE[1]])
    matrix: NDArray = columns * np.linalg.solve(columns, white)
    return matrix
