"""The drawn frames of the demo and the shapes they are made of.

The areas are those of plane geometry (pi r^2, pi a b, w h); the interlaced frame is held to what weaving
means; nothing here compares a picture with itself as drawn before.
"""

from __future__ import annotations

import functools
from collections.abc import Callable

import numpy as np
import pytest
from few import few
from numpy.typing import NDArray

from scalesim.demo.comet_rally import frame as comet_rally
from scalesim.demo.deepvault_corridor import frame as deepvault_corridor
from scalesim.demo.kettle_crew import frame as kettle_crew
from scalesim.demo.marrow_fens import frame as marrow_fens
from scalesim.draw import painting, shapes, texture
from scalesim.draw.pen import Pen

WHITE = (1.0, 1.0, 1.0)

SCENES: dict[str, tuple[Callable[[], NDArray[np.uint8]], tuple[int, int, int]]] = {
    "kettle_crew": (kettle_crew.draw, (720, 1280, 3)),
    "deepvault_corridor": (deepvault_corridor.draw, (1080, 1920, 3)),
    "marrow_fens": (marrow_fens.draw, (576, 720, 3)),
    "comet_rally": (comet_rally.draw, (1080, 1920, 3)),
}


@functools.cache
def drawn(name: str) -> NDArray[np.uint8]:
    return SCENES[name][0]()


@functools.cache
def rally(field: int) -> NDArray[np.uint8]:
    return comet_rally.draw_at(field)


def cover(shape: shapes.Shape, lines: int = 120, samples: int = 160) -> NDArray[np.float32]:
    """The share of every sample a white shape covers on black."""
    target = shapes.canvas(lines, samples)
    painting.paint(target, shape, WHITE)
    return target[..., 0]


# --- shapes ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("radius", [3.0, 10.25, 41.5])
@pytest.mark.parametrize("x, y", [(80.0, 60.0), (79.3, 60.71)])
def test_circle_covers_pi_r_squared(radius: float, x: float, y: float) -> None:
    """Plane geometry: pi r^2; the ramp at the edge, one sample wide, may add up to about pi / 12."""
    area = float(cover(shapes.circle(x, y, radius)).sum())
    assert area == pytest.approx(np.pi * radius**2, rel=2e-3, abs=0.4)
    # The check can tell a radius half a sample off, as a centre on whole samples would give.
    assert area != pytest.approx(np.pi * (radius + 0.5) ** 2, rel=2e-3, abs=0.4)


def test_circle_has_a_soft_edge_one_sample_wide() -> None:
    values = cover(shapes.circle(80.3, 60.6, 30.0))
    ys, xs = np.mgrid[:120, :160] + 0.5
    away = np.hypot(xs - 80.3, ys - 60.6) - 30.0
    assert np.all(values[away < -0.5] == 1) and np.all(values[away > 0.5] == 0)
    partial = (values > 0.02) & (values < 0.98)
    assert 100 < partial.sum() < 400  # about 2 pi r samples lie on the edge; none would if it were hard


def test_ellipse_and_box_areas() -> None:
    """Plane geometry: pi a b turned or not; w h less the corners, (4 - pi) r^2."""
    for turn in (0.0, 33.0):
        area = float(cover(shapes.ellipse(80.2, 60.4, 40.0, 17.0, turn=turn)).sum())
        assert area == pytest.approx(np.pi * 40 * 17, rel=4e-3)
    area = float(cover(shapes.rounded_box(20.5, 30.25, 100.0, 90.75, 12.0)).sum())
    assert area == pytest.approx(79.5 * 60.5 - (4 - np.pi) * 12**2, rel=2e-3)


def test_polygon_area_is_the_shoelace_sum() -> None:
    """Shoelace formula (Gauss) for a simple polygon, convex or not."""
    points = [(20.0, 20.0), (140.0, 35.5), (90.0, 60.0), (131.0, 101.0), (40.0, 110.0)]
    xs, ys = np.array(points).T
    shoelace = abs(np.dot(xs, np.roll(ys, -1)) - np.dot(ys, np.roll(xs, -1))) / 2
    assert float(cover(shapes.polygon(points)).sum()) == pytest.approx(shoelace, rel=3e-3)


def test_polygon_of_a_circle_agrees_with_the_circle() -> None:
    turn = np.arange(240) * 2 * np.pi / 240
    points = list(zip(80 + 40 * np.cos(turn), 60 + 40 * np.sin(turn), strict=True))
    assert np.abs(cover(shapes.polygon(points)) - cover(shapes.circle(80, 60, 40))).max() < 0.02


