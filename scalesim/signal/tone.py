"""The tone curve between a source and its capture: ``capture = lift + gain * source ** gamma``.

Only flat areas tell it, since at an edge the scaling mixes values. The source is drawn on the capture's
lines and samples, cut into small blocks, and the blocks flat in both pictures give pairs of means. The
curve is fitted to them by Gauss-Newton with Cauchy weights, so that blocks that show something else (an
overlay) do not bend it. Blocks at the ends of the capture's range are left out: they may be clipped.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import NotIdentifiable, ShapeError
from scalesim.signal.align import reduced

BLOCK = (5, 8)
"""Lines and samples of a block."""
_FLAT = 2.5 / 255
_CLIPPED = 1.5 / 255
_LEAST_PAIRS = 12
_LEAST_RANGE = 0.15
_ROUNDS = 60
_TINY = 1e-6


@dataclass(frozen=True)
class Tone:
    """A tone curve, with the standard errors of its three numbers; values are codes 0..1."""

    lift: float = 0.0
    gain: float = 1.0
    gamma: float = 1.0
    lift_error: float = 0.0
    gain_error: float = 0.0
    gamma_error: float = 0.0

    def __call__(self, source: NDArray) -> NDArray:
        """Return the capture's codes for the source's; codes below 0 count as 0."""
        return self.lift + self.gain * np.maximum(source, 0.0) ** self.gamma

    def inverse(self, capture: NDArray) -> NDArray:
        """Return the source's codes for the capture's; what lies below the lift becomes 0."""
        return np.maximum((np.asarray(capture) - self.lift) / self.gain, 0.0) ** (1 / self.gamma)


def flat_pairs(drawn: NDArray, capture: NDArray) -> tuple[NDArray, NDArray]:
    """Return (source means, capture means) of the blocks that are flat in both pictures.

    Parameters:
        drawn : (lines, samples) source luma drawn on the capture (`Registration.source_on_capture`)
        capture : (lines, samples) luma; NaN where it shows nothing of the source
    Returns:  two (pairs,) float64 arrays
    Raises: ShapeError when the shapes differ
    """
    if drawn.shape != capture.shape:
        raise ShapeError(f"tone: source drawn on the capture is {drawn.shape}; it must be {capture.shape}")
    means = [reduced(v.astype(np.float64), *BLOCK) for v in (drawn, capture)]
    spread = np.sqrt(np.maximum(reduced(drawn.astype(np.float64) ** 2, *BLOCK) - means[0] ** 2, 0.0))
    # the blocks beside a flat one must resemble it too, for a filter reaches over the border
    near = np.pad(means[0], 1, mode="edge")
    around = [near[1:-1, :-2], near[1:-1, 2:], near[:-2, 1:-1], near[2:, 1:-1]]
    step = np.max([np.abs(a - means[0]) for a in around], axis=0)
    flat = (spread < _FLAT) & (step < 2 * _FLAT) & np.isfinite(means[1])
    return means[0][flat], means[1][flat]


def fit_tone(source: NDArray, capture: NDArray) -> Tone:
    """Return the tone curve through pairs of code values.

    Parameters:  source, capture : (pairs,) 0..1
    Raises: NotIdentifiable for fewer than 12 pairs off the ends of the range, or pairs that span less
        than 0.15 of the source's range
    """
    own = (capture > _CLIPPED) & (capture < 1 - _CLIPPED) & (source >= 0)
    x, y = (np.asarray(v, np.float64)[own] for v in (source, capture))
    if len(x) < _LEAST_PAIRS:
        raise NotIdentifiable(
            f"tone: {len(x)} flat areas within the range; at least {_LEAST_PAIRS} are needed: "
            "capture a picture with large flat areas, or a chart with a grey ramp"
        )
    low, high = np.percentile(x, [2, 98])
    if high - low < _LEAST_RANGE:
        raise NotIdentifiable(
            f"tone: flat areas span {high - low:.2f} of the range; at least {_LEAST_RANGE:g} is needed: "
            "capture a picture with dark and light areas"
        )
    return _fitted(x, y, _balanced(x))


def _balanced(x: NDArray) -> NDArray:
    """Return weights that let each twentieth of the range count alike, however many pairs it has."""
    place = np.clip((x * 20).astype(int), 0, 19)
    weight: NDArray = 1.0 / np.sqrt(np.bincount(place, minlength=20)[place])
    return weight / weight.mean()


def _fitted(x: NDArray, y: NDArray, balance: NDArray) -> Tone:
    answer = np.array([0.0, 1.0, 1.0])
    answer[1] = max(0.1, float(np.polyfit(x, y, 1)[0]))
    base = np.maximum(x, _TINY)
    weight = balance
    for _ in range(_ROUNDS):
        power = base ** answer[2]
        slopes = np.stack([np.ones_like(x), power, answer[1] * power * np.log(base)], axis=1)
        missing = y - answer[0] - answer[1] * power
        spread = 1.4826 * float(np.median(np.abs(missing))) + 0.2 / 255
        weight = balance / (1 + np.square(missing / (2.4 * spread)))
        leaning = slopes * weight[:, None]
        normal = leaning.T @ slopes
        step = np.linalg.lstsq(normal, leaning.T @ missing, rcond=None)[0]
        answer = answer + step * min(1.0, 0.5 / max(float(np.max(np.abs(step))), 1e-12))
        answer[1:] = np.maximum(answer[1:], 0.05)
        if float(np.max(np.abs(step))) < 1e-7:
            break
    inverse = np.linalg.pinv(normal)
    pulls = leaning * missing[:, None]
    errors = np.sqrt(np.diag(inverse @ (pulls.T @ pulls) @ inverse))
    return Tone(*(float(v) for v in answer), *(float(e) for e in errors))
