"""Whole dot rows a line: a flat field is lines of one profile, and no pattern of two lines stands on them."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from scalesim.core.raster import TOP_FIRST, Raster, Window
from scalesim.errors import ParameterError
from scalesim.tube.cut import Cut, glass_at, glass_in_whole_rows, rows_of_line
from scalesim.tube.display import DISPLAYS, Display
from scalesim.tube.screen import Screen

RASTERS = {
    "240p": Raster(240, 4),
    "480i": Raster(240, 4, fields=TOP_FIRST),
    "288p": Raster(288, 4),
    "576i": Raster(288, 4, fields=TOP_FIRST),
    "480p": Raster(480, 4),
}


def column(raster: Raster, display: Display, cut: Cut, exposure: float = 0) -> np.ndarray:
    """Return the code values down the middle of a flat grey's mean picture, away from the border, float64."""
    screen = Screen(raster, display, cut=cut)
    screen = screen.exposed(exposure or screen.white_exposure)
    grey = [np.full((raster.lines, raster.samples, 3), 0.9, np.float32)] * raster.period
    light = screen.code(screen.period(grey))[:, screen.width // 2, 0].astype(np.float64)
    pitch = rows_of_line(cut, raster)
    return light[round(12 * pitch) :][: round(16 * int(len(light) / pitch / 16 - 2) * pitch)]


def half_rate(light: np.ndarray, rows: float) -> float:
    """Return the amplitude of the pattern of two lines over the mean, by a Hann-windowed DFT."""
    at = np.arange(len(light))
    window = np.hanning(len(light))
    turn = np.exp(-2j * np.pi * at / (2 * rows))
    return float(2 * abs((window * (light - light.mean()) * turn).sum()) / window.sum() / light.mean())


@pytest.mark.parametrize("name", RASTERS)
@pytest.mark.parametrize("key", DISPLAYS)
@pytest.mark.parametrize("near", [1080, 720])
def test_every_line_is_the_same(name: str, key: str, near: int) -> None:
    """The rows repeat exactly: every line has equal light, and nothing has two lines' period."""
    raster, display = RASTERS[name], DISPLAYS[key]
    cut = glass_in_whole_rows(raster, display, display.aspect, near)
    rows = rows_of_line(cut, raster)
    assert rows == pytest.approx(round(rows), abs=1e-9) and cut.height % 2 == cut.width % 2 == 0
    assert abs(cut.height - near) <= (cut.height / rows) / 2 + 1 or rows == 1
    light = column(raster, display, cut)
    lines = light.reshape(-1, round(rows) * raster.landed_lines // raster.lines)
    assert np.abs(lines - lines[0]).max() < 1e-5
    assert half_rate(light, rows) < 1e-5


def test_4_5_rows_a_line_have_a_pattern_of_two_lines() -> None:
    """What the check above is there to find: 240 lines in 1080 rows, in the codes and in clipped light."""
    raster, display = RASTERS["240p"], DISPLAYS["studio-36cm-800"]
    cut = glass_at(raster, display, display.aspect, 1080)
    assert rows_of_line(cut, raster) == 4.5
    light = column(raster, display, cut)
    assert np.abs(light[:-9].reshape(-1, 9)[:, :4] - light[:-9].reshape(-1, 9)[:, 5:]).max() > 0.1
    assert half_rate(light, 4.5) > 1e-3
    # at all of its light, the file clips the brightest row of every second line
    assert half_rate(column(raster, display, cut, 1.0) ** 2.4, 4.5) > 1e-2


def test_the_nearest_height() -> None:
    """Of 240 lines without overscan 960 and 1200 are as near to 1080; 480 lines take 960."""
    studio = DISPLAYS["studio-36cm-800"]
    assert glass_in_whole_rows(RASTERS["240p"], studio, studio.aspect, 1080).height in (960, 1200)
    assert glass_in_whole_rows(RASTERS["480i"], studio, studio.aspect, 1080).height == 960
    assert glass_in_whole_rows(RASTERS["288p"], studio, studio.aspect, 1080).height == 1152


def test_the_window_is_kept_within_a_row() -> None:
    """Edges move by no more than a dot row and a half, whatever is hidden."""
    for percent in (0, 3, 7.7, 21):
        display = dataclasses.replace(DISPLAYS["studio-36cm-800"], overscan_percent=percent)
        cut = glass_in_whole_rows(RASTERS["240p"], display, display.aspect, 1080)
        pitch = rows_of_line(cut, RASTERS["240p"])
        for edge, exact in zip(cut.lines, (240 * percent / 200, 240 - 240 * percent / 200), strict=True):
            assert abs(edge - exact) <= 1.5001 / pitch


def test_small_and_tall_rasters() -> None:
    """A window of two lines and a raster of more lines than rows still give whole rows."""
    studio = DISPLAYS["studio-36cm-800"]
    tiny = Raster(24, 4, visible=Window(0.4, 0.5, 0, 1))
    for raster in (tiny, Raster(2160, 4), Raster(1, 1)):
        rows = rows_of_line(glass_in_whole_rows(raster, studio, studio.aspect, 1080), raster)
        assert rows >= 1 and rows == pytest.approx(round(rows))
    with pytest.raises(ParameterError, match="height is"):
        glass_in_whole_rows(Raster(9000, 4), studio, studio.aspect, 1080)
