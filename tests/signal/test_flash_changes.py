"""What counts as half a flash: steps, darker states, reds, ramps and fine patterns, at their limits.

Limits: W3C, Web Content Accessibility Guidelines 2.x, "general flash and red flash thresholds", red by
its newer working definition. Relative luminance: IEC 61966-2-1, as WCAG quotes it.
"""

from __future__ import annotations

import numpy as np
import pytest
from flash_clips import SIZE, flashing, grey, measured, srgb_code

from scalesim.signal.flashes.changes import Cells, redness


@pytest.mark.parametrize("from_light", [0.02, 0.3, 0.65])
def test_step_of_luminance(from_light: float) -> None:
    """9.9 % of white is no flash, 10.1 % is, wherever the darker state lies below 0.80 (WCAG)."""
    for step, flashes in ((0.099, 0), (0.101, 5)):
        dark, bright = grey(srgb_code(from_light)), grey(srgb_code(from_light + step))
        assert measured(flashing(dark, bright, 5)).wcag.general_flashes_per_s == flashes


def test_darker_state() -> None:
    """Between 0.79 and 0.95 there are flashes, between 0.81 and 0.95 none (WCAG)."""
    for darker, flashes in ((0.79, 5), (0.81, 0)):
        dark, bright = grey(srgb_code(darker)), grey(srgb_code(0.95))
        report = measured(flashing(dark, bright, 5))
        assert report.wcag.general_flashes_per_s == flashes
        assert report.wcag.passes is (flashes == 0)


# Reds of R, G = B in light, with the share R / (R + G + B) on either side of 0.8


def red_with(share: float, total: float = 0.9) -> np.ndarray:
    rest = total * (1 - share) / 2
    return np.array([total * share, rest, rest])


def picture_of(light: np.ndarray) -> np.ndarray:
    """Return a picture of one colour given as linear sRGB light, by the general colour library."""
    import colour

    return np.broadcast_to(colour.cctf_encoding(light), (*SIZE, 3)).astype(np.float32)


def uv(light: np.ndarray) -> np.ndarray:
    """u', v' (CIE 1976) of linear sRGB light by the general colour library."""
    import colour

    return colour.xy_to_Luv_uv(colour.XYZ_to_xy(colour.RGB_to_XYZ(light, "sRGB", apply_cctf_decoding=False)))


@pytest.mark.parametrize("light", [(0.5, 0.1, 0.1), (0.9, 0, 0), (0.3, 0.3, 0.3), (0.02, 0.7, 0.1)])
def test_chromaticity_is_the_colour_librarys(light: tuple[float, float, float]) -> None:
    share, u, v = redness(np.array([[light]], np.float32))[:, 0, 0]
    assert share == pytest.approx(light[0] / sum(light), rel=1e-6)
    assert (u, v) == pytest.approx(tuple(uv(np.array(light))), abs=1e-3)


def test_red_share() -> None:
    """0.81 of the light is a saturated red, 0.79 is not, both far (> 0.2) from the other state, a blue."""
    blue = np.array([0.1, 0.1, 0.6])
    for share, flashes in ((0.81, 5), (0.79, 0)):
        red = red_with(share, 0.3)
        assert np.hypot(*(uv(red) - uv(blue))) > 0.2
        report = measured(flashing(picture_of(blue), picture_of(red), 5))
        assert report.wcag.red_flashes_per_s == flashes
        assert report.broadcast.red_flashes_per_s == flashes


def test_red_distance() -> None:
    """Changes of (u', v') just below and just above 0.2 from a pale red to a pure one."""
    red = np.array([0.5, 0.0, 0.0])
    found = {}
    for amount in np.linspace(0.01, 0.3, 300):
        pale = np.array([0.5, amount, amount])
        found[float(np.hypot(*(uv(red) - uv(pale))))] = pale
    below = found[max(d for d in found if d < 0.199)]
    above = found[min(d for d in found if d > 0.201)]
    for pale, flashes in ((below, 0), (above, 5)):
        assert measured(flashing(picture_of(pale), picture_of(red), 5)).red_flashes_per_s == flashes


