"""Multi-scale structural similarity (MS-SSIM) to the ideal.

Z. Wang, E. P. Simoncelli, A. C. Bovik, "Multi-scale structural similarity for image quality
assessment", 37th Asilomar Conference on Signals, Systems and Computers, 2003. With the SSIM window of
2004 (11x11 Gaussian, sigma 1.5, K1 0.01, K2 0.03, only where it fits), at five scales j = 1..5,

    MS-SSIM = cs_1^w1 * cs_2^w2 * cs_3^w3 * cs_4^w4 * (l cs)_5^w5

where cs_j is the mean over the picture of the contrast and structure term, (l cs)_5 the mean SSIM
of the coarsest scale, and w = 0.0448, 0.2856, 0.3001, 0.2363, 0.1333.

The variant: each scale is the one before, averaged over blocks of 2x2 and decimated by two; an odd
last line or sample is paired with itself. The picture itself is scale 1: nothing is shrunk before.
A negative mean (contrast inverted), whose power is no real number, counts as 0.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import NotMeasurable
from scalesim.metrics._base import Evidence, metric
from scalesim.metrics.fidelity.likeness import registered
from scalesim.metrics.fidelity.windows import WINDOW, similarity_terms
from scalesim.metrics.key import LESS_MISSING, SHARE_TIE, Key

WEIGHTS = (0.0448, 0.2856, 0.3001, 0.2363, 0.1333)
LEAST_SIDE = WINDOW * 2 ** (len(WEIGHTS) - 1)
"""176: the window still fits the fifth scale."""


@metric(
    Key(
        "ms_ssim",
        "0…1",
        "higher",
        "likeness at five scales (MS-SSIM)",
        reading="as `ssim`, at five scales; knows nothing of flicker either",
        family="fidelity",
        digits=4,
        resolution=SHARE_TIE / 10,
        clear=LESS_MISSING,
    )
)
def ms_ssim(evidence: Evidence) -> tuple[float]:
    """MS-SSIM on BT.709 luma in the visible window, against the ideal moved by the residual shift.

    Data range 1. Raises NotMeasurable when a side is below 176.
    """
    pair = registered(evidence)
    return (multi_scale_similarity(pair.reference, pair.test),)


def multi_scale_similarity(reference: NDArray, test: NDArray) -> float:
    """Return the MS-SSIM of two (lines, samples) pictures of data range 1, 0..1.

    Raises: NotMeasurable when a side is shorter than `LEAST_SIDE`
    """
    if min(reference.shape) < LEAST_SIDE:
        raise NotMeasurable(
            f"the picture is {reference.shape[1]}x{reference.shape[0]}; "
            f"MS-SSIM's five scales need at least {LEAST_SIDE} lines and samples"
        )
    # float32 is half the time and, on pictures with detail, exact to 1e-6
    product, (a, b) = 1.0, (x.astype(np.float32, copy=False) for x in (reference, test))
    for weight in WEIGHTS[:-1]:
        product *= max(0.0, similarity_terms(a, b)[1]) ** weight
        a, b = halved(a), halved(b)
    return float(product * max(0.0, similarity_terms(a, b)[0]) ** WEIGHTS[-1])


def halved(values: NDArray) -> NDArray:
    """Return the means of blocks of 2x2, an odd last line or sample paired with itself."""
    lines, samples = values.shape
    values = np.pad(values, ((0, lines % 2), (0, samples % 2)), mode="edge")
    return (values[0::2, 0::2] + values[1::2, 0::2] + values[0::2, 1::2] + values[1::2, 1::2]) / 4
