"""`line-average`, `line-drop` and the two-line blend against OpenCV's resize, and the conventions of others.

Source: OpenCV (opencv-python-headless 5.0.0 from PyPI), ``cv2.resize``: INTER_AREA on float32 is the
exact area mean, also at 4.5:1; INTER_NEAREST takes floor(i r), the first line of each block;
INTER_NEAREST_EXACT takes floor((i + 1/2) r), the middle one, as Pillow's NEAREST (13.0.0) and
scikit-image's ``resize(order=0)`` (0.26.0) do; INTER_LINEAR joins the two lines nearest to the block's
middle and replicates at the border. How got: each library is run here on the same numbers. On uint8
OpenCV rounds, so float32 is used.
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from external.chains import Array, chosen_lines, largest_difference, noise, through

RATIOS = [(1080, 240), (1080, 480), (720, 240), (720, 480), (480, 240)]
MIDDLE_RATIOS = [(1080, 240), (720, 240), (480, 240), (720, 480)]

TOLERANCE = 2e-5
"""OpenCV's area and linear weights are float32."""


def resized(grey: Array, lines: int, how: int) -> Array:
    """Return `grey` at another height by cv2; its sizes are (width, height)."""
    return np.asarray(cv2.resize(grey.astype(np.float32), (grey.shape[1], lines), interpolation=how))


def picked_by_opencv(lines_in: int, lines_out: int, how: int) -> list[int]:
    return [int(v) for v in resized(numbered(lines_in), lines_out, how)[:, 0]]


def picked_by_pillow(lines_in: int, lines_out: int) -> list[int]:
    from PIL import Image

    image = Image.fromarray(numbered(lines_in)).resize((8, lines_out), Image.Resampling.NEAREST)
    return [int(v) for v in np.asarray(image)[:, 0]]


def picked_by_scikit_image(lines_in: int, lines_out: int) -> list[int]:
    from skimage.transform import resize

    image = numbered(lines_in).astype(np.float64)
    picked = resize(image, (lines_out, 8), order=0, anti_aliasing=False, preserve_range=True)
    return [round(v) for v in picked[:, 0]]


def numbered(lines: int) -> Array:
    """Return a picture each of whose lines holds its own number."""
    return np.repeat(np.arange(lines, dtype=np.float32)[:, None], 8, axis=1)


@pytest.mark.parametrize(("lines_in", "lines_out"), RATIOS)
def test_line_average_is_the_area_mean(lines_in: int, lines_out: int) -> None:
    """cv2 INTER_AREA on float32, whole and broken ratios."""
    grey = noise(lines_in, 32)
    theirs = resized(grey, lines_out, cv2.INTER_AREA)
    assert largest_difference(through(f"line-average lines={lines_out}", grey), theirs) < TOLERANCE


@pytest.mark.parametrize(
    "wrong",
    [
        "line-average lines=240 phase=1/8",
        "line-average lines=240 step=4",
        "line-average lines=240 encoding=light",
        "line-drop lines=240 phase=2",
        "resample lines=240",
    ],
)
def test_another_operator_is_not_the_area_mean(wrong: str) -> None:
    """Guard of the check above: the wrong operators miss it by a thousand tolerances."""
    grey = noise(1080, 32)
    theirs = resized(grey, 240, cv2.INTER_AREA)
    assert largest_difference(through(wrong, grey), theirs) > 1000 * TOLERANCE


@pytest.mark.parametrize(("lines_in", "lines_out"), RATIOS)
def test_line_drop_keeps_the_first_line_of_each_block(lines_in: int, lines_out: int) -> None:
    """cv2 INTER_NEAREST is phase 0."""
    ours = chosen_lines(f"line-drop lines={lines_out}", lines_in)
    assert ours == picked_by_opencv(lines_in, lines_out, cv2.INTER_NEAREST)


@pytest.mark.parametrize(("lines_in", "lines_out"), MIDDLE_RATIOS)
def test_line_drop_half_a_step_down_keeps_the_middle_line(lines_in: int, lines_out: int) -> None:
    """cv2 INTER_NEAREST_EXACT, Pillow NEAREST and scikit-image order=0 are phase = step / 2."""
    ours = chosen_lines(f"line-drop lines={lines_out} phase={lines_in}/{2 * lines_out}", lines_in)
    assert ours == picked_by_opencv(lines_in, lines_out, cv2.INTER_NEAREST_EXACT)
    assert ours == picked_by_pillow(lines_in, lines_out)
    assert ours == picked_by_scikit_image(lines_in, lines_out)


def test_first_and_middle_line_are_told_apart() -> None:
    """Guard of the two checks above: at every ratio the conventions pick other lines."""
    for lines_in, lines_out in MIDDLE_RATIOS:
        first = chosen_lines(f"line-drop lines={lines_out}", lines_in)
        assert first != picked_by_opencv(lines_in, lines_out, cv2.INTER_NEAREST_EXACT)
    assert chosen_lines("line-drop lines=240", 1080)[:4] == [0, 4, 9, 13]
    assert chosen_lines("line-drop lines=240 phase=9/4", 1080)[:4] == [2, 6, 11, 15]


@pytest.mark.parametrize(("lines_in", "lines_out"), [*RATIOS, (240, 480), (480, 720)])
def test_two_line_blend(lines_in: int, lines_out: int) -> None:
    """cv2 INTER_LINEAR never widens its kernel: ``kernel=linear antialias=off``, border included."""
    grey = noise(lines_in, 32)
    ours = through(f"resample lines={lines_out} kernel=linear antialias=off", grey)
    assert largest_difference(ours, resized(grey, lines_out, cv2.INTER_LINEAR)) < TOLERANCE


@pytest.mark.parametrize(("samples_in", "samples_out"), [(1280, 720), (1920, 640), (720, 1280)])
def test_two_sample_blend(samples_in: int, samples_out: int) -> None:
    """The same along a line."""
    grey = noise(16, samples_in)
    ours = through(f"resample samples={samples_out} kernel=linear antialias=off", grey)
    theirs = cv2.resize(grey.astype(np.float32), (samples_out, 16), interpolation=cv2.INTER_LINEAR)
    assert largest_difference(ours, np.asarray(theirs)) < TOLERANCE


def test_widened_kernel_is_not_the_two_line_blend() -> None:
    """Guard: with antialias the kernel spans the whole block and misses INTER_LINEAR by far."""
    grey = noise(1080, 32)
    ours = through("resample lines=240 kernel=linear", grey)
    assert largest_difference(ours, resized(grey, 240, cv2.INTER_LINEAR)) > 0.1
