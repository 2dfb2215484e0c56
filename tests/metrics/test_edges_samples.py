"""Edge spread along the line: hand-derived widths, the exchange of axes, and reasons for none."""

from __future__ import annotations

import numpy as np
import pytest
from metrics.evidence import evidence_of
from metrics.slants import colour, steps

from scalesim.errors import NotMeasurable
from scalesim.metrics.edges.spread_lines import edge_spread_lines
from scalesim.metrics.edges.spread_samples import edge_spread_samples


def test_a_sharp_step_reads_the_least_there_is() -> None:
    """Two adjacent samples 0 and 1 are 0.8 sample apart at 10 and 90 %: 80 / 1280 = 0.0625 %."""
    spread, count = edge_spread_samples(evidence_of(steps(1280, 720, vertical=True), "line-drop lines=240"))
    assert spread == pytest.approx(0.0625, abs=1e-4)
    assert count % 240 == 0  # strips of 3 of the 720 lines, each crossing every edge
    assert count > 0


@pytest.mark.parametrize(("at", "width"), [(640, 0.8), (641, 1.6)])
def test_fewer_samples_compare_by_percent(at: int, width: float) -> None:
    """Halved to 640 samples: a step on a pair's border reads 0.8 sample, one that halves a pair 1.6.

    Values 0, 1/2, 1 cross 10 % at 0.2 and 90 % at 1.8. (Without antialiasing a pair becomes its mean.)
    """
    frame = colour(np.tile(np.where(np.arange(1280) < at, 0.2, 0.8), (720, 1)))
    chain = "resample samples=640 kernel=linear antialias=off, line-drop lines=240"
    assert edge_spread_samples(evidence_of(frame, chain))[0] == pytest.approx(100 * width / 640, abs=2e-3)


def test_the_axes_are_exchanged_and_nothing_else() -> None:
    """A picture and its transpose have the same edges; lines of one are samples of the other."""
    frame = steps(720, 480)
    down = evidence_of(frame, "resample lines=720 kernel=linear")
    along = evidence_of(np.swapaxes(frame, 0, 1).copy(), "resample samples=720 kernel=linear")
    spread, count = edge_spread_lines(down)
    percent, count_along = edge_spread_samples(along)
    assert percent * 720 / 100 == pytest.approx(spread, rel=1e-3)
    assert count > 0
    assert count_along > 0


@pytest.mark.parametrize(
    "chain", ["line-drop lines=240", "line-average lines=480, flicker-filter, interlace"]
)
def test_what_the_lines_lose_is_not_smear_along_them(chain: str) -> None:
    """On noise, where two lines of three are dropped or neighbours mixed, samples stay as sharp as they can
    be."""
    frame = np.repeat(np.random.RandomState(0).rand(720, 640, 1), 3, axis=2)
    assert edge_spread_samples(evidence_of(frame, chain))[0] == pytest.approx(80 / 640, rel=0.01)


def test_horizontal_blur_counts_and_vertical_does_not() -> None:
    """The measure sees its own axis: a filter along the lines widens, one across them leaves it alone."""
    frame = steps(1280, 720, vertical=True)
    plain = edge_spread_samples(evidence_of(frame, "line-average lines=240"))[0]
    across = edge_spread_samples(evidence_of(frame, "flicker-filter taps=1/2/1, line-average lines=240"))[0]
    along = edge_spread_samples(evidence_of(frame, "size width=99.9, line-average lines=240"))[0]
    assert across == pytest.approx(plain, rel=1e-3)
    assert along > 1.2 * plain


@pytest.mark.parametrize("chain", ["line-drop lines=240", "line-average lines=480, interlace"])
def test_no_vertical_edges_is_a_reason(chain: str) -> None:
    """Horizontal edges are none of its business."""
    with pytest.raises(NotMeasurable, match="has 0 steps"):
        edge_spread_samples(evidence_of(steps(), chain))