def test_red_against_black_counts_without_a_step_of_luminance() -> None:
    """A red of 9 % luminance is no general flash against black, but four red ones in a second."""
    red = np.array([0.4, 0.0, 0.0])
    report = measured(flashing(grey(0), picture_of(red), 4))
    assert report.general_flashes_per_s == 0 and report.red_flashes_per_s == 4
    assert not report.passes
    blue = measured(flashing(grey(0), picture_of(red[::-1]), 4))
    assert blue.passes and blue.red_flashes_per_s == 0


def test_dark_noise_is_not_red() -> None:
    """Codes 0 and 1 of 255 are 'pure red' here and there; nobody sees it."""
    rng = np.random.RandomState(1)
    report = measured(rng.randint(0, 2, (*SIZE, 3)).astype(np.uint8) for _ in range(90))
    assert report.red_flashes_per_s == report.general_flashes_per_s == 0


# what one change is


def test_slow_ramps_are_single_changes() -> None:
    """Four triangles in a second count four flashes though no picture differs by 10 % from the next.

    A ramp up and its continuation are one change: stairs upward count half a flash.
    """
    wave = np.abs(np.arange(66) % 15 - 7.5) / 7.5 * 0.6
    assert np.abs(np.diff(wave)).max() < 0.1
    light = [grey(srgb_code(max(x, 0.01))) for x in 0.05 + wave]
    assert measured(light).wcag.general_flashes_per_s >= 4
    stairs = [grey(srgb_code(0.02 + 0.11 * (k // 6))) for k in range(48)]
    assert measured(stairs).wcag.general_flashes_per_s == 0.5


def test_noise_on_a_ramp_does_not_break_it() -> None:
    """Steps of noise below the threshold are no extremes: one rise, half a flash."""
    rng = np.random.RandomState(3)
    clip = [grey(srgb_code(0.05 + 0.015 * k + 0.03 * rng.rand())) for k in range(45)]
    assert measured(clip).wcag.general_flashes_per_s == 0.5


def test_fine_balanced_patterns_are_excepted_and_coarse_ones_not() -> None:
    """Checkerboards that reverse 30 times a second: squares of 0.047 degree (WCAG's exception) and 0.75."""
    for square, passes in ((1, True), (16, False)):
        y, x = np.indices((240, 640)) // square
        board = np.repeat(((x + y) % 2)[..., None], 3, 2)
        clip = [(255 * (board ^ (k % 2))).astype(np.uint8) for k in range(30)]
        # 640 samples over 30 degrees and 240 lines over 11.25: 0.047 degree each
        assert measured(clip, degrees=(30.0, 11.25)).passes is passes


def test_alternating_fields_of_unlike_light_are_a_flash_source() -> None:
    """Single bright lines in one field only: the pictures differ in their mean, 30 flashes a second."""
    first, second = grey(0, (240, 320)), grey(0, (240, 320))
    first[::2] = 1
    report = measured([first, second] * 30)
    assert report.general_flashes_per_s > 25
    assert not report.passes


@pytest.mark.parametrize("size", [(240, 320), (251, 317), (1080, 401), (37, 50), (60, 2)])
def test_cells_hold_the_mean_light(size: tuple[int, int]) -> None:
    """Of the colour library's two curves, in float64, whatever does not divide; its last line repeated."""
    import colour

    codes = np.random.RandomState(2).randint(0, 256, (*size, 3)).astype(np.uint8)
    cells = Cells(*size, (30.0, 22.5))
    rows, columns = cells.shape
    more = ((0, rows * cells.high - size[0]), (0, columns * cells.wide - size[1]), (0, 0))
    whole = np.pad(codes, more, mode="edge").reshape(rows, cells.high, columns, cells.wide, 3) / 255
    for found, decode in zip(
        cells.light(codes), (colour.cctf_decoding, colour.models.eotf_BT1886), strict=True
    ):
        assert np.abs(found - decode(whole).mean(axis=(1, 3))).max() < 1e-5
    exact = cells.light(codes / np.float32(255))
    assert np.abs(np.subtract(exact, cells.light(codes))).max() < 2e-5  # in steps of 1/65535
