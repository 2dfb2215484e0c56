"""The camera model itself: its geometry closes, its fields take turns, its lines have their pitch."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from glass_camera import Camera, corners, exposed, from_glass, photo, to_glass
from glass_tube import Tube


def test_pixels_and_places_of_the_glass_are_each_others_inverse() -> None:
    camera, tube = Camera(pixels=7, tilt=12, pan=-6, roll=3, barrel=0.05), Tube()
    x, y = from_glass(camera, tube, 0.45, 100.0)
    u, v = to_glass(camera, tube, np.array([x]), np.array([y]))
    assert (u[0], v[0]) == pytest.approx((0.45, 100.0), abs=1e-6)


def test_a_square_view_has_as_many_pixels_a_line_as_asked() -> None:
    _, v = to_glass(Camera(pixels=7), Tube(), np.array([320.0, 320.0]), np.array([200.0, 270.0]))
    assert (v[1] - v[0]) == pytest.approx(10.0)
    left_top, *_, left_bottom = corners(Camera(pixels=2), Tube())
    assert left_bottom[1] - left_top[1] == pytest.approx(480.0)


def test_two_fields_of_two_sets_lie_half_a_line_apart_and_of_one_set_do_not() -> None:
    camera = Camera(rows=96, columns=96, pixels=12, exposure=0.004, readout=0, defocus=0, look=(0.5, 0.1))
    drawn = 0.1 * 0.92 / 59.94  # when the beam has drawn what the camera looks at
    for scan, same in (("480i", False), ("240p", True)):
        tube = Tube(scan=scan, mask="none", bezel=False, picture=-1)
        first = exposed(replace(camera, start=drawn - 0.002), tube)[..., 1].mean(axis=1)
        second = exposed(replace(camera, start=drawn - 0.002 + 1 / 59.94), tube)[..., 1].mean(axis=1)
        assert (np.corrcoef(first, second)[0, 1] > 0.9) == same


def test_a_photo_is_codes_of_a_file() -> None:
    codes = photo(Camera(rows=96, columns=128), Tube())
    assert codes.shape == (96, 128, 3) and codes.dtype == np.uint8 and codes.std() > 5
