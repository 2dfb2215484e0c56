"""What a value rests on, piece by piece: it makes the value, and lies where the fault was drawn.

The frames are drawn here, so the right place of every fault is known by hand.
"""

from __future__ import annotations

import numpy as np
import pytest
from metrics.evidence import evidence_of
from numpy.typing import NDArray

from scalesim.metrics import METRICS, judged, key_of, measure

CHAINS = (
    "line-drop lines=240 phase=1",
    "line-average lines=240, position lines=0.5",
    "line-average lines=480, flicker-filter taps=1/2/1, interlace",
    "line-average lines=480, interlace, field-only",
    "resample samples=640, line-drop lines=240, overscan percent=6",
)
JUDGED = [name for name in METRICS if key_of(name).judge is not None]


def busy_frame(seed: int = 3) -> NDArray:
    """A 720p frame of bars of random height, length, place and colour on grey."""
    random = np.random.RandomState(seed)
    frame = np.full((720, 1280, 3), 0.5, np.float32)
    for _ in range(240):
        line, sample = random.randint(0, 716), random.randint(0, 1200)
        frame[line : line + random.randint(1, 6), sample : sample + random.randint(20, 400)] = random.rand(3)
    return frame


def test_who_judges() -> None:
    """These metrics point at what they judged."""
    assert JUDGED == [
        "detail_kept",
        "false_detail",
        "detail_kept_samples",
        "false_detail_samples",
        "line_doubling",
        "lost_lines",
        "flicker_percent",
    ]


@pytest.mark.parametrize("chain", CHAINS)
def test_the_cases_make_the_value(chain: str) -> None:
    """The mean of the severities by the metric's own weights, or its root, is the value that it told."""
    evidence = evidence_of(busy_frame(), chain)
    values, _ = measure(evidence, JUDGED)
    for name in JUDGED:
        found = judged(evidence, name)
        if found is None:
            assert name == "flicker_percent" and values[name] == 0
            continue
        # a root of what float32 leaves of a difference: 1e-7 becomes 3e-4
        assert found.value == pytest.approx(values[name], rel=1e-4, abs=5e-4)
        assert found.n == len(found.lines) == len(found.samples) == len(found.weight) == len(found.landed)
        if found.what == "outlines":
            assert evidence.n[name] == found.n


def test_a_lost_and_a_split_outline_are_pointed_at() -> None:
    """A drop of lines 1, 4, 7 … loses line 300 (300 = 3·100); an average shares lines 398 and 399 in two.

    Three lines from 398 on lie on scan lines 132 (396..398) and 133 (399..401) by 1/3 and 2/3. Lines 300 to
    302 are one whole scan line.
    """
    frame = np.full((720, 1280, 3), 0.1, np.float32)
    frame[300, 320:960] = 0.9
    frame[600:603, 320:960] = 0.9  # whole after either
    drop = judged(evidence_of(frame, "line-drop lines=240 phase=1"), "lost_lines")
    assert drop is not None and drop.n == 2
    (lost,) = drop.worst()
    assert (lost.lines, lost.severity) == ((300.0, 301.0), 1.0)
    assert lost.samples == pytest.approx((320, 960), abs=5)  # a strip is 5 samples
    assert lost.weight == pytest.approx(1 / 2)  # as long and as strong as the other
    assert lost.profile is not None and max(lost.profile.landed) < 0.01

    frame = np.full((720, 1280, 3), 0.1, np.float32)
    frame[398:401, 100:700] = 0.9
    frame[600:603, 100:700] = 0.9
    average = judged(evidence_of(frame, "line-average lines=240"), "line_doubling")
    assert average is not None
    (split,) = average.worst(least=0.01)
    assert split.lines == (398.0, 401.0)
    assert split.samples == pytest.approx((100, 700), abs=5)
    assert split.profile is not None and split.profile.source == (1.0, 1.0, 1.0)
    held = dict(enumerate(split.profile.landed, split.profile.landed_line))
    assert {line: round(share, 3) for line, share in held.items()} == {132: 0.333, 133: 0.667}
    assert split.severity == pytest.approx(2 * (1 - 2 / 3))  # 2 (P* - P): one line of three at most
    assert split.profile.needed == 1


def test_worst_first_and_capped() -> None:
    """The cases come in the order of what they add, no more than asked for; n tells them all."""
    found = judged(evidence_of(busy_frame(), CHAINS[0]), "lost_lines")
    assert found is not None and found.n > 20
    some = found.worst(5)
    assert len(some) == 5
    harm = [case.severity * case.weight for case in some]
    assert harm == sorted(harm, reverse=True)
    assert sum(c.severity * c.weight for c in found.worst(10_000)) == pytest.approx(found.value)


def test_flicker_points_at_the_line_that_one_field_has() -> None:
    """A white frame line on black lights one field: the map peaks there, 100 % of white, and nowhere else."""
    frame = np.zeros((480, 640, 3), np.float32)
    frame[200, 100:300] = 1
    found = judged(evidence_of(frame, "interlace"), "flicker_percent")
    assert found is not None and found.map is not None
    rows, columns = np.nonzero(found.map > 99)
    place = found.map_lines[0] + (rows[0] + 0.5) * np.diff(found.map_lines)[0] / len(found.map)
    assert set(rows) == {rows[0]} and place == pytest.approx(200.5)
    assert (columns.min(), columns.max()) == (100, 299)
    worst = found.worst()
    assert all(case.lines[0] - 1 <= 200 <= case.lines[1] + 1 for case in worst)
    assert {case.samples[0] < 300 and case.samples[1] > 100 for case in worst} == {True}


def test_false_detail_lies_where_it_was_drawn() -> None:
    """Stripes two lines high in one corner alias under a drop; smooth shading elsewhere does not."""
    frame = np.repeat(np.linspace(0.3, 0.7, 720, dtype=np.float32)[:, None], 1280, axis=1)
    frame[500:700, 900:1200] += 0.25 * np.sign(np.sin(np.arange(500, 700) * np.pi / 2.3))[:, None]
    found = judged(evidence_of(np.repeat(frame[:, :, None], 3, 2), CHAINS[0]), "false_detail")
    assert found is not None
    worst = found.worst(3)
    assert all(case.samples[0] >= 850 and case.samples[1] <= 1250 and case.lines[1] > 500 for case in worst)
