"""The levels chart: codes in the picture against published ones."""

from __future__ import annotations

import json

import numpy as np
import pytest

from scalesim.charts._base import Chart
from scalesim.charts.levels import CODINGS, levels_chart
from scalesim.core.codes import to_codes
from scalesim.core.mode import ALIASES, MODES
from scalesim.errors import ParameterError

KINDS = [
    ("1080p", "4:3", "full"),
    ("720p", "16:9", "limited"),
    ("480p", "4:3", "limited"),
    ("576i", "4:3", "full"),
    ("240p", "4:3", "limited"),
    ("288p", "4:3", "full"),
]
DRAWN: dict[tuple[str, str, str], Chart] = {}


def chart(mode: str, aspect: str, value_range: str) -> Chart:
    key = (mode, aspect, value_range)
    if key not in DRAWN:
        DRAWN[key] = levels_chart(mode, aspect=aspect, value_range=value_range)
    return DRAWN[key]


def group(made: Chart, name: str) -> list[dict]:
    return [patch for patch in made.truth["patches"] if patch["group"] == name]


def cut(made: Chart, box: dict) -> np.ndarray:
    return to_codes(made.frame)[box["top"] : box["bottom"], box["left"] : box["right"]]


@pytest.mark.parametrize("mode, aspect, value_range", KINDS)
def test_every_patch_is_flat_and_of_its_code(mode: str, aspect: str, value_range: str) -> None:
    """Measured in the 8-bit picture a file would hold; no word lies over a patch."""
    made = chart(mode, aspect, value_range)
    for patch in made.truth["patches"]:
        assert np.all(cut(made, patch) == patch["codes"]), patch
    assert json.loads(json.dumps(made.truth, allow_nan=False)) == made.truth
    assert made.frame.shape == (MODES[ALIASES[mode]].frame_lines, MODES[ALIASES[mode]].samples, 3)


@pytest.mark.parametrize("mode, aspect, value_range", KINDS)
def test_all_of_it_is_whole_codes(mode: str, aspect: str, value_range: str) -> None:
    """Written to 8 bits and read back nothing changes, but for the words (a grey between codes)."""
    made = chart(mode, aspect, value_range)
    for box in (*made.truth["patches"], made.truth["ramp"]):
        values = made.frame[box["top"] : box["bottom"], box["left"] : box["right"]]
        assert np.abs(values * 255 - np.round(values * 255)).max() < 1e-3


# Y, Cb, Cr of 8 bits: 100 % and 75 % white and primaries of ITU-R BT.601 and BT.709, as colour-science,
# the bar generators of FFmpeg and of GStreamer agree on.
BARS = {
    "ITU-R BT.601": {
        ("white", 100): (235, 128, 128),
        ("red", 100): (81, 90, 240),
        ("green", 100): (145, 54, 34),
        ("blue", 100): (41, 240, 110),
        ("white", 75): (180, 128, 128),
        ("red", 75): (65, 100, 212),
        ("green", 75): (112, 72, 58),
        ("blue", 75): (35, 212, 114),
    },
    "ITU-R BT.709": {
        ("white", 100): (235, 128, 128),
        ("red", 100): (63, 102, 240),
        ("green", 100): (173, 42, 26),
        ("blue", 100): (32, 240, 118),
        ("white", 75): (180, 128, 128),
        ("red", 75): (51, 109, 212),
        ("green", 75): (133, 63, 52),
        ("blue", 75): (28, 212, 120),
    },
}


@pytest.mark.parametrize("matrix", list(BARS))
def test_limited_range_colours_encode_to_the_published_bars(matrix: str) -> None:
    """colour-science turns the patches' R'G'B' codes into Y'CbCr: the codes of the standards, exactly."""
    import colour

    made = chart("480p", "4:3", "limited")
    for (name, percent), expected in BARS[matrix].items():
        (patch,) = group(made, f"{name} {percent}")
        rgb = cut(made, patch)[0, 0]
        found = colour.RGB_to_YCbCr(
            rgb,
            K=colour.WEIGHTS_YCBCR[matrix],
            in_bits=8,
            in_int=True,
            in_legal=True,
            out_bits=8,
            out_int=True,
        )
        assert tuple(np.round(found).astype(int)) == expected, (name, percent)
    wrong = colour.RGB_to_YCbCr(
        cut(chart("288p", "4:3", "full"), group(chart("288p", "4:3", "full"), "white 75")[0])[0, 0],
        K=colour.WEIGHTS_YCBCR[matrix], in_bits=8, in_int=True, in_legal=True, out_bits=8, out_int=True,
    )  # fmt: skip
    assert round(float(wrong[0])) != 180  # full-range codes taken for limited ones do not pass


