"""`resample` against Pillow's resize, along lines and along samples.

Source: Pillow 13.0.0 from PyPI, ``Image.resize`` on mode "F" (float32): BILINEAR, BICUBIC (Keys,
a = -1/2) and LANCZOS (3 lobes), each widened by the ratio when it reduces. How got: run here on the
same numbers. At the border Pillow cuts the kernel off and normalises what is left, while ours
replicates the outermost line, so only the lines whose kernel lies inside the picture are compared.
Enlarging with ``linear`` is also checked to the very border against scipy.ndimage (SciPy 1.17.1) and
OpenCV 5.0.0, which replicate.
"""

from __future__ import annotations

from math import ceil

import cv2
import numpy as np
import pytest
from external.chains import Array, largest_difference, noise, through
from PIL import Image
from scipy import ndimage

FILTERS = {
    "linear": (Image.Resampling.BILINEAR, 1),
    "cubic": (Image.Resampling.BICUBIC, 2),
    "lanczos3": (Image.Resampling.LANCZOS, 3),
}
REDUCING = [(720, 240), (1080, 240), (720, 480), (1080, 480)]
ENLARGING = [(240, 480), (480, 720)]

TOLERANCE = 2e-6
"""Pillow stores the result in float32; Lanczos overshoots 0..1, hence more than half a unit there."""


def by_pillow(grey: Array, lines: int, samples: int, how: Image.Resampling) -> Array:
    image = Image.fromarray(grey.astype(np.float32))
    return np.asarray(image.resize((samples, lines), how))


def difference(kernel: str, pillow: str, size_in: int, size_out: int, *, along: str, more: str = "") -> float:
    """Return max |ours - Pillow's| over the lines (or samples) whose kernel lies inside the picture."""
    how, half_width = FILTERS[pillow]
    grey = noise(size_in, 16)
    ours = grey if along == "lines" else grey.T
    theirs = by_pillow(grey, size_out, 16, how) if along == "lines" else by_pillow(grey.T, 16, size_out, how)
    ours = through(f"resample {along}={size_out} kernel={kernel} {more}", np.ascontiguousarray(ours))
    border = ceil(half_width * max(1.0, size_out / size_in)) + 1
    inner = (slice(border, -border),) if along == "lines" else (slice(None), slice(border, -border))
    return largest_difference(ours[inner], theirs[inner])


@pytest.mark.parametrize("along", ["lines", "samples"])
@pytest.mark.parametrize("kernel", list(FILTERS))
@pytest.mark.parametrize(("size_in", "size_out"), REDUCING + ENLARGING)
def test_kernel(kernel: str, size_in: int, size_out: int, along: str) -> None:
    """Pillow resize, reducing and enlarging."""
    assert difference(kernel, kernel, size_in, size_out, along=along) < TOLERANCE


@pytest.mark.parametrize("kernel", list(FILTERS))
def test_both_axes_at_once(kernel: str) -> None:
    """Pillow resize of both: a raster of 1280x720 becomes 640x240."""
    how, half_width = FILTERS[kernel]
    grey = noise(720, 1280)
    ours = through(f"resample lines=240 samples=640 kernel={kernel}", grey)
    theirs = by_pillow(grey, 240, 640, how)
    inner = slice(half_width + 1, -half_width - 1)
    assert largest_difference(ours[inner, inner], theirs[inner, inner]) < TOLERANCE


@pytest.mark.parametrize(
    ("kernel", "pillow", "more"),
    [
        ("cubic", "linear", ""),
        ("linear", "cubic", ""),
        ("lanczos2", "lanczos3", ""),
        ("cubic", "cubic", "antialias=off"),
        ("lanczos3", "lanczos3", "phase=1/16"),
    ],
)
@pytest.mark.parametrize(("size_in", "size_out"), REDUCING)
def test_another_kernel_is_caught(kernel: str, pillow: str, more: str, size_in: int, size_out: int) -> None:
    """Guard: another kernel, an unwidened one or a sixteenth of a line misses by a thousand tolerances."""
    found = difference(kernel, pillow, size_in, size_out, along="lines", more=more)
    assert found > 1000 * TOLERANCE


def test_border_is_where_the_two_differ() -> None:
    """Pillow normalises a kernel cut off at the border, ours replicates: the first line differs."""
    grey = noise(720, 16)
    ours = through("resample lines=240 kernel=linear", grey)
    theirs = by_pillow(grey, 240, 16, Image.Resampling.BILINEAR)
    assert largest_difference(ours[:1], theirs[:1]) > 0.01
    assert largest_difference(ours[1:-1], theirs[1:-1]) < TOLERANCE


@pytest.mark.parametrize(("size_in", "size_out"), ENLARGING)
def test_linear_enlarging_to_the_border(size_in: int, size_out: int) -> None:
    """scipy.ndimage.zoom (order 1, grid_mode, nearest) and cv2 INTER_LINEAR, which replicate as ours does."""
    grey = noise(size_in, 16)
    ours = through(f"resample lines={size_out} kernel=linear", grey)
    zoomed = ndimage.zoom(grey, (size_out / size_in, 1.0), order=1, mode="nearest", grid_mode=True)
    assert largest_difference(ours, zoomed) < 1e-12
    blended = cv2.resize(grey.astype(np.float32), (16, size_out), interpolation=cv2.INTER_LINEAR)
    assert largest_difference(ours, np.asarray(blended)) < 2e-5


def test_cubic_is_the_one_of_a_minus_one_half() -> None:
    """cv2 INTER_CUBIC has a = -3/4: the check on Pillow's cubic can tell the two apart."""
    grey = noise(240, 16)
    other = np.asarray(cv2.resize(grey.astype(np.float32), (16, 480), interpolation=cv2.INTER_CUBIC))
    ours = through("resample lines=480 kernel=cubic", grey)
    assert largest_difference(ours[4:-4], other[4:-4]) > 0.01
