"""The counter chart: its code is the one the books describe, every mode carries it, and it flashes no one."""

from __future__ import annotations

import json
from collections import Counter

import numpy as np
import pytest

from scalesim.charts.counter import code
from scalesim.charts.counter.draw import counter_chart, counter_frames
from scalesim.charts.counter.layout import CELL, COPY_AT, HIGH, LOW, STRIP, UNITS, layout
from scalesim.core.mode import MODES
from scalesim.errors import ParameterError
from scalesim.signal.flashes.meter import FlashMeter

FAMILIES = sorted({(m.frame_lines, m.samples, m.interlaced): name for name, m in MODES.items()}.values())


def test_the_words_are_those_of_the_extended_golay_code() -> None:
    """Weights 0, 8, 12, 16, 24 occur 1, 759, 2576, 759 and 1 times.

    Source: MacWilliams and Sloane, "The Theory of Error-Correcting Codes", 1977, chapter 2 (from memory).
    """
    plain = code.words()[0] ^ code.MASKS[0]
    weights = Counter(int(word).bit_count() for word in plain)
    assert weights == {0: 1, 8: 759, 12: 2576, 16: 759, 24: 1}


@pytest.mark.parametrize("copy", [0, 1])
def test_three_wrong_cells_are_put_right_and_four_are_refused(copy: int) -> None:
    random = np.random.RandomState(1)
    words = code.words()[copy]
    for wrong in range(5):
        cells = [random.choice(24, wrong, replace=False) for _ in words]
        error = np.array([sum(1 << int(cell) for cell in chosen) for chosen in cells])
        numbers, distance = code.numbers_of(words ^ error, copy)
        assert (distance == wrong).all()
        assert (numbers == np.arange(4096)).all() or wrong == code.REFUSED


@pytest.mark.parametrize("copy", [0, 1])
def test_flat_lines_are_no_number(copy: int) -> None:
    flat = np.array([0, 2**24 - 1])
    assert (code.numbers_of(flat, copy)[1] == code.REFUSED).all()
    unmasked = flat ^ code.MASKS[copy]
    assert (code.numbers_of(unmasked, copy)[1] == 0).all()  # without the mask they would be


def test_no_cell_stands_still() -> None:
    cells = code.cells().reshape(4096, -1)
    cells = np.concatenate([cells, cells[:10]])
    for start in range(4096):
        assert np.ptp(cells[start : start + 10], axis=0).all(), start


def spelled(line: np.ndarray, left: float, share: float) -> tuple[int, int]:
    """Return the number a line's two copies spell, by its truth alone, sample by sample."""
    found = []
    for copy, at in enumerate(COPY_AT):
        units = at + CELL * (np.arange(STRIP) + 0.5)
        places = ((left + share * units / UNITS) * len(line)).astype(int)
        high = line[places] > (LOW + HIGH) / 2
        assert high[0] and high[-1] and not high[1] and not high[-2]
        word = int("".join("1" if cell else "0" for cell in high[2:-2]), 2)
        found.append(int(np.flatnonzero(code.words()[copy] == word)[0]))
    return found[0], found[1]


@pytest.mark.parametrize("mode", FAMILIES)
def test_every_line_spells_the_number_in_every_mode(mode: str) -> None:
    plan = layout(mode)
    fields = 2 if plan.mode.interlaced else 1
    for index, frame in enumerate(counter_frames(plan, 2, first=4095)):
        assert frame.shape == (plan.mode.frame_lines, plan.mode.samples) and frame.dtype == np.uint8
        for line in (0, 1, 2, 3, frame.shape[0] // 2, frame.shape[0] - 1):
            number = (4095 + index * fields + line % fields) % 4096
            assert spelled((frame[line] - 16.0) / 219, plan.left, plan.share) == (number, number)


def test_in_the_centre_of_a_wide_picture_it_fits_a_narrow_one() -> None:
    plan = layout("720p60", aspect="4:3")
    frame = next(counter_frames(plan))
    assert spelled((frame[0] - 16.0) / 219, plan.left, plan.share) == (0, 0)
    assert plan.samples(COPY_AT[0]) > 160 + 0.08 * 960  # 8 % of the middle may be cropped
    outer = np.delete(frame[0], np.s_[160:1120])
    assert (outer == outer[0]).all()


def test_a_crop_of_eight_percent_leaves_both_copies() -> None:
    assert COPY_AT[0] - CELL > 0.08 * UNITS and COPY_AT[1] + (STRIP + 1) * CELL < 0.92 * UNITS


@pytest.mark.parametrize("mode", ["240p", "480i"])
def test_it_flashes_nobody(mode: str) -> None:
    """The limits are those of WCAG 2.3.1 and ITU-R BT.1702-3, as the guard of all clips counts them."""
    plan = layout(mode)
    fields = 2 if plan.mode.interlaced else 1
    meters = [FlashMeter(plan.mode.rate), FlashMeter(plan.mode.rate)]
    for frame in counter_frames(plan, 75 // fields):
        for parity in range(fields):
            luma = (
                ((frame[parity::fields][::16].astype(float) - 16) / 219 * 255 + 0.5)
                .clip(0, 255)
                .astype(np.uint8)
            )
            grey = np.repeat(luma[..., None], 3, axis=2)
            meters[0].add(grey)
            meters[1].add(np.minimum(grey.astype(int) * 2, 255).astype(np.uint8))
    assert meters[0].report().passes
    assert not meters[1].report().passes  # with twice the contrast it would not


def test_the_chart_says_all_about_itself() -> None:
    chart = counter_chart("480i")
    assert chart.frame.shape == (480, 720, 3) and chart.frame.dtype == np.float32
    truth = json.loads(json.dumps(chart.truth, allow_nan=False))
    assert truth["mode"] == "480i59.94" and truth["interlaced"] and truth["rate_hz"] == [60000, 1001]
    # The truth alone gives number 5's left copy.
    message = 5 * int(truth["code"]["message"].split("*")[1].split()[0]) % truth["wraps_at"]
    rest = message << 11
    for bit in range(22, 10, -1):
        rest ^= (truth["code"]["generator"] << bit - 11) if rest >> bit & 1 else 0
    word = (message << 11 | rest) << 1
    word |= word.bit_count() & 1
    assert word ^ truth["code"]["masks"][0] == code.words()[0, 5]


def test_what_is_not_known_is_refused() -> None:
    for bad in ({"mode": "719p"}, {"mode": "720p60", "aspect": "3:2"}):
        with pytest.raises(ParameterError):
            layout(**bad)


def test_masks_lie_four_cells_from_every_word() -> None:
    plain = code.words()[0] ^ code.MASKS[0]
    for mask in code.MASKS:
        assert min(int(word ^ mask).bit_count() for word in plain) == 4
