"""Photos of one set-up registered by what surrounds the picture: letters that OpenCV draws and moves."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from scalesim.signal.glass.motion import Motion, motion, outside

ROWS, COLUMNS, EDGE = 320, 400, 120


def _scene(letters: str, picture: int) -> np.ndarray:
    """A dark bezel with a few letters left of a bright picture of noise, light 0..1."""
    scene = np.full((ROWS, COLUMNS), 0.02, np.float32)
    scene[:, EDGE:] = cv2.GaussianBlur(np.random.RandomState(picture).rand(ROWS, COLUMNS - EDGE), (0, 0), 3)
    ink = np.zeros((ROWS, COLUMNS), np.uint8)
    for k, letter in enumerate(letters):
        cv2.putText(ink, letter, (15, 60 + 80 * k), cv2.FONT_HERSHEY_SIMPLEX, 1.2, 255, 3, cv2.LINE_AA)
    scene += 0.04 * ink.astype(np.float32) / 255
    return cv2.GaussianBlur(scene, (0, 0), 0.9)


def _noisy(light: np.ndarray, seed: int) -> np.ndarray:
    noise = np.random.RandomState(seed).standard_normal(light.shape)
    return np.maximum(light + 0.002 * noise, 0).astype(np.float32)


def _room() -> np.ndarray:
    room = np.zeros((ROWS, COLUMNS), bool)
    room[:, : EDGE - 12] = True
    return room


@pytest.mark.parametrize(("across", "down", "turn"), [(0.3, -0.7, 0.0), (-6.2, 9.4, 0.1), (11.5, 3.3, -0.3)])
def test_a_few_letters_tell_the_camera_s_motion_and_not_the_picture_s(
    across: float, down: float, turn: float
) -> None:
    matrix = cv2.getRotationMatrix2D((COLUMNS / 2, ROWS / 2), turn, 1.0)
    matrix[:, 2] += across, down
    moved = cv2.warpAffine(_scene("QK", 2), matrix, (COLUMNS, ROWS), flags=cv2.INTER_CUBIC, borderValue=0.02)
    found = motion(_noisy(_scene("QK", 1), 3), _noisy(moved, 4), _room())
    assert found is not None
    at = np.array([found.middle])
    assert found(at)[0] == pytest.approx((matrix @ [*found.middle, 1]).tolist(), abs=0.1)
    assert found.error < 0.1


def test_other_letters_or_none_are_refused() -> None:
    one = _noisy(_scene("QK", 1), 3)
    assert motion(one, _noisy(_scene("", 1), 4), _room()) is None
    assert motion(_noisy(_scene("", 1), 3), _noisy(_scene("", 1), 4), _room()) is None


def test_a_reduced_photo_s_motion_keeps_its_places() -> None:
    made = Motion(np.array([[1.01, -0.02], [0.02, 1.01]]), np.array([4.0, -6.0]), np.array([31.0, 55.0]), 0.2)
    large = np.array([[20.5, 80.5]])  # between four pixels, where two of a reduced photo do not matter
    small = (large + 0.5) / 2 - 0.5
    assert (made.reduced(2)(small) + 0.5) * 2 - 0.5 == pytest.approx(made(large), abs=1e-9)


def test_corners_of_a_photo_full_of_lines_are_no_bezel() -> None:
    used = np.ones((40, 20), bool)
    assert not outside(used, (6, 12), (240, 240)).any()
    used[:, :5] = False
    room = outside(used, (6, 12), (240, 240))
    assert room[:, :48].all() and not room[:, 60:].any()
