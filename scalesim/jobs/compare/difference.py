"""Difference maps: a contestant minus its ideal, in percent of white light, in blue, white and orange."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.core.encoding import code_to_light, luma
from scalesim.jobs.predict.outcome import Outcome
from scalesim.metrics.fidelity.likeness import registered
from scalesim.result import Scale

LIMIT = 25.0
"""Percent of white at the ends of the scale; larger differences have the colour of the end."""

_DARKER, _MIDDLE, _LIGHTER = (0.00, 0.23, 0.52), (0.97, 0.97, 0.97), (0.76, 0.32, 0.00)
_STEPS = 255
"""An odd number, so that no difference has a colour of its own: the middle one."""


def palette() -> NDArray:
    """Return the scale's colours, (255, 3) uint8, from darker to lighter than the ideal.

    Lightness falls evenly to both sides, and the hues stay apart for every common colour vision.
    """
    share = np.linspace(-1, 1, _STEPS)[:, None]
    middle, ends = np.array(_MIDDLE), np.where(share < 0, np.array(_DARKER), np.array(_LIGHTER))
    return np.floor((middle + (ends - middle) * np.abs(share)) * 255 + 0.5).astype(np.uint8)


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
    return np.floor((np.clip(percent / LIMIT, -1, 1) + 1) / 2 * (_STEPS - 1) + 0.5).astype(np.uint8)


def scale() -> Scale:
    """Return the scale with its words."""
    limit = f"{LIMIT:g}"
    return Scale(
        colours(),
        (f"\u2212{limit} % of white, darker", "0, equal", f"+{limit} %, lighter"),
        f"Scale of the difference maps: from {limit} percent of white darker than the ideal, blue, over "
        f"equal, white, to {limit} percent lighter, orange",
    )


def colours() -> tuple[tuple[int, int, int], ...]:
    """Return the palette as plain numbers."""
    return tuple((int(r), int(g), int(b)) for r, g, b in palette())
