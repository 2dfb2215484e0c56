"""Fields any fraction of a line apart: painted area-exact, against lines drawn 80 times as fine."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.chain.coverage import coverage
from scalesim.core.encoding import code_to_light, light_to_code
from scalesim.core.landed import landed
from scalesim.core.raster import Field, Raster
from scalesim.metrics.flicker.percent import flicker_map

FINE = 80


def raster_at(landing: Fraction, lines: int = 6, *, bottom_first: bool = False) -> Raster:
    fields = (Field(0, Fraction(0)), Field(1, landing))
    return Raster(lines, 1, fields=fields[::-1] if bottom_first else fields)


def brute(fields: list[NDArray], landing: Fraction, lines: int) -> NDArray:
    """Return the light on half pitches: each line over the wider gap, the mean where two lines overlap.

    Painted on an endless raster of the same pattern for the shares, one sub-row at a time.
    """
    away = abs(landing - round(landing))
    height = float(1 - away) * FINE
    rows = np.arange(lines * FINE) + 0.5
    light = np.zeros(lines * FINE)
    for y, row in enumerate(rows):
        covering = []
        for place, values in ((0.0, fields[0]), (float(landing), fields[1])):
            line = np.floor((row - place * FINE) / FINE)
            if (row - place * FINE) - line * FINE < height:
                covering.append(values[int(line)] if 0 <= line < lines else 0.0)
        light[y] = sum(covering) / len(covering)
    return light.reshape(-1, FINE // 2).mean(axis=1)


@pytest.mark.parametrize("eighths", [-4, -1, 1, 2, 3, 5, 6, 7, 9, 12])
def test_a_fraction_is_painted_area_exact(eighths: int) -> None:
    random = np.random.RandomState(eighths + 20)
    fields = [random.uniform(0, 1, (6, 1, 1)) for _ in (0, 1)]
    landing = Fraction(eighths, 8)
    raster = raster_at(landing)
    found = code_to_light(landed(fields, raster))[:, 0, 0]
    if raster.scan == "interlaced":
        assert raster.landed_rows == 2
    wanted = brute([code_to_light(each)[:, 0, 0] for each in fields], landing, 6)
    assert found == pytest.approx(wanted, abs=1e-9)
    other = landed(fields[::-1], raster_at(landing, bottom_first=True))
    assert np.array_equal(other, landed(fields, raster))


def test_half_a_line_is_woven_exactly_and_whole_lines_are_means() -> None:
    random = np.random.RandomState(1)
    one, two = (random.uniform(0, 1, (6, 1, 1)) for _ in (0, 1))
    half = landed([one, two], raster_at(Fraction(1, 2)))
    assert np.array_equal(half[0::2], one) and np.array_equal(half[1::2], two)
    mean = landed([one, two], raster_at(Fraction(0)))
    assert np.allclose(mean, light_to_code((code_to_light(one) + code_to_light(two)) / 2))


@pytest.mark.parametrize("eighths", range(9))
def test_white_is_white_and_every_line_gives_the_same_light(eighths: int) -> None:
    raster = raster_at(Fraction(eighths, 8), 8)
    white = np.ones((8, 1, 1))
    seen = landed([white, white], raster)[4:-4]
    assert np.allclose(seen, 1)
    for field in (0, 1):
        one = [np.zeros((8, 1, 1)), np.zeros((8, 1, 1))]
        one[field][3] = 1.0
        light = code_to_light(landed(one, raster)).sum() * raster.landed_pitch
        assert light == pytest.approx(0.5), (eighths, field)


def test_an_eighth_more_is_not_a_half() -> None:
    """What was cut off to whole halves before is painted now: the check of a truncation."""
    fields = [np.ones((4, 1, 1)), np.zeros((4, 1, 1))]
    five, half = (landed(fields, raster_at(Fraction(k, 8), 4)) for k in (5, 4))
    assert not np.allclose(five, half)


@pytest.mark.parametrize("eighths", [0, 3, 4, 5, 8])
def test_weights_are_those_of_the_picture(eighths: int) -> None:
    """Coverage times the source's light is the landed light, where the chain chooses lines."""
    landing = Fraction(eighths, 8)
    chain = Chain("interlace")
    source = Raster(12, 1)

    def lands(raster: Raster) -> Raster:
        return raster.with_(fields=(Field(0, Fraction(0)), Field(1, landing)))

    resolved = chain.landing(lands).resolve(source)
    frame = np.random.RandomState(3).uniform(0, 1, (12, 1, 1))
    weights = coverage(resolved)
    assert weights is not None and weights.shape == (resolved.output.landed_lines, 12)
    seen = code_to_light(landed([frame[0::2], frame[1::2]], resolved.output))[:, 0, 0]
    assert weights @ code_to_light(frame)[:, 0, 0] == pytest.approx(seen, abs=1e-9)


def test_where_lines_look_is_where_they_are_painted() -> None:
    """The centre of the light of a line is where the landed map puts it, at every landing."""
    for eighths in range(9):
        raster = raster_at(Fraction(eighths, 8), 9)
        for field in (0, 1):
            one = [np.zeros((9, 1, 1)), np.zeros((9, 1, 1))]
            one[field][4] = 1.0
            light = code_to_light(landed(one, raster))[:, 0, 0]
            centre = float((light * (np.arange(len(light)) + 0.5)).sum() / light.sum())
            # where two lines overlap they share evenly, so the centre moves by less than an eighth
            told = raster.picture_of_landed(field).inverse()(4.5)
            assert centre * raster.landed_pitch == pytest.approx(told * raster.landed_pitch, abs=1 / 8)


def test_flicker_of_flat_fields_is_nothing_and_of_one_field_all() -> None:
    for eighths in (3, 5, 8):
        raster = raster_at(Fraction(eighths, 8), 6)
        grey = np.full((6, 1, 3), 0.5)
        assert flicker_map((grey, grey), raster).max() == pytest.approx(0)
        assert flicker_map((np.ones((6, 1, 3)), np.zeros((6, 1, 3))), raster).min() == pytest.approx(100)
