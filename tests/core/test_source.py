"""From the size of a picture (and a mode) to its raster."""

from __future__ import annotations

from fractions import Fraction

import pytest

from scalesim.core.raster import PROGRESSIVE, TOP_FIRST
from scalesim.core.source import source_mode
from scalesim.errors import ParameterError


@pytest.mark.parametrize(
    ("size", "name", "rate"),
    [
        ((720, 1280), "720p60", Fraction(60)),
        ((1080, 1920), "1080p60", Fraction(60)),
        ((480, 720), "480p59.94", Fraction(60000, 1001)),
        ((576, 720), "576p50", Fraction(50)),
    ],
)
def test_guessed(size: tuple[int, int], name: str, rate: Fraction) -> None:
    source = source_mode(*size)
    assert (source.name, source.raster.rate) == (name, rate)
    assert (source.raster.lines, source.raster.samples, source.raster.fields) == (*size, PROGRESSIVE)
    assert len(source.notes) == 1 and name in source.notes[0]


def test_given_interlaced() -> None:
    source = source_mode(1080, 1920, "1080i")
    assert (source.raster.lines, source.raster.frame_lines, source.raster.fields) == (540, 1080, TOP_FIRST)
    assert (source.raster.rate, source.raster.aspect, source.notes) == (60, Fraction(16, 9), ())


def test_given_with_other_samples_says_so() -> None:
    source = source_mode(480, 640, "480p")
    assert source.raster.samples == 640 and source.raster.aspect == Fraction(4, 3)
    assert source.notes == ("640 samples a line taken for the 720 of 480p59.94",)


@pytest.mark.parametrize("mode", [None, "custom", " Custom "])
def test_custom(mode: str | None) -> None:
    source = source_mode(224, 256, mode)
    assert (source.name, source.raster.lines, source.raster.samples) == ("custom", 224, 256)
    assert (source.raster.rate, source.raster.aspect) == (60, Fraction(256, 224))
    assert bool(source.notes) == (mode is None)


def test_custom_of_a_50_hertz_height() -> None:
    assert source_mode(288, 512).raster.rate == 50
    assert source_mode(576, 512).raster.rate == 50


def test_custom_can_be_forced_on_a_known_size() -> None:
    assert source_mode(720, 1280, "custom").name == "custom"


def test_refusals() -> None:
    with pytest.raises(ParameterError, match=r"mode 720p60: the picture has 700 lines; this mode has 720"):
        source_mode(700, 1280, "720p")
    with pytest.raises(ParameterError, match=r"mode: '721p' is not known; did you mean"):
        source_mode(720, 1280, "721p")
