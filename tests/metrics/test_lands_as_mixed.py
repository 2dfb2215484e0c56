"""Where a stored frame's lines are only mixed, that is told by where they lie in memory: against the sums."""

from __future__ import annotations

import numpy as np
import pytest

from scalesim.chain import Chain
from scalesim.core.clip import CodedStill
from scalesim.core.colours import Coding, Scale
from scalesim.core.planes import Planes
from scalesim.core.raster import Raster
from scalesim.jobs.predict.predict import predict
from scalesim.metrics import METRICS, Evidence
from scalesim.metrics.outlines.line_weights import known_of, landed_of, nothing_beyond

ONLY_MIX = ("line-average lines=240", "line-average lines=480, flicker-filter, interlace")
DO_MORE = (
    "line-average lines=480, interlace, field-only",
    "line-average lines=240, quantise",
    "line-average lines=240, position samples=1",
    "line-average lines=240 encoding=light",
)


def stored(weights: tuple[float, float] = (0.2126, 0.0722)) -> CodedStill:
    random = np.random.default_rng(2)
    codes = [
        random.integers(16, 236, shape).astype(np.uint8) for shape in ((720, 480), (360, 240), (360, 240))
    ]
    for top in range(20, 700, 23):  # thin outlines, as many as a metric asks for
        codes[0][top - 8 : top + 9], codes[0][top : top + 2] = 60, 200
    coding = Coding(Scale(16, 219), weights=weights, halvings=(1, 1), first=(0.5, 0.0))
    return CodedStill([Planes(codes, coding)], Raster(720, 480))


def evidence_of(chain: str, still: CodedStill) -> Evidence:
    return predict(still, Chain(chain), metrics=()).evidence()


@pytest.mark.parametrize("chain", [*ONLY_MIX, *DO_MORE])
def test_it_is_said_of_chains_that_only_mix_lines(chain: str) -> None:
    evidence = evidence_of(chain, stored())
    landed = landed_of(evidence, range(240))
    known = known_of(evidence)
    assert known is not None and evidence.lands_as_mixed(known.sparse) == (chain in ONLY_MIX)
    beyond = np.abs(known.sparse @ evidence.source_strips - landed).max()
    assert (
        (beyond < 1e-6)
        == (chain in ONLY_MIX)
        == nothing_beyond(evidence, range(240), evidence.source_strips, landed)
    )


def test_other_weights_are_other_lines() -> None:
    evidence = evidence_of(ONLY_MIX[0], stored())
    assert evidence.landed_luma.shape == (240, 480)
    other = known_of(evidence_of("line-average lines=240 phase=0.5", stored()))
    assert other is not None and not evidence.lands_as_mixed(other.sparse)


def test_where_luma_is_another_it_is_left_to_the_sums() -> None:
    """Y' of BT.601 is not the luma that metrics look at."""
    evidence = evidence_of(ONLY_MIX[0], stored((0.299, 0.114)))
    known = known_of(evidence)
    assert known is not None and not evidence.lands_as_mixed(known.sparse)
    assert nothing_beyond(evidence, range(240), evidence.source_strips, landed_of(evidence, range(240)))


@pytest.mark.parametrize("chain", ONLY_MIX)
def test_values_are_the_same_as_by_the_sums(chain: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def values() -> list[float | None]:
        evidence = evidence_of(chain, stored())
        keys = ("detail_kept", "line_doubling", "lost_lines", "detail_kept_samples")
        return [value for key in keys for value in METRICS[key].measure(evidence)]

    told, counted = values(), []
    monkeypatch.setattr(Evidence, "lands_as_mixed", lambda *_: counted.append(1))
    assert values() == told and counted
