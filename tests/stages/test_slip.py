"""The slip stage: torn, repeated and dropped pictures of two clocks, against counts made by hand."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from scalesim.chain import Chain
from scalesim.core.picture import Picture
from scalesim.core.raster import TOP_FIRST, Raster
from scalesim.core.slip import SlipLaw
from scalesim.errors import ParameterError
from scalesim.stages.slip import Slip

FRAME = Raster(10, 2)


def shown(text: str, count: int, raster: Raster = FRAME) -> list[list[int]]:
    """Return the source picture's number on each line of each output picture."""
    clip = (
        Picture(np.full((raster.lines, 2, 3), n, np.float32), raster, n / raster.rate) for n in range(count)
    )
    return [picture.values[:, 0, 0].astype(int).tolist() for picture in Chain(text).run(clip)]


def test_50_into_60_repeats_every_fifth() -> None:
    """Six output pictures for five: floor(5k/6) is 0 0 1 2 3 4 | 5 5 6 ..., worked out by hand."""
    found = shown("slip rate_in=50 rate_out=60 buffer=frame", 12)
    assert [lines[0] for lines in found[:12]] == [0, 0, 1, 2, 3, 4, 5, 5, 6, 7, 8, 9]
    assert all(len(set(lines)) == 1 for lines in found)


def test_60_into_50_drops_every_sixth() -> None:
    """floor(6k/5): 0 1 2 3 4 | 6 7 8 9 10 | 12."""
    assert [lines[0] for lines in shown("slip rate_in=60 rate_out=50 buffer=frame", 13)] == [
        *range(5),
        *range(6, 11),
        12,
    ]


def test_one_repeat_in_1001_pictures() -> None:
    """59.94 into 60: exactly one repeat every 1001 output pictures, 16.6833 s (standards.md section 9)."""
    law = SlipLaw(Fraction(60000, 1001) / 60, 4, whole=True)
    numbers = [int(law.shown(k)[0]) for k in range(3 * 1001 + 1)]
    repeats = [k for k in range(1, len(numbers)) if numbers[k] == numbers[k - 1]]
    assert np.diff(repeats).tolist() == [1001, 1001]
    assert set(np.diff(numbers)) == {0, 1}


@pytest.mark.parametrize(
    ("rate_in", "rate_out"), [(60, 50), (50, 60), (61, 60), (59, 60), (30, 60), (60, 24)]
)
def test_a_tear_shows_the_picture_that_is_current_at_each_line(rate_in: int, rate_out: int) -> None:
    """Independent: the time of each line as a float, away from the instants at which the source changes."""
    found = shown(f"slip rate_in={rate_in} rate_out={rate_out} start=1/97", 200)
    assert len(found) == pytest.approx(200 * rate_out / rate_in, abs=2)
    for k, lines in enumerate(found):
        times = (k + np.arange(10) / 10) / rate_out
        assert lines == np.floor(times * rate_in + 1 / 97).astype(int).tolist()


def test_the_tear_rolls() -> None:
    """60 to 60000/1001: a tear starts at the foot and rises 1/1001 of the height with each picture."""
    law = SlipLaw(Fraction(60) / Fraction(60000, 1001), 1001)
    # line r changes where k (1/1000) + r/1001 x 1001/1000 reaches 1: r = 1000 - k
    assert [law.tears(k) for k in (0, 1, 2, 500, 999, 1000)] == [
        (1000,),
        (999,),
        (998,),
        (500,),
        (1,),
        (1000,),
    ]


def test_one_memory_tears_within_a_few_pictures_only() -> None:
    """Writing as fast as reading: the tear is there while the clocks cross, and nowhere else."""
    law = SlipLaw(Fraction(60) / Fraction(60000, 1001), 1001, fill=Fraction(1), start=Fraction(1, 7))
    torn = [k for k in range(2002) if law.tears(k)]
    assert len(torn) == 2 and torn[1] - torn[0] == 1000
    slower = SlipLaw(Fraction(60) / Fraction(60000, 1001), 1001, fill=Fraction(24, 25), scan=Fraction(11, 12))
    torn = [k for k in range(500, 1500) if slower.tears(k)]
    # they cross while the place moves by 24/25 - 11/12 x 1.001 = 0.0424, at 0.001 a picture
    assert len(torn) in (42, 43)


def test_fields_keep_their_parity() -> None:
    fields = Raster(10, 2, fields=TOP_FIRST)
    for text in ("slip rate_out=61", "slip rate_out=59 buffer=frame", "slip rate_out=50"):
        found = shown(text, 120, fields)
        assert all(n % 2 == k % 2 for k, lines in enumerate(found) for n in lines), text
        assert len(found) > 90


def test_rates_times_and_names() -> None:
    after = Slip(rate_out=59.94).raster(FRAME)
    assert after.rate == Fraction(60000, 1001)
    clip = (Picture(np.zeros((10, 2, 3), np.float32), FRAME, n / FRAME.rate) for n in range(5))
    assert [p.time for p in Chain("slip rate_out=50 buffer=frame").run(clip)] == [
        Fraction(k, 50) for k in range(5)
    ]
    assert Chain("slip rate_out=60").resolve(FRAME.with_(rate=Fraction(50))).pace == Fraction(6, 5)
    assert Chain("slip rate_in=60000/1001 rate_out=60").resolve(FRAME).pace == Fraction(1001, 1000)


@pytest.mark.parametrize(
    "text", ["slip rate_in=60000/1001 rate_out=59.94 start=1/3", "slip rate_out=60 fill=1"]
)
def test_text_and_toml_keep_fractions(text: str) -> None:
    assert str(Chain(text)) == text
    assert Chain.from_toml(Chain(text).to_toml()) == Chain(text)


@pytest.mark.parametrize(
    "text", ["slip rate_out=0", "slip", "slip rate_out=60 buffer=triple", "slip rate_out=1/0"]
)
def test_refused(text: str) -> None:
    with pytest.raises(ParameterError, match=r"rate_out|buffer"):
        Chain(text)
