"""Displays: BT.1886 against colour-science and printed figures, and what is refused."""

from __future__ import annotations

import dataclasses
import math
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from scalesim.errors import ParameterError
from scalesim.tube.display import DISPLAYS, Display, display_named, displays_from_toml

GOOD: dict[str, Any] = {
    "name": "study",
    "diagonal_mm": 500,
    "aspect": "4:3",
    "tv_lines": 400,
    "beam_width": 0.7,
    "white_cd_m2": 100,
    "black_cd_m2": 0.1,
}


def display(**changes: Any) -> Display:
    """A good display with some keys changed."""
    return Display(**{**GOOD, **changes})


@pytest.mark.parametrize(
    ("code", "luminance"),
    [(0.1, 1.063785627), (0.25, 5.218497320), (0.5, 21.604911167), (0.75, 52.420832394), (0.9, 78.826880576)],
)
def test_bt1886_printed_figures(code: float, luminance: float) -> None:
    """ITU-R BT.1886 Annex 1 with L_B = 0.1, L_W = 100; worked out with colour-science `eotf_BT1886`."""
    assert 100 * display().light(np.array([code]))[0] == pytest.approx(luminance, rel=1e-9)
    # a display with another black is another curve
    assert 100 * display(black_cd_m2=1).light(np.array([code]))[0] != pytest.approx(luminance, rel=1e-3)


def test_bt1886_against_colour_science() -> None:
    """The whole curve, float64 and float32; white is 1 and black the stated share."""
    import colour

    codes = np.linspace(0, 1, 501)
    for black, white in ((0.0, 80.0), (0.1, 100.0), (2.0, 300.0)):
        shown = display(black_cd_m2=black, white_cd_m2=white)
        theirs = np.asarray(colour.models.eotf_BT1886(codes, L_B=black, L_W=white)) / white
        assert np.abs(shown.light(codes) - theirs).max() < 1e-12
        narrow = shown.light(codes.astype(np.float32))
        assert narrow.dtype == np.float32 and np.abs(narrow - theirs).max() < 2e-6
        assert theirs[0] == pytest.approx(black / white)


def test_below_black_is_dark_and_above_white_is_brighter() -> None:
    light = display().light(np.array([-1.0, 0.0, 1.2]))
    assert light[0] == 0 and light[1] == pytest.approx(0.001) and light[2] > 1.5


def test_height_of_the_picture() -> None:
    """3-4-5: a 4:3 picture of 500 mm diagonal is 300 mm high."""
    assert display().height_mm == pytest.approx(300)
    assert display(aspect="16:9").height_mm == pytest.approx(500 * 9 / math.sqrt(337))


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("beam_width", -0.5, "beam_width is -0.5; it must be a number at least 0.1"),
        ("beam_width", math.nan, "beam_width is nan"),
        ("beam_growth", 0.5, "at least 1"),
        ("beam_growth", "2", "beam_growth is '2'"),
        ("tv_lines", True, "tv_lines is True"),
        ("tv_lines", math.inf, "tv_lines is inf"),
        ("tv_lines", None, "tv_lines is None"),
        ("diagonal_mm", 0, "at least 50"),
        ("white_cd_m2", 0, "above 0"),
        ("black_cd_m2", 100, "below white_cd_m2"),
        ("overscan_percent", 60, "at most 50"),
        ("aspect", "3:2", "valid: 4:3, 16:9"),
        ("aspect", 1.5, "valid: 4:3, 16:9"),
        ("aspect", Fraction(3, 2), "valid: 4:3, 16:9"),
        ("mask", "stripe", "did you mean 'stripes'?"),
        ("mask", 3, "valid: none"),
        ("mask_pitch_mm", -1, "at least 0.05"),
        ("decay_ms", (1.0, 0.1), "three numbers"),
        ("decay_ms", 1.0, "three numbers"),
        ("decay_ms", (1.0, 0.0, 0.1), "above 0"),
        ("name", "", "a text in quotes"),
        ("name", 7, "a text in quotes"),
    ],
)
def test_refused_in_one_line(key: str, value: Any, words: str) -> None:
    with pytest.raises(ParameterError) as refused:
        display(**{key: value})
    text = str(refused.value)
    assert words in text and "\n" not in text and len(text) < 220


def test_toml() -> None:
    """One display by its keys, several by tables, and what is wrong with a file."""
    text = "\n".join(f"{key} = {value!r}" for key, value in GOOD.items())
    assert Display.from_toml(text) == display()
    assert displays_from_toml(f"[a]\n{text}\n[b]\n{text}\nbeam_growth = 2") == {
        "a": display(),
        "b": display(beam_growth=2),
    }
    for wrong, words in (
        (text + "\nbeam_widht = 1", "unknown key 'beam_widht'; did you mean 'beam_width'?"),
        (text.replace("tv_lines = 400", ""), "key 'tv_lines' is missing"),
        (text.replace("'4:3'", "4:3"), "not valid TOML"),
        ("beam_width =", "not valid TOML"),
    ):
        with pytest.raises(ParameterError, match=words.replace("?", r"\?")) as refused:
            Display.from_toml(wrong)
        assert "\n" not in str(refused.value)
    for wrong in ("", text):
        with pytest.raises(ParameterError, match="table"):
            displays_from_toml(wrong)


def test_shipped() -> None:
    """Keys say what the display is: its diagonal in cm and its TV lines."""
    assert {"studio-36cm-800", "livingroom-68cm-350", "kitchen-36cm-280"} <= set(DISPLAYS)
    for key, shown in DISPLAYS.items():
        assert f"-{shown.diagonal_mm / 10:.0f}cm-" in key and key.endswith(f"-{shown.tv_lines:.0f}")
        assert (
            f"{shown.diagonal_mm / 10:.0f} cm" in shown.name
            and f"{shown.tv_lines:.0f} TV lines" in shown.name
        )
        assert dataclasses.replace(shown) == shown
    assert display_named("kitchen-36cm-280") is DISPLAYS["kitchen-36cm-280"]
    with pytest.raises(ParameterError, match="did you mean 'kitchen-36cm-280'"):
        display_named("kitchen-36cm-300")
