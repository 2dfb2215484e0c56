"""Pictures made smaller, sampled at any place, and freed of slow changes of brightness."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def reduced(values: NDArray, factor: int) -> NDArray:
    """Return means over `factor` x `factor` pixels; what is left over at the ends is cut off."""
    if factor == 1:
        return values
    rows, columns = (size // factor * factor for size in values.shape[:2])
    cut = values[:rows, :columns]
    shape = (rows // factor, factor, columns // factor, factor, *values.shape[2:])
    return np.asarray(cut.reshape(shape).mean(axis=(1, 3), dtype=np.float32))


def sampled(values: NDArray, xy: NDArray, *, order: int = 1) -> NDArray[np.float32]:
    """Return a picture at (n, 2) places (across, down), (n,) or (n, 3) float32; NaN outside it."""
    from scipy import ndimage

    planes = values[..., None] if values.ndim == 2 else values
    at = np.asarray(xy)[:, ::-1].T
    inside = (at >= 0).all(axis=0) & (at[0] <= values.shape[0] - 1) & (at[1] <= values.shape[1] - 1)
    out = np.full((at.shape[1], planes.shape[2]), np.nan, dtype=np.float32)
    for k in range(planes.shape[2]):
        out[inside, k] = ndimage.map_coordinates(
            planes[..., k], at[:, inside], order=order, mode="nearest", output=np.float32
        )
    return out[:, 0] if values.ndim == 2 else out


def local_contrast(values: NDArray, reach: float) -> NDArray[np.float32]:
    """Return values with the local mean at 1/2 and the local deviation at 1/6, within 0..1; float32.

    Parameters:  reach : standard deviation of the Gaussian that is "local", in pixels
    """
    from scipy import ndimage

    mean = ndimage.gaussian_filter(values, reach)
    deviation = np.sqrt(np.maximum(ndimage.gaussian_filter(values**2, reach) - mean**2, 0))
    floor = 0.02 + 0.1 * float(deviation.max())
    return np.clip(0.5 + (values - mean) / (6 * (deviation + floor)), 0, 1).astype(np.float32)
