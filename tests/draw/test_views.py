"""Views cut alike: every dot is worked out by hand or by NumPy's own repetition."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from scalesim.draw.views import Zoom, cut, exact_step, fitted, zoom_for
from scalesim.figure import View


def dots(lines: int, samples: int, seed: int = 1) -> NDArray:
    return np.random.RandomState(seed).randint(0, 256, (lines, samples, 3)).astype(np.uint8)


def test_the_source_and_a_third_of_its_lines_at_one_scale() -> None:
    """Two dots to a source line, six to a scan line, three to a sample: whole blocks of equal dots."""
    source, chain = dots(36, 20), dots(12, 20, 2)
    views = (View("s", source), View("c", chain, (3.0, 0.0)))
    zoom = Zoom(2, 3.0)
    window = (6.0, 4.0, 12.0, 8.0)
    assert np.array_equal(cut(views[0], window, zoom), source[6:18, 4:12].repeat(2, 0).repeat(3, 1))
    assert np.array_equal(cut(views[1], window, zoom), chain[2:6, 4:12].repeat(6, 0).repeat(3, 1))


def test_a_dot_over_two_samples_is_their_mean_in_light() -> None:
    """1.5 samples to a dot: the first holds sample 0 and half of sample 1, in light of V to the 2.4."""
    picture = np.array([[[255] * 3, [0] * 3, [255] * 3]], np.uint8)
    shown = cut(View("p", picture), (0.0, 0.0, 1.0, 3.0), Zoom(1, 2 / 3))
    assert shown.shape == (1, 2, 3)
    assert set(shown.ravel()) == {int(255 * (1 / 1.5) ** (1 / 2.4) + 0.5)}


@pytest.mark.parametrize(
    ("scales", "step"),
    [
        ((1.0, 3.0), 1),  # 720 to 240
        ((1.0, 1.5, 3.0), 2),  # 720 to 480 and 240
        ((1.0, 4.5), 2),  # 1080 to 240
        ((1.0, 4.5, 2.25), 4),  # and to 480
        ((1.0, 1.875), 8),  # 1080 to 576
        ((1.0, 2.0), 1),  # 480 to 240
        ((1.0, 3.0 / 0.97), 1),  # shrunk to 97 %: nothing small enough is exact
    ],
)
def test_the_least_zoom_that_is_exact_for_all(scales: tuple[float, ...], step: int) -> None:
    views = [View("", dots(4, 4), (scale, 0.0)) for scale in scales]
    assert exact_step(views) == step
    zoom = Zoom(step, 1.0)
    assert all(zoom.exact(view) for view in views) == (step * scales[-1] % 1 == 0)


def test_the_largest_exact_zoom_in_the_room() -> None:
    """1080 to 240 in 500 dots for 60 lines: 8 dots a line would do, 6 is all the width has."""
    views = (View("s", dots(1080, 4)), View("c", dots(240, 4), (4.5, 0.0)))
    assert zoom_for(views, (0, 0, 60, 100), 0.75, (500, 600)).dots == 8
    assert zoom_for(views, (0, 0, 60, 100), 0.75, (500, 550)).dots == 6
    assert zoom_for(views, (0, 0, 600, 100), 0.75, (500, 600)).dots == 2  # never less than exact
    assert Zoom(6, 4.5).words(views[1]) == "27 dots to a scan line"


def test_lines_that_cannot_be_to_scale_are_all_as_tall_and_it_is_said() -> None:
    """240 lines of a picture shrunk to 97 %: 12.37 dots become 12, which is 3 % smaller."""
    chain = dots(240, 4)
    view = View("c", chain, (3 / 0.97, 0.0))
    zoom = Zoom(4, 4.0)
    shown = cut(view, (300.0, 0.0, 60.0, 4.0), zoom)
    runs = np.flatnonzero(np.any(np.diff(shown[:, 0].astype(int), axis=0), axis=1))
    assert set(np.diff(runs)) == {12}
    assert zoom.words(view) == "12 dots to a scan line, 3\u00a0% smaller than to scale"


@pytest.mark.parametrize("offset", [0.0, -1.0, 2.0])
def test_a_window_begins_where_the_scan_lines_do(offset: float) -> None:
    """Whole lines only at its upper and lower end, of a chain moved by any number of source lines."""
    views = (View("s", dots(720, 8)), View("c", dots(240, 8), (3.0, offset)))
    top, _, height, _ = fitted(views, (100, 0, 50, 8), Zoom(2, 2.0), (100, 16))
    assert (top - offset) % 3 == 0 and height == 48
    assert abs(top + height / 2 - 125) <= 3


def test_a_window_stays_on_the_picture() -> None:
    views = (View("s", dots(720, 1280)), View("c", dots(240, 1280), (3.0, 0.0)))
    assert fitted(views, (700, 1200, 40, 300), Zoom(2, 2.0), (120, 400)) == (660, 1080, 60, 200)
    assert fitted(views, (0, 0, 10, 10), Zoom(2, 2.0), (120, 400))[:2] == (0, 0)


def test_beyond_a_picture_it_is_black() -> None:
    shown = cut(View("c", np.full((4, 4, 3), 9, np.uint8), (1.0, 2.0)), (0.0, 0.0, 4.0, 4.0), Zoom(1, 1.0))
    assert shown[:2].max() == 0 and shown[2:].min() == 9


def test_a_capture_a_hair_off_its_lines_is_to_scale() -> None:
    """3.004 source lines a scan line are 6.008 dots: 0.1 % is nobody's concern, 3 % is."""
    zoom = Zoom(2, 2.0)
    assert zoom.words(View("c", dots(240, 4), (3.004, 0.0))) == "6 dots to a scan line"
    assert "smaller than to scale" in zoom.words(View("c", dots(240, 4), (3.1, 0.0)))
