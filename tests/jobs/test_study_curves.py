"""Which chains a plot over time draws, and what it says of those that it does not."""

from __future__ import annotations

from fractions import Fraction
from types import SimpleNamespace

import pytest

from scalesim.jobs.compare.study.figures import MOST_LINES, curves


def kept(labels: list[str]) -> SimpleNamespace:
    """Return a study of one clip, in which each chain's flicker falls over three seconds."""
    return SimpleNamespace(
        footage=[SimpleNamespace(rate=Fraction(60), name="pan.mp4")],
        counts=[3],
        labels=labels,
        curve=lambda _, chain, __: ([0.0, 1.0, 2.0], [chain + 0.9, chain + 0.5, chain + 0.1], 1),
    )


@pytest.mark.parametrize("more", [0, 1, 3])
def test_every_chain_is_drawn_once_and_what_is_not_is_counted(more: int) -> None:
    """One that is ranked on two screens is one line of one colour, and none of those that are missing."""
    labels = [f"chain {k}" for k in range(MOST_LINES + more)]
    (plot,) = curves(kept(labels), ["flicker_percent"], [*labels, *labels[1:3]])
    (panel,) = plot.panels
    assert [each.label for each in panel.series] == [*labels[: MOST_LINES - 1], labels[-1]]
    assert len({each.role for each in panel.series}) == MOST_LINES
    said = {0: "", 1: "1 more chain is in the rows", 3: "3 more chains are in the rows"}[more]
    assert said in plot.caption and ("in the rows" in plot.caption) == (more > 0)