@pytest.mark.parametrize("width", [1.0, 2.0, 3.0, 4.0])
def test_outline_has_the_stated_width(width: float) -> None:
    """The coverage of an outline summed across the edge is its width in samples."""
    target = shapes.canvas(120, 160)
    painting.paint(target, shapes.rounded_box(40, 30, 120, 90), None, outline=width, ink=WHITE)
    assert float(target[:60, 80, 0].sum()) == pytest.approx(width, abs=0.01)
    assert float(target[60, :80, 0].sum()) == pytest.approx(width, abs=0.01)


def test_thin_line_keeps_its_share_of_ink() -> None:
    """A stroke of one sample on a sample's centre fills it alone; a capsule's area is w l + pi w^2 / 4."""
    values = cover(shapes.capsule((10.0, 50.5), (150.0, 50.5), 1.0))
    assert np.all(values[50, 11:149] > 0.9999) and values[49, 80] == 0 and values[51, 80] == 0
    area = float(cover(shapes.capsule((30, 30), (120, 90), 9.0)).sum())
    assert area == pytest.approx(9 * np.hypot(90, 60) + np.pi * 9**2 / 4, rel=3e-3)


def test_drawing_outside_the_canvas_is_clipped() -> None:
    """What is wholly outside changes nothing; what crosses the border equals a cut from a larger canvas."""
    target = shapes.canvas(40, 60)
    for shape in (
        shapes.circle(-50, 20, 20),
        shapes.circle(30, 90, 20),
        shapes.polygon([(100, 0), (130, 0), (110, 30)]),
    ):
        painting.paint(target, shape, WHITE, outline=3, ink=WHITE)
    painting.glow(target, -500, 20, 30, WHITE)
    assert not target.any()
    large = shapes.canvas(120, 140)
    for across, down, view in ((0, 0, target), (40, 40, large)):
        blob = shapes.blob([(-20 + across, 10 + down), (30 + across, -15 + down), (75 + across, 50 + down)])
        painting.paint(view, blob, (0.9, 0.5, 0.2), outline=3, ink=(0.1, 0.2, 0.3))
        painting.soft_shadow(view, shapes.circle(55 + across, 5 + down, 18), WHITE, blur=9, opacity=0.5)
    np.testing.assert_allclose(target, large[40:80, 40:100], atol=1e-4)
    assert target.any()


def test_shading_stays_within_the_shape() -> None:
    plain, shaded = shapes.canvas(80, 80), shapes.canvas(80, 80)
    painting.paint(plain, shapes.circle(40, 40, 25), (0.0, 1.0, 0.0))
    painting.paint(shaded, shapes.circle(40, 40, 25), (0.0, 1.0, 0.0), shade=(1.0, 0.0, 0.0), shift=(-6, -6))
    changed = np.abs(plain - shaded).max(axis=2) > 0
    assert changed.any() and np.all(cover(shapes.circle(40, 40, 25), 80, 80)[changed] > 0)
    assert shaded[56, 56, 0] > 0.9 and shaded[24, 24, 0] < 0.1  # dark below right, light above left


def test_mirrored_pen_is_the_mirror_image() -> None:
    one, two = shapes.canvas(60, 60), shapes.canvas(60, 60)
    for target, mirror in ((one, False), (two, True)):
        Pen(target, 30, 30, mirror=mirror).blob("2,-20 25,0 4,18", "e8a04c", shade="803020", shift=(-5, -3))
    np.testing.assert_allclose(one, two[:, ::-1], atol=1e-4)


def test_value_noise_is_bounded_smooth_and_exact_on_the_lattice() -> None:
    x = np.linspace(0, 12, 1201)
    noise = texture.value_noise(x, np.zeros(1), 3)
    assert noise.min() >= 0 and noise.max() <= 1 and np.ptp(noise) > 0.3
    assert np.abs(np.diff(noise)).max() < 0.02  # at most 1.5 a unit, in steps of 0.01
    np.testing.assert_array_equal(noise[::100], texture.lattice(np.arange(13), 0, 3))
    assert not np.array_equal(noise, texture.value_noise(x, np.zeros(1), 4))


def test_to_bytes_rounds_half_up_and_clips() -> None:
    values = np.array([[[-1.0, 0.5 / 255, 1.49 / 255]], [[0.5, 1.0, 7.0]]], np.float32)
    np.testing.assert_array_equal(shapes.to_bytes(values), [[[0, 1, 1]], [[128, 255, 255]]])


