"""The whole screen: light kept, lines where they land, window, exposure, and what is refused."""

from __future__ import annotations

import dataclasses
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from scalesim.core.raster import TOP_FIRST, Field, Raster, Window
from scalesim.errors import ParameterError, ShapeError
from scalesim.tube.display import DISPLAYS, Display
from scalesim.tube.screen import Screen

STUDIO = dataclasses.replace(DISPLAYS["studio-36cm-800"], black_cd_m2=0)
FIXED = dataclasses.replace(STUDIO, beam_growth=1)
BOTH = pytest.mark.parametrize("display", [FIXED, STUDIO], ids=["fixed", "growing"])
SMALL = Raster(24, 32)
SAME = (Field(0), Field(1))
BELOW = (Field(0), Field(1, Fraction(1)))


def flat(value: float, raster: Raster = SMALL) -> np.ndarray:
    """A picture of one grey."""
    return np.full((raster.lines, raster.samples, 3), value, dtype=np.float32)


def lone(line: int, raster: Raster = SMALL, value: float = 1.0) -> np.ndarray:
    """A picture with one lit line."""
    values = flat(0, raster)
    values[line] = value
    return values


def height_of(light: np.ndarray) -> float:
    """Return the centroid of the light down the screen, in dot rows from the top."""
    rows = light.sum(axis=(1, 2), dtype=np.float64)
    return float((rows * (np.arange(len(rows)) + 0.5)).sum() / rows.sum())


@BOTH
@pytest.mark.parametrize("value", [0.2, 0.6, 1.0])
def test_flat_field_keeps_its_light(display: Display, value: float) -> None:
    """Away from the border the mean over whole pitches is V^2.4, to 1e-4 of it."""
    light = Screen(SMALL, display, height=240).field(flat(value))
    middle = light[60:180, 60:260]
    assert middle.mean(dtype=np.float64) == pytest.approx(value**2.4, rel=1e-4)
    assert np.ptp(middle, axis=0).min() > 0.1 * value**2.4  # though it is lines, not a flat
    # the mean of code values in place of light is another
    assert np.mean(middle ** (1 / 2.4)) ** 2.4 < 0.99 * value**2.4


@BOTH
def test_a_lone_line_keeps_its_light(display: Display) -> None:
    """Each line sample: the light of the dots equals light times area, to 1e-4."""
    for value in (0.3, 1.0):
        light = Screen(SMALL, display, height=240).field(lone(12, value=value))
        across = light.sum(axis=0, dtype=np.float64)[40:-40] / 10
        assert np.abs(across / value**2.4 - 1).max() < 1e-4


def test_black_is_painted_too() -> None:
    """BT.1886 with a black of 1 in 100: a black field has the mean 0.01, white 1."""
    screen = Screen(SMALL, dataclasses.replace(FIXED, black_cd_m2=1), height=240)
    for value, mean in ((0.0, 0.01), (1.0, 1.0)):
        assert screen.field(flat(value))[60:180, 60:260].mean() == pytest.approx(mean, rel=1e-3)


@BOTH
@pytest.mark.parametrize(
    ("fields", "apart"), [(TOP_FIRST, 5.0), (TOP_FIRST[::-1], -5.0), (SAME, 0.0), (BELOW, 10.0)]
)
def test_fields_land_where_the_raster_says(display: Display, fields: Any, apart: float) -> None:
    """Ten dots a pitch: half a pitch is five, on the same lines none, a line below ten."""
    raster = SMALL.with_(fields=fields)
    screen = Screen(raster, display, height=240)
    first, second = (height_of(screen.field(lone(12, raster), phase)) for phase in range(2))
    assert second - first == pytest.approx(apart, abs=0.01)
    assert height_of(screen.field(lone(12, raster), 2)) == pytest.approx(first)


def test_landed_place_of_a_line() -> None:
    """Line 12 of 24 is centred at 12.5 pitches; of the top field of a pair at 12.25."""
    assert height_of(Screen(SMALL, FIXED, height=240).field(lone(12))) == pytest.approx(125, abs=0.01)
    pair = SMALL.with_(fields=TOP_FIRST)
    assert height_of(Screen(pair, FIXED, height=240).field(lone(12, pair))) == pytest.approx(122.5, abs=0.01)


