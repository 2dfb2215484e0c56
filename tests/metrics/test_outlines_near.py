"""Outlines followed on few lines: what is left out holds nothing of them, against all lines around."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from metrics.evidence import evidence_of
from numpy.typing import NDArray

from scalesim.metrics import Evidence
from scalesim.metrics.outlines import line_weights
from scalesim.metrics.outlines.found import SourceOutlines
from scalesim.metrics.outlines.line_weights import nothing_beyond
from scalesim.metrics.outlines.near import Near
from scalesim.metrics.outlines.shares import Outlines, outlines_of

CHAINS = (
    "line-average lines=240",
    "resample lines=240 kernel=cubic",
    "line-drop lines=240 phase=1",
    "position lines=5, line-average lines=240",
    "line-average lines=480, flicker-filter, interlace",
    "line-average lines=480, interlace, field-only",
    "line-average lines=240 encoding=light",
)


def art() -> NDArray[np.float64]:
    """Return flat fields with thin lines of any length, thickness and contrast, and a grating."""
    rs = np.random.RandomState(4)
    frame = np.repeat(np.repeat(rs.uniform(0.2, 0.8, (12, 5)), 60, axis=0), 96, axis=1)
    for _ in range(150):
        top, left = rs.randint(0, 700), rs.randint(0, 400)
        frame[top : top + rs.randint(1, 7), left : left + rs.randint(20, 200)] += rs.uniform(-0.2, 0.2)
    frame[300:330:2, 100:300] = 0.9
    return np.repeat(frame[:, :, None], 3, axis=2)


def followed(chain: str) -> Outlines:
    return outlines_of(evidence_of(art(), chain))


@pytest.mark.parametrize("chain", CHAINS)
def test_few_lines_tell_what_all_tell(chain: str, monkeypatch: pytest.MonkeyPatch) -> None:
    few = followed(chain)
    monkeypatch.setattr(Near, "shown", lambda self, *_: self)
    every = followed(chain)
    assert len(every.weight) > 50
    for name in ("line", "nearest"):
        assert np.array_equal(getattr(few, name), getattr(every, name))
    np.testing.assert_allclose(few.shares, every.shares, atol=1e-12)


def test_too_few_lines_would_not(monkeypatch: pytest.MonkeyPatch) -> None:
    every, real = followed(CHAINS[0]), Near.shown

    def less(self: Near, found: SourceOutlines, first: NDArray, last: NDArray) -> Near:
        near = real(self, found, first, last)
        return replace(near, first=near.first + 2, count=near.count - 2)

    monkeypatch.setattr(Near, "shown", less)
    assert np.abs(followed(CHAINS[0]).shares - every.shares).max() > 0.1


def test_lines_that_show_an_outline() -> None:
    """Two source lines to a landed one: lines 4 to 6 show on landed lines 2 and 3, and one on either side."""
    first = np.append(np.arange(20) // 2, 10)
    last = np.append(np.arange(20) // 2, -1)
    found = SourceOutlines(
        strip=np.array([0, 1]),
        contrast=np.array([1.0, 1.0]),
        starts=np.array([0]),
        first=np.array([4]),
        profile=np.array([[1.0, 1.0, 1.0]]),
    )
    whole = Near.of(np.array([2.75]), np.array([3.0]), 10)
    assert whole.lines.tolist() == [[-2, -1, 0, 1, 2, 3, 4, 5, 6]]
    assert whole.looked_at.tolist() == [[False, False, True, True, True, True, True, True, False]]
    near = whole.shown(found, first, last)
    assert near.lines.tolist() == [[1, 2, 3, 4]]
    assert near.on(whole, np.array([[1.0, 2, 3, 4]])).tolist() == [[0, 0, 0, 1, 2, 3, 4, 0, 0]]
    none = whole.shown(found, np.full(21, 10), np.full(21, -1))
    assert none is whole  # a drop leaves it out: what else shows there is looked for everywhere


def beyond_of(evidence: Evidence, change: float) -> bool:
    """Return whether nothing is beyond the weights after one landed line was changed."""
    landed = evidence.landed_luma[:, ::2].copy()  # one of two samples to a strip
    landed[100, 50] += change
    return nothing_beyond(evidence, range(240), evidence.source_luma[:, ::2], landed)


def test_nothing_beyond_the_weights_is_rounding_alone() -> None:
    for chain in (CHAINS[0], CHAINS[1], CHAINS[4]):
        assert beyond_of(evidence_of(art(), chain), 0.0)
    assert not beyond_of(evidence_of(art(), CHAINS[0]), 0.1 / 255)
    assert not beyond_of(evidence_of(art(), CHAINS[6]), 0.0)
    assert not beyond_of(replace(evidence_of(art(), CHAINS[0]), coverage=None), 0.0)


@pytest.mark.parametrize("chain", [CHAINS[0], CHAINS[4]])
def test_shares_of_nothing_beyond_are_those_that_a_fit_gives(
    chain: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    without = followed(chain)
    monkeypatch.setattr(line_weights, "_ROUNDING", -1.0)
    fitted = followed(chain)
    assert not np.array_equal(without.shares, fitted.shares)
    np.testing.assert_allclose(without.shares, fitted.shares, atol=1e-5)