def test_black_is_set_by_the_published_levels() -> None:
    """ITU-R BT.814-4 table 3: 12, 16 and 20 of 8 bits, the two bars on black."""
    made = chart("480p", "4:3", "limited")
    darker, lighter = group(made, "pluge")
    assert (darker["codes"][0], lighter["codes"][0]) == (12, 20)
    between = to_codes(made.frame)[darker["top"], darker["right"] : lighter["left"], 0]
    assert between.size and np.all(between == 16)


def test_full_range_says_that_nothing_is_below_black() -> None:
    made = chart("576i", "4:3", "full")
    assert "nothing below black" in made.title and "nothing below black" in made.truth["below_black"]
    assert [p["codes"][0] for p in group(made, "pluge")] == [0, 5]
    assert [p["codes"][0] for p in group(made, "one-code")] == list(range(9))


def test_limited_range_has_codes_below_black_and_above_white() -> None:
    made = chart("720p", "16:9", "limited")
    assert [p["codes"][0] for p in group(made, "one-code")] == list(range(12, 21))
    assert "codes 12 to 15 are below black" in made.title
    near = [p["codes"][0] for p in group(made, "near-white")]
    assert near == sorted(near) and near[-1] == 254 and 235 in near  # 254 is the last legal code
    # 1 code is 100/219 percent: BT.601 has 219 steps from black to white.
    assert group(made, "one-code")[5]["percent"] == pytest.approx(100 / 219, abs=1e-3)


def test_near_black_spans_twelve_percent() -> None:
    for value_range, last in (("full", 31), ("limited", 42)):
        codes = [p["codes"][0] for p in group(chart("480p", "4:3", value_range), "near-black")]
        assert codes == sorted(set(codes)) and codes[-1] == last


# Pixel clocks of CTA-861, MHz: 2 us are so many samples.
@pytest.mark.parametrize("mode, mhz", [("1080p", 148.5), ("720p", 74.25), ("480p", 27.0), ("240p", 13.5)])
@pytest.mark.parametrize("aspect", ["16:9", "4:3"])
def test_the_white_patch_lasts_for_an_oscilloscope(mode: str, mhz: float, aspect: str) -> None:
    """At least 2 us of the mode's own line (common practice), measured in the picture."""
    made = levels_chart(mode, aspect=aspect)
    (patch,) = group(made, "white 100")
    line = to_codes(made.frame)[patch["top"] + 1]
    white = np.all(line == 255, axis=1)
    assert white.sum() / mhz >= 2
    assert white.sum() == patch["right"] - patch["left"]
    assert made.truth["scope"]["microseconds"] == pytest.approx(white.sum() / mhz, abs=0.001)


@pytest.mark.parametrize("mode, aspect, value_range", KINDS)
def test_the_ramp_is_smooth_and_holds_every_code(mode: str, aspect: str, value_range: str) -> None:
    made = chart(mode, aspect, value_range)
    ramp = made.truth["ramp"]
    codes = cut(made, ramp)[0, :, 0].astype(int)
    assert np.all(cut(made, ramp) == codes[None, :, None])
    assert (codes[0], codes[-1]) == (CODINGS[value_range].black, CODINGS[value_range].white)
    assert set(np.diff(codes)) <= {0, 1}


@pytest.mark.parametrize("mode, aspect, value_range", KINDS)
def test_everything_lies_within_the_title_safe_area_nearly(mode: str, aspect: str, value_range: str) -> None:
    """Within 90 % of both dimensions (SMPTE ST 2046-1), and black outside, around a 4:3 area too."""
    made = chart(mode, aspect, value_range)
    drawn = np.any(to_codes(made.frame) != made.truth["black_code"], axis=2)
    area = made.truth["area"]
    lines, samples = np.flatnonzero(drawn.any(axis=1)), np.flatnonzero(drawn.any(axis=0))
    high, wide = area["bottom"], area["right"] - area["left"]
    assert lines[0] >= 0.05 * high and lines[-1] < 0.95 * high
    assert samples[0] >= area["left"] + 0.05 * wide and samples[-1] < area["right"] - 0.05 * wide


def test_errors() -> None:
    with pytest.raises(ParameterError, match="range: 'ful' is not known; did you mean 'full'"):
        levels_chart("720p", value_range="ful")
    with pytest.raises(ParameterError, match="mode: '42p'"):
        levels_chart("42p")
