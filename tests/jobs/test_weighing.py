"""Weighing: sums worked out by hand, equal weights as in the ranking, and the browser's order as Python's.

Values are made by hand, so that what is right is plain from the case.
"""

from __future__ import annotations

import numpy as np
import pytest
from jobs.test_compare_summary import FLICKER, KEPT, LOST, FakeRow, made

from scalesim.errors import ParameterError
from scalesim.jobs.compare.contest import Contest, contest
from scalesim.jobs.compare.ranking import DEFAULT_BY, rank
from scalesim.jobs.compare.weighing import CLEAN, SHARPNESS, STEADINESS, group_of, weighed, weighing
from scalesim.metrics import METRICS, key_of

THREE = {
    "sharp": {KEPT: [0.9] * 2, LOST: [0.5] * 2, FLICKER: [5.0] * 2},
    "clean": {KEPT: [0.5] * 2, LOST: [0.0] * 2, FLICKER: [3.0] * 2},
    "steady": {KEPT: [0.1] * 2, LOST: [0.9] * 2, FLICKER: [0.0] * 2},
}
"""Ranks by detail kept 1, 2, 3; by detail lost 2, 1, 3; by flicker 3, 2, 1: scores 2, 5/3, 7/3."""


def order(own: Contest, **weights: float) -> list[tuple[str, int | None, float | None]]:
    named = {"sharpness": SHARPNESS, "clean": CLEAN, "steadiness": STEADINESS}
    places = weighed(own, {named[name]: weight for name, weight in weights.items()})
    return [(own.chains[p.chain], p.place, p.score and round(p.score, 9)) for p in places]


def test_by_hand() -> None:
    """Sharpness three times: (3*1 + 2 + 3) / 5 = 1.6, (3*2 + 1 + 2) / 5 = 1.8, (3*3 + 3 + 1) / 5 = 2.6."""
    own = made(THREE)
    assert order(own, sharpness=3) == [("sharp", 1, 1.6), ("clean", 2, 1.8), ("steady", 3, 2.6)]
    assert order(own, sharpness=0, clean=0) == [("steady", 1, 1.0), ("clean", 2, 2.0), ("sharp", 3, 3.0)]
    # sharpness twice: (2 + 2 + 3) / 4 = (4 + 1 + 2) / 4: they tie
    assert [place for _, place, _ in order(own, sharpness=2)] == [1, 1, 3]
    assert order(own, sharpness=0, clean=0, steadiness=0) == [(name, None, None) for name in THREE]


def test_equal_weights_are_the_ranking() -> None:
    """Places and scores of `rank` itself, of rows with ties, gaps and a contestant that misses a measure."""
    random = np.random.RandomState(3)
    rows = [
        FakeRow(str(n), chain, {key: float(random.randint(0, 4)) / 4 for key in DEFAULT_BY})
        for n in range(8)
        for chain in "abcde"
    ]
    for row in rows[::5][:3]:
        row.metrics["lost_lines"] = None
    for row in rows[1::5]:
        row.metrics["flicker_percent"] = None
    ranking = rank(rows, DEFAULT_BY, group=lambda _: "one screen")
    (own,) = ranking.contests
    for weight in (1.0, 0.25, 4.0):
        found = weighed(own, {SHARPNESS: weight, CLEAN: weight, STEADINESS: weight})
        assert [(own.chains[p.chain], p.place) for p in found] == [(p.chain, p.rank) for p in ranking.places]
        assert [p.score for p in found] == pytest.approx([p.score for p in ranking.places])
        assert [p.lead for p in found] == [p.lead for p in ranking.places]


def test_bands_hold_nine_tenths_and_are_none_below_six_frames() -> None:
    """Half of ten frames rank a first, half second: its mean rank is 1.5; of ten tosses 90 % give 3 to 7."""
    toss = made({"a": {LOST: [0.0] * 5 + [0.5] * 5}, "b": {LOST: [0.5] * 5 + [0.0] * 5}})
    first, second = weighed(toss)
    assert (first.place, second.place, first.score) == (1, 1, 1.5)
    # binomial, n = 10, p = 1/2: P(X <= 2) = 0.055, so the band ends at 2 or 3 of 10: 1.2 or 1.3
    assert first.low is not None and 1.2 - 1e-9 <= first.low <= 1.3 + 1e-9
    assert first.high is not None and 1.7 - 1e-9 <= first.high <= 1.8 + 1e-9
    few = weighed(made(THREE))
    assert all(p.low is None and p.high is None and p.lead is None for p in few)


def test_a_capture_keeps_the_place_of_whom_it_agrees_with() -> None:
    rows = [
        FakeRow(str(n), chain, {LOST: lost, FLICKER: flicker})
        for n in range(6)
        for chain, lost, flicker in (("a", 0.0, 3.0), ("b", 0.5, 0.0), ("box", 0.001, 3.01))
    ]
    own = contest("one screen", rows, (LOST, FLICKER), frozenset(["box"]))
    data = weighing(own)
    assert data is not None and data.agreeing == ((), (), (0,))
    for weights in ({CLEAN: 3.0}, {STEADINESS: 3.0}, {}):
        places = {own.chains[p.chain]: p.place for p in weighed(own, weights)}
        assert places["box"] == places["a"]


def test_every_measure_has_its_group() -> None:
    assert {group_of(key_of(name)) for name in DEFAULT_BY} == {SHARPNESS, CLEAN, STEADINESS}
    groups = [group_of(key_of(name)) for name in ("false_detail", "staircase", "combing")]
    assert groups == [CLEAN, CLEAN, STEADINESS]
    assert all(group_of(key_of(name)) for name in METRICS)


def test_what_tells_nobody_apart_is_not_weighed() -> None:
    still = {name: {**own, FLICKER: [0.0] * 2} for name, own in THREE.items()}
    data = weighing(made(still))
    assert data is not None
    tells = {weight.label: weight.tells for weight in data.weights}
    assert tells == {SHARPNESS: True, CLEAN: True, STEADINESS: False}
    assert weighing(made({"alone": {LOST: [0.1] * 2}})) is None
    assert weighing(made({"a": {LOST: [0.1] * 2}, "b": {LOST: [0.1] * 2}})) is None


def test_all_scores_lie_in_the_span() -> None:
    """Ranks of each group alone reach from 1 to 3; two that always tie have one about that."""
    found = weighing(made(THREE))
    assert found is not None and found.span == (1.0, 3.0)
    even = weighing(made({"a": {LOST: [0.0, 0.5]}, "b": {LOST: [0.5, 0.0]}}))
    assert even is not None and even.span == (1.0, 2.0)


def test_beaten_in_everything() -> None:
    """c loses to a in all; a and b each win somewhere."""
    values = {"a": {KEPT: [0.9] * 2, LOST: [0.5] * 2}, "b": {KEPT: [0.5] * 2, LOST: [0.0] * 2}}
    data = weighing(made({**values, "c": {KEPT: [0.4] * 2, LOST: [0.9] * 2}}))
    assert data is not None and data.beaten == (False, False, True)


@pytest.mark.parametrize(("group", "weight"), [("Sharp", 1.0), (SHARPNESS, -1.0), (CLEAN, float("nan"))])
def test_wrong_weights_are_refused(group: str, weight: float) -> None:
    with pytest.raises(ParameterError, match="weighing: "):
        weighed(made(THREE), {group: weight})
