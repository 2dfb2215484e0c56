"""Flicker against values derived by hand, on both landings."""

from __future__ import annotations

import numpy as np
import pytest
from metrics.evidence import evidence_of, grey

from scalesim.metrics.flicker.percent import flicker_area, flicker_map, flicker_p95, flicker_percent


def lines_lit(*lit: int, total: int = 480) -> np.ndarray:
    """A black frame with some white lines."""
    values = np.zeros(total)
    values[list(lit)] = 1.0
    return grey(values, 32)


def rows_of(chain: str, frame: np.ndarray) -> np.ndarray:
    """Return the flicker of each painted row, percent."""
    evidence = evidence_of(frame, chain)
    return flicker_map(evidence.pictures, evidence.raster)[:, 0]


def test_one_bright_line_unfiltered() -> None:
    """Line 100 lives in the top field: painted 1/2, 1, 1/2 by it and not at all by the other."""
    rows = rows_of("interlace", lines_lit(100))
    assert np.count_nonzero(rows) == 3
    assert sorted(rows)[-3:] == pytest.approx([50, 50, 100])


def test_one_bright_line_after_1_2_1_in_light() -> None:
    """Code values 1/4, 1/2, 1/4: light 0.5^2.4 in one field, 0.25^2.4 on either side in the other."""
    rows = rows_of("flicker-filter, interlace", lines_lit(100))
    middle, side = 0.5**2.4, 0.25**2.4
    # painted by its own field: middle; by the other: the mean of its two lines, side
    assert rows.max() == pytest.approx(100 * (middle - side), rel=1e-4)


def test_flat_is_zero_and_so_is_progressive() -> None:
    """A flat field gives exactly 0 up to the border; so does a progressive picture."""
    assert rows_of("interlace", grey(np.full(480, 0.6), 32)).max() == 0
    steady = evidence_of(lines_lit(100), "line-drop lines=240")
    assert flicker_percent(steady) == flicker_p95(steady) == flicker_area(steady) == (0,)


def test_two_line_bar_on_one_set_of_lines() -> None:
    """Aligned with a pair (lines 100, 101) it does not flicker; across pairs (101, 102) it does, by 100 %."""
    assert rows_of("interlace, field-only", lines_lit(100, 101)).max() == 0
    assert rows_of("interlace, field-only", lines_lit(101, 102)).max() == pytest.approx(100)
    assert rows_of("interlace, field-only pair=up", lines_lit(101, 102)).max() == 0
    assert rows_of("interlace, field-only pair=up", lines_lit(100, 101)).max() == pytest.approx(100)


def test_paired_is_exactly_steady_in_its_own_pairs() -> None:
    """The mean of each pair in both fields: zero with pair=down, not with pair=up."""
    frame = np.random.RandomState(5).rand(480, 64, 3).astype(np.float32)
    assert flicker_percent(evidence_of(frame, "flicker-filter taps=paired, interlace, field-only"))[0] == 0
    assert (
        flicker_percent(evidence_of(frame, "flicker-filter taps=paired, interlace, field-only pair=up"))[0]
        > 1
    )


def test_area_and_percentile() -> None:
    """Three of 477 rows flicker: their share is the area, and 5 % of the rows exceed nothing."""
    evidence = evidence_of(lines_lit(100), "interlace")
    (mean,), (p95,), (area,) = flicker_percent(evidence), flicker_p95(evidence), flicker_area(evidence)
    rows = len(rows_of("interlace", lines_lit(100)))
    assert area == pytest.approx(100 * 3 / rows)
    assert mean == pytest.approx(200 / rows)
    assert p95 == 0


def test_bobbing_progressive_pictures_flicker_too() -> None:
    """A box that bobs 480i sends two pictures in turn: that is flicker, progressive or not."""
    frame = grey(np.where(np.arange(480) == 100, 1.0, 0.0), 720)
    assert flicker_percent(evidence_of(frame, "deinterlace how=bob", mode="480i"))[0] > 0
    assert flicker_percent(evidence_of(frame, "deinterlace how=weave", mode="480i"))[0] == 0
