"""How much a value rests on: counted by the metric, told beside the value, and by no key without one."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from metrics.evidence import evidence_of

from scalesim.errors import NotMeasurable
from scalesim.metrics import METRICS, Evidence, Key, measure
from scalesim.metrics._base import metric

FRAME = np.full((480, 64, 3), 0.5, dtype=np.float32)


@pytest.fixture
def counted() -> Iterator[str]:
    """Return the key of a metric that counts the landed lines it looked at, and refuses darker ones."""

    @metric(Key("toy_counted", "", "higher", "toy", digits=3))
    def toy(evidence: Evidence) -> tuple[float]:
        evidence.n["toy_counted"] = evidence.landed_luma.shape[0]
        if evidence.landed_luma.mean() < 0.3:
            raise NotMeasurable("the toy is too dark")
        return (float(evidence.landed_luma.mean()),)

    yield "toy_counted"
    del METRICS["toy_counted"]


def test_a_count_stands_beside_its_value(counted: str) -> None:
    evidence = evidence_of(FRAME, "line-drop lines=240", "custom")
    assert evidence.n == {}
    values, _ = measure(evidence, [counted])
    assert values[counted] == pytest.approx(0.5) and evidence.n == {counted: 240}


def test_what_has_no_value_has_no_count(counted: str) -> None:
    evidence = evidence_of(FRAME * np.float32(0.2), "line-drop lines=240", "custom")
    values, why = measure(evidence, [counted])
    assert values[counted] is None and why[counted] and evidence.n == {}