def test_period_is_what_the_eye_sees() -> None:
    """Interlaced white is steady; the fields' difference is signed and sums to nothing."""
    raster = SMALL.with_(fields=TOP_FIRST)
    screen = Screen(raster, FIXED, height=240)
    white = [flat(1, raster)] * 2
    assert np.ptp(screen.period(white)[60:180, 60:260]) < np.ptp(screen.field(white[0])[60:180, 60:260]) / 5
    apart = (screen.field(white[0], 0) - screen.field(white[1], 1))[60:180, 60:260]
    assert apart.max() > 0.5 and apart.min() < -0.5 and abs(apart.mean()) < 1e-4


def test_on_one_set_of_lines_steady_white_does_not_flicker() -> None:
    raster = SMALL.with_(fields=SAME)
    screen = Screen(raster, STUDIO, height=240)
    assert np.array_equal(screen.field(flat(1, raster), 0), screen.field(flat(1, raster), 1))


def test_whole_dots_a_line_repeat_exactly() -> None:
    """Every landed line is the same whole number of dots: the rows repeat with that period."""
    for fields, rows in (((Field(),), 24 * 7), (TOP_FIRST, 48 * 7)):
        raster = SMALL.with_(fields=fields)
        screen = Screen(raster, FIXED, height=rows)
        assert (screen.height, screen.width) == (rows, round(rows * 4 / 3))
        column = screen.field(flat(1, raster))[:, screen.width // 2, 0]
        pitch = 7 * raster.frame_lines // raster.lines
        middle = column[4 * pitch : 20 * pitch].reshape(-1, pitch)
        assert np.abs(middle - middle[0]).max() < 1e-5
    # 4.5 dots a line do not
    column = Screen(SMALL, FIXED, height=108).field(flat(1))[:, 72, 0]
    assert abs(column[40] - column[44]) > 1e-2


def test_overscan_and_window() -> None:
    """The display hides its share, unless the raster says what is visible; the rest fills the glass."""
    hiding = dataclasses.replace(FIXED, overscan_percent=25)
    for screen in (
        Screen(SMALL, hiding, height=180),
        Screen(SMALL.with_(visible=Window(0.125, 0.875, 0.125, 0.875)), hiding, height=180),
    ):
        assert screen.cut.lines == (3, 21) and screen.cut.samples == (4, 28)
        assert height_of(screen.field(lone(12))) == pytest.approx(95, abs=0.01)
        edge = flat(0)
        edge[:, 3] = 1  # its right edge is the glass's left one
        light = screen.field(edge).sum(axis=(0, 2))
        assert light[0] > 0 and light[20:].max() < 1e-3 * light[0]


def test_tube_shape() -> None:
    assert Screen(SMALL, FIXED, height=90).width == 120
    assert Screen(SMALL, FIXED, height=90, tube="16:9").width == 160
    assert Screen(SMALL, FIXED, height=90, tube=Fraction(16, 9)).field(flat(1)).shape == (90, 160, 3)


@BOTH
def test_unclipped_exposure_clips_nothing(display: Display) -> None:
    """No field of random, white or lone-line pictures exceeds white; a tenth more and white does."""
    screen = Screen(SMALL, display, height=168, exposure="unclipped")
    noise = np.random.RandomState(2).rand(24, 32, 3).astype(np.float32) ** 0.3
    for values in (noise, flat(1), lone(7)):
        assert screen.clipped_percent(screen.field(values)) == 0
    assert 0.3 < screen.exposure < 1
    assert Screen(SMALL, display, height=168).clipped_percent(screen.field(flat(1))) > 20
    brighter = Screen(SMALL, display, height=168, exposure=1.1 * screen.exposure)
    assert brighter.clipped_percent(brighter.field(flat(1))) > 5


@BOTH
def test_bytes_equal_the_codes_of_the_light(display: Display) -> None:
    """The quick way and the long one agree within one code; rounding half up, as every file here."""
    screen = Screen(SMALL, dataclasses.replace(display, mask="slots"), height=131, exposure=0.4)
    values = np.random.RandomState(3).rand(24, 32, 3)
    light = screen.field(values)
    exact = np.floor(255 * screen.code(light) + 0.5)
    quick = screen.bytes(values)
    assert quick.dtype == np.uint8 and np.abs(quick - exact).max() <= 1 and np.mean(quick != exact) < 0.02
    assert np.array_equal(screen.codes(light), quick)
    assert np.array_equal(screen.field(values), light)  # nothing given was used up


def test_growing_beam_is_wider_where_it_is_brighter() -> None:
    """Standard deviation down the screen of a lone line, against the stated law, in pitches."""
    display = dataclasses.replace(STUDIO, beam_width=0.8, beam_growth=2)
    for drive in (0.1, 0.5, 1.0):
        rows = Screen(SMALL, display, height=24 * 32).field(lone(12, value=drive ** (2 / 2.4)))
        share = rows[:, 512, 0].astype(np.float64) / rows[:, 512, 0].sum(dtype=np.float64)
        at = (np.arange(24 * 32) + 0.5) / 32
        width = np.sqrt((share * (at - 12.5) ** 2).sum()) * 2.354820045
        assert width == pytest.approx(0.4 + 0.4 * drive, rel=5e-3)


def test_mask_keeps_the_mean() -> None:
    """Over whole mask pitches: 0.6 mm is 1/480 of a 36 cm picture's width, four dots of 1920."""
    masked = dataclasses.replace(FIXED, mask="stripes", mask_pitch_mm=0.6)
    bare, light = (
        Screen(SMALL, display, height=1440).field(flat(0.7))[600:840, 480:1440].mean(axis=(0, 1), dtype=float)
        for display in (FIXED, masked)
    )
    assert light == pytest.approx(bare, rel=1e-3)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"height": 0}, "height is 0"),
        ({"height": 100.5}, "height is 100.5"),
        ({"height": 10**6}, "1 to 8192"),
        ({"tube": "5:4"}, "tube is '5:4'; valid: 4:3, 16:9"),
        ({"encoding": "linear"}, "encoding is 'linear'"),
        ({"exposure": -1.0}, "exposure is -1.0"),
    ],
)
def test_refused(options: dict[str, Any], words: str) -> None:
    with pytest.raises(ParameterError) as refused:
        Screen(SMALL, FIXED, **options)
    assert words in str(refused.value) and "\n" not in str(refused.value)


