"""Outlines found and followed by loops, against NumPy's way of the same, to the last bit.

Uncompiled they are plain Python, so they are checked where there is no compiler, too.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from typing import Any

import numpy as np
import pytest
from metrics.evidence import evidence_of
from metrics.test_outlines_near import CHAINS, art

from scalesim.core import compiled
from scalesim.core.compiled import Loops
from scalesim.metrics import measure
from scalesim.metrics.outlines import beside, line_doubling, loops, source
from scalesim.metrics.outlines.found import SourceOutlines
from scalesim.metrics.outlines.shares import Outlines, outlines_of
from scalesim.metrics.outlines.source import find_outlines

MIXED_ALONE = (*CHAINS[:2], *CHAINS[3:5], "line-drop lines=360, position lines=-9")
OTHERWISE = CHAINS[5:]


@pytest.fixture(params=["plain", "compiled"])
def both(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Callable[[Callable], Any]:
    """Return what gives the answer in NumPy and by loops, and which loops were asked for the second."""
    given: Loops | None = Loops(**{name: getattr(loops, name) for name in loops.FREE})
    if request.param == "compiled":
        pytest.importorskip("numba")
        given = compiled._found(loops)
    asked: list[str] = []

    def noted(name: str) -> Callable:
        def loop(*given_to: Any) -> Any:
            asked.append(name)
            return getattr(given, name)(*given_to)

        return loop

    def answers(make: Callable) -> Any:
        found = []
        for way in (None, Loops(**{name: noted(name) for name in loops.FREE})):
            for room in (source, beside, line_doubling):
                monkeypatch.setattr(room, "compiled", lambda _, way=way: way)
            found.append(make())
        return *found, asked

    return answers


def same(one: Outlines | SourceOutlines, other: Outlines | SourceOutlines) -> None:
    for each in fields(one):
        if each.name == "found":
            same(one.found, other.found)  # type: ignore[union-attr]
        else:
            assert np.array_equal(getattr(one, each.name), getattr(other, each.name)), each.name


@pytest.mark.parametrize("thickest", [2.0, 4.5, 9.0, 80.0])
def test_found(both: Callable, thickest: float) -> None:
    """Steps, textures and soft edges of every kind, noise under the limit and over it, and none."""
    random = np.random.default_rng(3)
    levels = random.choice([0.1, 0.13, 0.3, 0.5, 0.8], (60, 9)).repeat(random.integers(1, 5, 9), axis=1)
    pictures = [levels, levels + random.normal(0, 0.02, levels.shape), np.full((60, 9), 0.5), levels[:2]]
    for picture in pictures:
        one, other, asked = both(lambda picture=picture: find_outlines(picture.astype(np.float32), thickest))
        same(one, other)
        assert {"pair", "gather"} <= set(asked)
    assert len(find_outlines(pictures[0].astype(np.float32), thickest)) > 5


@pytest.mark.parametrize("chain", MIXED_ALONE)
def test_followed(both: Callable, chain: str) -> None:
    one, other, asked = both(lambda: outlines_of(evidence_of(art()[:, :240], chain)))
    same(one, other)
    assert "follow" in asked and one.shares.any() and len(one.weight) > 30


@pytest.mark.parametrize("chain", MIXED_ALONE)
def test_scored(both: Callable, chain: str) -> None:
    one, other, asked = both(
        lambda: measure(evidence_of(art()[:, :240], chain), ("line_doubling", "lost_lines"))
    )
    assert one == other and not one[1]
    assert "most_adjacent" in asked


@pytest.mark.parametrize("chain", OTHERWISE)
def test_what_is_no_mixture_of_lines_is_followed_in_numpy(both: Callable, chain: str) -> None:
    one, other, asked = both(lambda: outlines_of(evidence_of(art()[:, :240], chain)))
    same(one, other)
    assert "follow" not in asked and "gather" in asked
