"""Difference maps: a contestant minus its ideal, in percent of white light, in blue, white and orange."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.core.encoding import code_to_light, luma
from scalesim.draw import diverging
from scalesim.jobs.predict.outcome import Outcome
from scalesim.metrics.fidelity.likeness import registered
from scalesim.result import Scale

LIMIT = 25.0
"""Percent of white at the ends of the scale; larger differences have the colour of the end."""


def difference(outcome: Outcome) -> NDArray:
    """Return contestant minus ideal in percent of white, (visible lines, visible samples) float32.

    Luminance of light V^2.4 with BT.709 weights; the ideal is moved by the residual vertical shift, as
    for SSIM.
    """
    pair = registered(outcome.evidence())
    test, ideal = (luma(code_to_light(values)) for values in (pair.test_colours, pair.reference_colours))
    return np.float32(100) * (test - ideal)


def steps_of(percent: NDArray) -> NDArray:
    """Return the number of the scale's colour for each value, (lines, samples) uint8."""
    return diverging.steps_of(percent, LIMIT)


def scale() -> Scale:
    """Return the scale with its words."""
    limit = f"{LIMIT:g}"
    return Scale(
        diverging.colours(),
        (f"\u2212{limit} % of white, darker", "0, equal", f"+{limit} %, lighter"),
        f"Scale of the difference maps: from {limit} percent of white darker than the ideal, blue, over "
        f"equal, white, to {limit} percent lighter, orange",
    )