def test_refused_pictures() -> None:
    screen = Screen(SMALL, FIXED, height=100)
    for values in (np.zeros((24, 32)), np.zeros((32, 24, 3)), np.zeros((48, 32, 3))):
        with pytest.raises(ShapeError, match="this raster's are"):
            screen.field(values)
    with pytest.raises(ShapeError, match="holds none"):
        screen.period([])


def test_tiny_raster() -> None:
    """One line of one sample is a screen, too."""
    light = Screen(Raster(1, 1), STUDIO, height=9).field(np.ones((1, 1, 3)))
    assert light.shape == (9, 12, 3) and np.isfinite(light).all() and light.max() > 0.5


MASKED = [dataclasses.replace(STUDIO, mask=mask, mask_pitch_mm=0.8) for mask in ("stripes", "slots")]


@pytest.mark.parametrize("display", [*DISPLAYS.values(), *MASKED], ids=[*DISPLAYS, "stripes", "slots"])
def test_white_does_not_clip_at_its_exposure(display: Display) -> None:
    """White and noise clip nowhere; with many rows a line the brightest dot is within 4 % of white."""
    noise = np.random.RandomState(5).rand(24, 32, 3).astype(np.float32) ** 0.2
    for height in (24 * 3, 24 * 5, 107, 24 * 45):
        screen = Screen(SMALL, display, height=height)
        screen = screen.exposed(screen.white_exposure)
        white = screen.field(flat(1))
        for light in (white, screen.field(noise)):
            assert screen.clipped_percent(light) == 0
    assert (white * screen.exposure).max() > 0.96
    assert 100 * screen.exposure == pytest.approx(round(100 * screen.exposure))


@pytest.mark.parametrize("display", [STUDIO, *MASKED], ids=["bare", "stripes", "slots"])
@pytest.mark.parametrize("colour", [(0.35, 0.65, 1.0), (1.0, 0.15, 0.1), (0.1, 0.9, 0.3), (1.0, 0.8, 0.1)])
def test_colours_keep_their_chromaticity(display: Display, colour: tuple[float, float, float]) -> None:
    """Over whole mask pitches (four dots across) the file's light has the ratios of V^2.4 (ITU-R BT.1886)."""
    values = np.broadcast_to(np.float32(colour), (24, 32, 3))
    screen = Screen(SMALL, dataclasses.replace(display, mask_pitch_mm=0.6), height=1440)
    dimmed = screen.exposed(screen.white_exposure)
    wanted = np.array(colour) ** 2.4 / sum(v**2.4 for v in colour)

    def shares(of: Screen) -> np.ndarray:
        light = of.code(of.field(values))[600:840, 480:1440].astype(np.float64) ** 2.4
        mean = light.mean(axis=(0, 1))
        return mean / mean.sum()

    assert shares(dimmed) == pytest.approx(wanted, abs=2e-3)
    if display.mask != "none":  # at all of its light a mask's dots clip, and the colour turns
        assert np.abs(shares(screen.exposed(1.0)) - wanted).max() > 0.01
