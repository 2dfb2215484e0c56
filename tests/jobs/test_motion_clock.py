"""The source's rate by where tears lie, on random pairs of clocks worked out with NumPy (`tear_events`)."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from jobs.test_motion import LINES, clip_of, source
from tear_events import Case, case, tears

from scalesim.jobs.motion.answer import MotionFound
from scalesim.jobs.motion.clock import AT_EDGE, FEWEST, UNSTEADY, Clocks, clocks_of
from scalesim.jobs.motion.clock_words import roll_words, with_error
from scalesim.jobs.motion.motion import motion
from scalesim.jobs.motion.rates import Roll


def _checked(random: np.random.RandomState, count: int, longest: float) -> None:
    """Two standard errors hold nine of ten, and none is another roll taken for this one."""
    off, told, could = [], 0, 0
    for _ in range(count):
        of = case(random, longest)
        events = tears(random, of)
        found = clocks_of(events, of.lines, of.output)
        could += len(events) >= 2 * FEWEST
        if isinstance(found, Clocks):
            told += 1
            off.append(abs(found.ratio - 1 - of.apart) / found.error)
            assert abs(found.ratio - 1 - of.apart) < 8 * found.error, of
    assert told >= 0.9 * could
    assert np.mean(np.array(off) <= 2) >= 0.9


def test_random_pairs_of_clocks() -> None:
    _checked(np.random.RandomState(71_001), 40, 5.0)


@pytest.mark.slow
def test_hundreds_of_pairs_of_clocks() -> None:
    _checked(np.random.RandomState(71_002), 400, 60.0)


@pytest.mark.parametrize("apart", [-2e-3, -1e-4, 1e-4, 2e-3])
def test_it_is_far_closer_than_counting(apart: float) -> None:
    """Counting tells 60 Hz to half a picture a second in two seconds; tears read to 0.2 line to 0.01."""
    of = Case(60 * (1 + apart), 60, 2.0, 240, 0.96, 0.2)
    found = clocks_of(tears(np.random.RandomState(3), of), 240, 60.0)
    assert isinstance(found, Clocks)
    assert found.apart_hz == pytest.approx(60 * apart, abs=3 * found.apart_error_hz)
    assert 2 * found.apart_error_hz < 0.02 and np.sign(found.apart_hz) == np.sign(apart)
    assert found.drift_us_per_s == pytest.approx(
        1e6 * (of.source - 60) / of.source, abs=1e6 * 3 * found.error
    )


def test_blanking_is_measured_once_the_tear_has_passed() -> None:
    random = np.random.RandomState(4)
    fast = clocks_of(tears(random, Case(60.6, 60, 5, 240, 0.91, 0.2)), 240, 60.0)
    slow = clocks_of(tears(random, Case(60.001, 60, 5, 240, 0.91, 0.2)), 240, 60.0)
    assert isinstance(fast, Clocks) and isinstance(slow, Clocks)
    assert fast.measured and not slow.measured


def test_whole_lines_hide_a_slow_roll() -> None:
    """A tear that moves by half a line in the capture, told to whole lines, is not taken for standing."""
    off = []
    for seed in range(12):
        random = np.random.RandomState(seed)
        of = Case(60 * (1 + 5e-6), 60, 10.0, 480, 0.95, 0.0, True)
        found = clocks_of(tears(random, of), 480, 60.0)
        if isinstance(found, Clocks):  # the rest stand in blanking
            off.append(abs(found.ratio - 1 - of.apart) / found.error)
    assert len(off) >= 8 and np.mean(np.array(off) <= 2) >= 0.9


def test_tears_at_random_tell_nothing() -> None:
    random = np.random.RandomState(5)
    events = [
        replace(each, line=random.uniform(3, 237)) for each in tears(random, Case(60.1, 60, 5, 240, 0.95))
    ]
    assert clocks_of(events, 240, 60.0) == UNSTEADY
    few = clocks_of(events[: FEWEST - 1], 240, 60.0)
    assert isinstance(few, str) and few.startswith(f"{FEWEST - 1} tears")
    short = clocks_of(events[:24], 240, 60.0)
    assert isinstance(short, str) and "within 0.38 s" in short


def rolled(ratio: float, count: int) -> MotionFound:
    """Return what a capture tells whose lines show the source picture that its clock had reached."""
    frames, out = source(int(count * ratio) + 10), []
    for k in range(count):
        shown = np.floor(5.3 + k * ratio + np.arange(LINES) / LINES * 0.95 * ratio).astype(int)
        frame = frames[shown[0]].copy()
        for number in np.unique(shown):
            frame[shown == number] = frames[number][shown == number]
        out.append(frame)
    return motion(clip_of(out))


@pytest.mark.parametrize("ratio", [1.01, 1 / 1.001])
def test_a_torn_capture_says_how_far_the_clocks_are_apart(ratio: float) -> None:
    found = rolled(ratio, 80)
    apart = found.to_dict()["rate_apart"]
    assert apart["hz"] == pytest.approx(60 * (ratio - 1), abs=apart["error_hz"])
    assert apart["error_hz"] < 0.02 and apart["n"] >= 70
    (said,) = [each for each in found.sentences() if each.startswith("By where the tears lie")]
    hit = re.search(r"([0-9.]+) \u00b1 ([0-9.]+) Hz (more|less), ([0-9.]+) \u00b1 [0-9.]+ ppm", said)
    assert hit is not None and hit[3] == ("more" if ratio > 1 else "less")
    assert float(hit[1]) == pytest.approx(abs(apart["hz"]), abs=float(hit[2]))
    assert float(hit[4]) == pytest.approx(abs(apart["ppm"]), abs=apart["error_ppm"])
    assert f"n {apart['n']} tears" in said
    blanking = any("how much of the time is blanking" in each for each in found.sentences())
    assert blanking == (apart["blanking"] == "taken as usual") == (ratio < 1)


def test_few_tears_say_that_they_do_not_tell() -> None:
    found = rolled(1 / 1.001, 10)
    assert found.to_dict()["rate_apart"] is None and "it takes 12" in found.to_dict()["why"]["rate_apart"]
    assert "do not tell the rates apart" in " ".join(found.sentences())
    clean = motion(clip_of(source(70)))
    assert "do not tell" not in " ".join(clean.sentences())


def test_a_value_has_the_digits_of_its_error() -> None:
    assert with_error(59.940059, 0.00412) == "59.9401 \u00b1 0.0041"
    assert with_error(1234.5, 250.0) == "1234 \u00b1 250" and with_error(1.0, 0.96) == "1.00 \u00b1 0.96"


def test_a_tear_that_comes_round_fast_shows_no_direction() -> None:
    """36 pictures a second at 60: tears of neighbours are 168 lines lower or, a height on, 72 higher."""
    said = " ".join(rolled(0.6, 60).sentences())
    assert "72 lines higher, or 168 lower" in said and "rolls up" not in said


def test_a_picture_that_the_capture_lost_is_not_taken_for_a_drift() -> None:
    found = clocks_of(
        [
            replace(each, picture=each.picture - (each.picture > 150))
            for each in tears(np.random.RandomState(6), Case(60.06, 60, 5, 240, 0.95, 0.2))
        ],
        240,
        60.0,
    )
    assert found == UNSTEADY


def test_fields_are_timed_one_by_one() -> None:
    """Woven frames whose fields are read 120 times a second, of a source 0.2 % faster."""
    frames = source(90)
    captured = []
    for k in range(35):
        woven = np.empty((2 * LINES, frames[0].shape[1]), np.uint8)
        for parity in (0, 1):
            shown = np.floor(5.3 + (2 * k + parity + np.arange(LINES) / LINES * 0.92) * 1.002).astype(int)
            woven[parity::2] = np.stack([frames[n][line] for line, n in enumerate(shown)])
        captured.append(woven)
    apart = motion(clip_of(captured, "top")).to_dict()["rate_apart"]
    assert apart["hz"] == pytest.approx(0.24, abs=apart["error_hz"]) and apart["error_hz"] < 0.2


@pytest.mark.parametrize("seed", [9, 24])
def test_a_tear_that_stands_at_the_edge_is_not_timed(seed: int) -> None:
    """Only readings on one side of the edge are seen: such a line was off by 15 of its errors."""
    of = Case(60 * (1 + 9e-7), 60.0, 60.0, 240, 0.967, 0.2)
    events = tears(np.random.RandomState(seed), of)
    middle = np.median([each.line or 0.0 for each in events])
    assert len(events) > 200 and min(middle, 240 - middle) < 4
    assert clocks_of(events, 240, 60.0) == AT_EDGE


@pytest.mark.parametrize(
    ("lines", "words"), [(1.0, "down by 1 line"), (-1.04, "up by 1 line"), (2.46, "down by 2.5 lines")]
)
def test_one_line_is_no_lines(lines: float, words: str) -> None:
    said = roll_words(Roll(lines, 0.5, 40), "frame", 720)
    assert said == f"The tear rolls {words} from one frame to the next (n 40)."


def test_many_lines_are_counted_without_powers() -> None:
    assert "down by 168 lines" in roll_words(Roll(168.2, 0.5, 40), "frame", 720)