# --- scenes ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", SCENES)
def test_scene_shape_dtype_and_range(name: str) -> None:
    frame = drawn(name)
    assert frame.shape == SCENES[name][1] and frame.dtype == np.uint8
    assert frame.min() < 40 and frame.max() > 230
    # No bars or frames along the borders: every border line and sample varies.
    for border in (frame[0], frame[-1], frame[:, 0], frame[:, -1]):
        if name != "marrow_fens":  # its boards run from border to border, as such games have them
            assert np.ptp(border.astype(int), axis=0).max() > 20


@pytest.mark.parametrize("name", few(SCENES, 2))
def test_scene_is_the_same_on_every_call(name: str) -> None:
    np.testing.assert_array_equal(drawn(name), SCENES[name][0]())


def dark_runs(frame: NDArray[np.uint8], sample: int, level: int = 75) -> list[int]:
    """Lengths in lines of the dark runs along one sample position, brighter on both sides."""
    dark = np.concatenate([[False], frame[:, sample].max(axis=1) < level, [False]]).astype(int)
    starts, ends = np.flatnonzero(np.diff(dark) == 1), np.flatnonzero(np.diff(dark) == -1)
    return list(ends - starts)


def test_kettle_crew_has_outlines_of_two_to_four_lines() -> None:
    runs = [r for sample in range(0, 1280, 4) for r in dark_runs(drawn("kettle_crew"), sample)]
    thin = sum(2 <= r <= 4 for r in runs)
    assert thin > 500 and thin > 0.5 * len(runs)
    # The measure fails the same drawing with every line repeated three times.
    thick = np.repeat(drawn("kettle_crew"), 3, axis=0)
    wide = [r for sample in range(0, 1280, 4) for r in dark_runs(thick, sample)]
    assert sum(2 <= r <= 4 for r in wide) < 0.5 * len(wide)


def test_comet_rally_is_woven_of_two_fields() -> None:
    """A woven frame holds field 0 on the even lines and field 1 on the odd ones (parity 0 on top)."""
    frame, first, second = drawn("comet_rally"), rally(0), rally(1)
    np.testing.assert_array_equal(frame[0::2], first[0::2])
    np.testing.assert_array_equal(frame[1::2], second[1::2])
    # It would not pass with the fields swapped or with two equal fields.
    assert not np.array_equal(frame[0::2], second[0::2])
    assert not np.array_equal(frame[1::2], first[1::2])


def test_comet_rally_moves_sixteen_samples_a_field_and_its_boards_stand() -> None:
    first, second = rally(0).astype(int), rally(1).astype(int)
    speed = comet_rally.RACER_SPEED
    hull = (slice(700, 730), slice(700, 1100))  # inside the near racer's side, nothing behind shows
    moved = (hull[0], slice(hull[1].start + speed, hull[1].stop + speed))
    assert speed == 16
    assert np.abs(first[hull] - second[moved]).max() <= 2
    assert np.abs(first[hull] - second[hull]).max() > 60
    for board in (
        (slice(42, 127), slice(42, 400)),
        (slice(942, 1038), slice(1510, 1876)),
        (slice(60, 80), slice(640, 1280)),
    ):
        inside = np.abs(first[board] - second[board])
        assert inside.mean() < 1.0
    sky = (slice(130, 280), slice(560, 1100))
    np.testing.assert_array_equal(first[sky], second[sky])


def test_deepvault_pulses_average_to_their_mean() -> None:
    """Closed form: a footprint of whole periods gives exactly width / period; a tiny one gives 0 or 1."""
    from scalesim.demo.deepvault_corridor.surfaces import pulses

    u = np.linspace(-3, 3, 601).astype(np.float32)
    np.testing.assert_allclose(pulses(u, 0.5, 0.2, 1.0), 0.4, atol=1e-4)
    fine = pulses(u + 0.001, 0.5, 0.2, 1e-4)
    np.testing.assert_allclose(fine, (np.mod(u + 0.001, 0.5) < 0.2).astype(float), atol=0.02)


def test_marrow_fens_tile_edges_rise_one_line_in_two_samples() -> None:
    """The ground tiles are laid with hard edges: each line of a diamond is four samples wider."""
    target = shapes.canvas(40, 80)
    marrow_fens._tile(target, 40, 20, np.array(WHITE, np.float32))
    widths = target[..., 0].sum(axis=1)[8:32]
    np.testing.assert_array_equal(widths, [*range(4, 49, 4), *range(48, 3, -4)])
