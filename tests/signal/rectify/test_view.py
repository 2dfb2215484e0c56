"""`View`, against OpenCV's camera."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from scalesim.errors import NotIdentifiable
from scalesim.signal.rectify.plane import agreeing, best_map, through, through_four
from scalesim.signal.rectify.view import fit_view, height_error
from tests.pinhole import Pinhole

GRID = np.stack(np.meshgrid(np.linspace(0, 1, 7), np.linspace(0, 1, 6)), -1).reshape(-1, 2)


@pytest.mark.parametrize("pitch, yaw, roll", [(0, 0, 0), (5, 8, 2), (-12, 4, 90), (3, -14, 178)])
def test_a_camera_of_opencv_is_a_view(pitch: float, yaw: float, roll: float) -> None:
    """cv2.projectPoints with k1: every pixel, the way back, and the angle to the sensor (by SciPy)."""
    camera = Pinhole(pitch, yaw, roll)
    view = fit_view(GRID, camera.to_photo(GRID), (camera.rows, camera.columns))
    inside = np.random.RandomState(1).rand(50, 2)
    assert np.abs(view.to_photo(inside) - camera.to_photo(inside)).max() < 1e-3
    assert np.abs(view.to_picture(camera.to_photo(inside)) - inside).max() < 1e-6
    assert view.barrel[0] == pytest.approx(camera.lens * (view.radius / camera.focal) ** 2, rel=1e-3)
    normal = Rotation.from_matrix(camera.pose[0]).apply([0, 0, 1])
    assert view.tilt_deg(4 / 3, camera.focal) == pytest.approx(np.degrees(np.arccos(normal[2])), abs=0.01)
    assert view.residual is not None and view.residual < 1e-3
    flat = fit_view(GRID, camera.to_photo(GRID), (camera.rows, camera.columns), terms=0)
    assert flat.residual is not None and flat.residual > 0.5  # without its lens it does not fit


def test_a_few_wrong_places_do_not_move_a_view() -> None:
    camera = Pinhole()
    found = camera.to_photo(GRID)
    found[[3, 17]] += (40, -25)
    view = fit_view(GRID, found, (camera.rows, camera.columns))
    assert np.abs(view.to_photo(GRID) - camera.to_photo(GRID)).max() < 0.3


def test_the_error_of_a_height_is_what_draws_of_noise_make_of_it() -> None:
    """Places of the inner two thirds, a pixel off at random: the height's deviation from OpenCV's camera."""
    camera, random = Pinhole(lens=0.0), np.random.RandomState(3)
    size, inner = (camera.rows, camera.columns), 0.17 + 0.66 * GRID
    ends = np.array([[0.0, 0.0], [0.0, 1.0], [1.0, 0.0], [1.0, 1.0]])
    off, said = [], []
    for _ in range(8):
        found = camera.to_photo(inner) + random.standard_normal(inner.shape)
        apart = fit_view(inner, found, size, terms=0).to_photo(ends) - camera.to_photo(ends)
        off += [apart[1, 1] - apart[0, 1], apart[3, 1] - apart[2, 1]]
        said.append(height_error(inner, found, size, terms=0) / 2)
    rms = float(np.sqrt(np.mean(np.square(off))))
    assert 0.6 * rms < np.mean(said) < 2 * rms  # the larger of both sides is told
    exact = camera.to_photo(inner)
    assert height_error(inner, exact, size) < 0.05
    assert height_error(np.repeat(inner[:1], 40, axis=0), exact[:40], size) == size[0]  # all in one block


def test_pixels_from_line_to_line_and_a_smaller_photo() -> None:
    straight = Pinhole(0, 0, 0, fill=0.8, lens=0.0)
    view = fit_view(GRID, straight.to_photo(GRID), (900, 1200))
    assert view.lines_apart(240) == pytest.approx(0.8 * 900 / 240)
    half = replace(straight, rows=450, columns=600)
    assert np.abs(view.reduced(2).to_photo(GRID) - half.to_photo(GRID)).max() < 1e-6


def test_too_few_places_and_places_on_a_line() -> None:
    with pytest.raises(NotIdentifiable, match="3 places were found; it takes at least 4"):
        fit_view(GRID[:3], GRID[:3], (10, 10))
    line = np.column_stack([np.linspace(0, 1, 9), np.linspace(0, 1, 9)])
    with pytest.raises(NotIdentifiable, match="lie on one line"):
        fit_view(line, 100 * line, (100, 100))


def test_maps_of_the_plane() -> None:
    """Against the map they were made by; pairs that do not agree are found out."""
    random = np.random.RandomState(3)
    matrix = np.array([[900, 40, 100], [-30, 700, 60], [0.1, -0.05, 1.0]])
    points = random.rand(60, 2)
    image = through(matrix, points)
    assert through_four(points[:4], image[:4]) == pytest.approx(matrix, rel=1e-6)
    assert best_map(points, image) == pytest.approx(matrix, rel=1e-6)
    image[:20] += random.uniform(20, 200, (20, 2))
    assert agreeing(points, image, 1.0).tolist() == [False] * 20 + [True] * 40
