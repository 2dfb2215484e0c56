"""The plots of a comparison: what is against what, rows by value, frames by name.

Values are made by hand, so that what is right is plain from the case.
"""

from __future__ import annotations

import pytest
from jobs.test_compare_summary import FLICKER, KEPT, LOST, made

from scalesim.jobs.compare.figures import left_out, plots_of
from scalesim.plot import Plot, Series

FALSE = "false_detail"
STILL = {
    "sharp": {KEPT: [0.90, 0.92, 0.94], FALSE: [0.50, 0.60, 0.90], FLICKER: [0.0] * 3, LOST: [0.0] * 3},
    "soft": {KEPT: [0.50, 0.52, 0.54], FALSE: [0.05, 0.06, 0.07], FLICKER: [0.0] * 3, LOST: [0.0] * 3},
    "poor": {KEPT: [0.40, 0.42, 0.44], FALSE: [0.70, 0.80, 0.90], FLICKER: [0.0] * 3, LOST: [0.0] * 3},
}


def named(plots: tuple[Plot, ...]) -> dict[str, Plot]:
    return {plot.name: plot for plot in plots}


def series_of(plot: Plot) -> tuple[Series, ...]:
    (panel,) = plot.panels
    return panel.series


def paid(values: dict[str, dict[str, list[float | None]]]) -> list[str]:
    """Return what is on the upright axes of the plots against detail kept."""
    plots = plots_of([made(values)])
    return [plot.panels[0].y.label.split(",")[0] for plot in plots if plot.name.startswith("trade")]


def test_what_a_still_picture_pays_for_detail() -> None:
    """Nothing flickers, nothing is lost: false detail against detail kept, medians 92/60, 52/6, 42/80 %.

    The third is worse than the first in both: its point is hollow.
    """
    plots = named(plots_of([made(STILL)]))
    trade = plots["trade-1"]
    filled, hollow, names = series_of(trade)
    assert list(zip(filled.x, filled.y, strict=True)) == [(92.0, 60.0), (52.0, 6.0)] and not filled.hollow
    assert list(zip(hollow.x, hollow.y, strict=True)) == [(42.0, 80.0)] and hollow.hollow
    assert names.texts[0] == "sharp\n92\xa0% kept, 60\xa0% false"
    assert "false" in trade.panels[0].y.label and "trade-2" not in plots


def test_lost_detail_where_chains_differ_more_in_that() -> None:
    values = {name: {**own, FALSE: [0.5] * 3} for name, own in STILL.items()}
    values["soft"][LOST] = [0.6, 0.7, 0.8]
    assert "lost" in plots_of([made(values)])[0].panels[0].y.label


def test_steadiness_where_something_flickers() -> None:
    """All flicker: one plot of flicker. Some do: one of each."""
    moving = {name: {**own, FLICKER: [2.0, 3.0, 4.0]} for name, own in STILL.items()}
    assert paid(moving) == ["flicker"]
    mixed = {**STILL, "sharp": moving["sharp"]}
    assert paid(mixed) == ["flicker", "false vertical detail"]


def test_rows_by_value_with_value_and_worst_frame() -> None:
    """Lower is better: 6, 60, 80 % from the top; the worst frame of each is the third, "2"."""
    strip = named(plots_of([made(STILL)]))["dots-false-detail"]
    assert [name for _, name in strip.panels[0].y.ticks] == ["soft", "sharp", "poor"]
    medians, dots, worst = series_of(strip)
    assert medians.texts == ("6", "60", "80") and medians.placed == "above"
    assert len(dots.x) == 9 and worst.texts == ("2", "2", "2") and worst.x == pytest.approx((7, 90, 90))
    kept = named(plots_of([made(STILL)]))["dots-detail-kept"]
    assert [name for _, name in kept.panels[0].y.ticks] == ["sharp", "soft", "poor"]  # higher is better
    assert series_of(kept)[2].texts == ("0", "0", "0")


def test_nothing_to_see_is_told_once_and_not_plotted() -> None:
    lonely = {"a": {KEPT: [0.5, 0.9], LOST: [0.1, 0.3]}, "b": {KEPT: [None, None], LOST: [0.1, 0.3]}}
    assert [plot.name for plot in plots_of([made(lonely)])] == ["dots-lost-lines"]
    assert left_out([made(lonely)]) == (
        "Measured on one of them only, so not plotted: vertical detail kept (a).",
    )
    (said,) = left_out([made(STILL)])
    assert said.startswith("No difference that the measures resolve") and "0.0 % of white" in said
    assert said.count("lost") == 1
    assert not {"dots-flicker-percent", "dots-lost-lines"} & set(named(plots_of([made(STILL)])))


def test_screens_are_told_apart_by_shape_and_legend() -> None:
    strip = named(plots_of([made(STILL, "240 lines"), made(STILL, "480 lines")]))["dots-false-detail"]
    marks = [series for series in series_of(strip) if series.label]
    assert [(mark.label, mark.role) for mark in marks] == [("240 lines", 0), ("480 lines", 1)]
    assert strip.legend == 1
