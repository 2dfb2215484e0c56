"""Rasters: scans, landings, the three coordinates of height, visible windows."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scalesim.core.affine import IDENTITY, Affine, mean_affine
from scalesim.core.geometry import Geometry
from scalesim.core.raster import (
    BOTTOM_FIRST,
    PROGRESSIVE,
    TOP_FIRST,
    Field,
    Raster,
    Window,
    visible_slices,
)
from scalesim.errors import ShapeError

HALF = Fraction(1, 2)
DOWN = (Field(0, Fraction(0)), Field(1, Fraction(0)))
UP = (Field(0, Fraction(0)), Field(1, Fraction(1)))


@pytest.mark.parametrize(
    ("fields", "scan", "frame_lines", "landed_lines", "pitch"),
    [
        (PROGRESSIVE, "progressive", 240, 240, 1.0),
        (TOP_FIRST, "interlaced", 480, 480, 0.5),
        (BOTTOM_FIRST, "interlaced", 480, 480, 0.5),
        (DOWN, "field-only", 480, 240, 1.0),
        (UP, "field-only", 480, 240, 1.0),
    ],
)
def test_scan(
    fields: tuple[Field, ...], scan: str, frame_lines: int, landed_lines: int, pitch: float
) -> None:
    raster = Raster(240, 720, fields=fields)
    assert (raster.scan, raster.frame_lines, raster.landed_lines) == (scan, frame_lines, landed_lines)
    assert raster.landed_pitch == pitch and raster.period == len(fields)
    assert raster.landings == tuple(field.landing for field in fields)


@pytest.mark.parametrize(
    ("lines", "samples", "word"), [(0, 1, "lines is 0"), (1, 0, "samples is 0"), (-1, 1, "lines")]
)
def test_sizes_below_one_are_refused(lines: int, samples: int, word: str) -> None:
    with pytest.raises(ShapeError, match=word):
        Raster(lines, samples)


@pytest.mark.parametrize("fields", [TOP_FIRST, BOTTOM_FIRST])
def test_frame_of_picture(fields: tuple[Field, ...]) -> None:
    """Line i of parity q is frame line 2i + q: middle i + 1/2 -> 2i + q + 1/2."""
    raster = Raster(240, 1, fields=fields)
    for phase, field in enumerate(fields):
        for i in (0, 1, 239):
            assert raster.frame_of_picture(phase)(i + 0.5) == 2 * i + field.parity + 0.5
    assert Raster(240, 1).frame_of_picture(0) == IDENTITY


@pytest.mark.parametrize(
    ("fields", "phase", "landed_line", "picture_line"),
    [
        (TOP_FIRST, 0, 6, 3),  # field line i with landing l is centred at frame line 2(i + l) + 1/2
        (TOP_FIRST, 1, 7, 3),
        (BOTTOM_FIRST, 0, 7, 3),
        (BOTTOM_FIRST, 1, 6, 3),
        (DOWN, 0, 3, 3),
        (DOWN, 1, 3, 3),
        (UP, 0, 3, 3),
        (UP, 1, 4, 3),
        (PROGRESSIVE, 0, 3, 3),
    ],
)
def test_picture_of_landed(
    fields: tuple[Field, ...], phase: int, landed_line: int, picture_line: int
) -> None:
    raster = Raster(240, 1, fields=fields)
    assert raster.picture_of_landed(phase)(landed_line + 0.5) == picture_line + 0.5


def test_pairing_in_words() -> None:
    """pair=down: frame lines 2k and 2k+1 share a scan line; pair=up: 2k and 2k-1 do."""

    def scan_line(raster: Raster, frame_line: int) -> float:
        parity = frame_line % 2
        u = raster.frame_of_picture(parity).inverse()(frame_line + 0.5)
        return raster.picture_of_landed(parity).inverse()(u) - 0.5

    down, up = Raster(240, 1, fields=DOWN), Raster(240, 1, fields=UP)
    assert scan_line(down, 6) == scan_line(down, 7) == 3
    assert scan_line(up, 6) == scan_line(up, 5) == 3


@given(st.floats(0.2, 4), st.floats(-9, 9), st.sampled_from([TOP_FIRST, BOTTOM_FIRST, DOWN, UP, PROGRESSIVE]))
def test_on_screen_is_one_zoom_for_every_field(
    scale: float, offset: float, fields: tuple[Field, ...]
) -> None:
    raster = Raster(240, 1, fields=fields)
    zoom = Affine(scale, offset)
    for phase, own in enumerate(raster.on_screen(zoom)):
        landed_to_own = raster.picture_of_landed(phase)
        for v in (0.0, 17.25, 200.0):
            assert own(landed_to_own(v)) == pytest.approx(landed_to_own(zoom(v)), abs=1e-9)


def test_on_screen_of_nothing_is_exactly_nothing() -> None:
    assert Raster(240, 1, fields=TOP_FIRST).on_screen(IDENTITY) == (IDENTITY, IDENTITY)


def test_describe() -> None:
    assert Raster(720, 1280).describe() == "720 lines, 1280 samples, progressive"
    assert Raster(240, 720, fields=TOP_FIRST).describe() == "2 x 240 lines, 720 samples, interlaced"
    assert Raster(240, 720, fields=UP).describe() == "2 x 240 lines, 720 samples, field-only"


def test_with_changes_only_what_is_named() -> None:
    raster = Raster(240, 720, Fraction(50), TOP_FIRST, Fraction(4, 3), Window(0.1))
    assert raster.with_(lines=120) == Raster(120, 720, Fraction(50), TOP_FIRST, Fraction(4, 3), Window(0.1))
    with pytest.raises(ShapeError):
        raster.with_(lines=0)


# affine


@given(st.floats(0.1, 5), st.floats(-9, 9), st.floats(0.1, 5), st.floats(-9, 9), st.floats(-99, 99))
def test_affine_composes_and_inverts(a: float, b: float, c: float, d: float, x: float) -> None:
    first, second = Affine(a, b), Affine(c, d)
    assert second.after(first)(x) == pytest.approx(first(second(x)), abs=1e-8)
    assert first.inverse()(first(x)) == pytest.approx(x, abs=1e-7)


def test_mean_affine() -> None:
    assert mean_affine([Affine(2, 0), Affine(4, 1)]) == Affine(3, 0.5)


# visible


@pytest.mark.parametrize(
    ("window", "lines", "samples", "expected"),
    [
        (Window(), 240, 720, (0, 240, 0, 720)),
        (Window(0.025, 0.975, 0.025, 0.975), 240, 720, (6, 234, 18, 702)),
        (Window(0.1, 0.9, 0, 1), 9, 4, (1, 8, 0, 4)),  # 0.9 and 8.1: only whole lines inside
        (Window(1 / 3, 2 / 3), 3, 3, (1, 2, 0, 3)),  # binary thirds count as whole
        (Window(0.45, 0.55), 3, 3, (2, 3, 0, 3)),  # no whole line inside: one is kept all the same
        (Window(0.999, 1.0), 3, 3, (2, 3, 0, 3)),
    ],
)
def test_visible_slices(window: Window, lines: int, samples: int, expected: tuple[int, ...]) -> None:
    rows, columns = visible_slices(Raster(lines, samples, visible=window), lines, samples)
    assert (rows.start, rows.stop, columns.start, columns.stop) == expected


# geometry


def test_geometry_of_source() -> None:
    geometry = Geometry.of_source(Raster(540, 1920, fields=TOP_FIRST))
    assert geometry.lines == (Affine(2.0, -0.5), Affine(2.0, 0.5)) and geometry.samples == IDENTITY
    assert geometry.kept_lines == (0.0, 1080.0) and geometry.kept_samples == (0.0, 1920.0)


def test_geometry_landed_is_the_frame_itself_before_any_stage() -> None:
    for fields in (PROGRESSIVE, TOP_FIRST, BOTTOM_FIRST):
        raster = Raster(240, 8, fields=fields)
        assert Geometry.of_source(raster).landed(raster) == IDENTITY
