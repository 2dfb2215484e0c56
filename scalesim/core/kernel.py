"""Resampling kernels as functions of a distance in source lines (before any widening).

| name | half-width | source |
| --- | --- | --- |
| linear | 1 | triangle |
| cubic | 2 | R. Keys, "Cubic convolution interpolation", IEEE Trans. ASSP 29(6), 1981, a = -1/2 |
| lanczos2, lanczos3 | 2, 3 | C. Lanczos; sinc(x) sinc(x/n) |
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class Kernel:
    """A symmetric kernel: `weight(distance)` is zero beyond `half_width` source lines."""

    half_width: float
    weight: Callable[[NDArray], NDArray]


def _linear(x: NDArray) -> NDArray:
    return np.maximum(0.0, 1.0 - np.abs(x))


def _cubic(x: NDArray) -> NDArray:
    x = np.abs(x)
    near = (1.5 * x - 2.5) * x * x + 1.0
    far = ((-0.5 * x + 2.5) * x - 4.0) * x + 2.0
    return np.where(x <= 1.0, near, np.where(x < 2.0, far, 0.0))


def _lanczos(n: int) -> Callable[[NDArray], NDArray]:
    def weight(x: NDArray) -> NDArray:
        return np.where(np.abs(x) < n, np.sinc(x) * np.sinc(x / n), 0.0)

    return weight


KERNELS: dict[str, Kernel] = {
    "linear": Kernel(1.0, _linear),
    "cubic": Kernel(2.0, _cubic),
    "lanczos2": Kernel(2.0, _lanczos(2)),
    "lanczos3": Kernel(3.0, _lanczos(3)),
}
