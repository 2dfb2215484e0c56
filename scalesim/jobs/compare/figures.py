"""The plots of a comparison: what detail costs, and frame by frame the measures that the ranking goes by."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from scalesim.jobs.compare.contest import Contest
from scalesim.jobs.compare.strip_plot import measures_of, strip_plot
from scalesim.jobs.compare.trade_plots import ties_apart, trade_plots
from scalesim.metrics.key import Key
from scalesim.plot import Plot


def plots_of(contests: Sequence[Contest]) -> tuple[Plot, ...]:
    """Return the plots that there are values for, in the order of the page."""
    keys = [key for key in _keys(contests) if not _alike(contests, key) and len(_having(contests, key)) > 1]
    return (*trade_plots(contests), *(strip_plot(contests, key) for key in keys))


def left_out(contests: Sequence[Contest]) -> tuple[str, ...]:
    """Return which measures have no plot, and why."""
    alike, lonely = [], []
    every = [chain for own in contests for chain in own.chains]
    for key in _keys(contests):
        having = _having(contests, key)
        if len(having) == 1 and len(every) > 1:
            lonely.append(f"{key.label} ({having[0]})")
        elif having and _alike(contests, key):
            alike.append(f"{key.label} ({_span(contests, key)})")
    said = []
    if alike:
        said.append(f"No difference that the measures resolve, so not plotted: {'; '.join(alike)}.")
    if lonely:
        said.append(f"Measured on one of them only, so not plotted: {'; '.join(lonely)}.")
    return tuple(said)


def _span(contests: Sequence[Contest], key: Key) -> str:
    """Return a measure's values as printed, from least to largest, and in how many pictures they were had."""
    values = _values(contests, key)
    ends = dict.fromkeys(key.number(float(value))[0] for value in (values.min(), values.max()))
    pictures = sum(m.values.size for own in contests for m in measures_of(own, key))
    few = f", measured on {values.size} of {pictures} pictures" if values.size < pictures else ""
    return f"{' '.join((' to '.join(ends), key.shown_unit)).strip()}{few}"


def _having(contests: Sequence[Contest], key: Key) -> list[str]:
    """Return who has a value of a measure at all."""
    return [
        chain
        for own in contests
        for measure in measures_of(own, key)
        for chain, known in zip(own.chains, np.isfinite(measure.values).any(axis=0), strict=True)
        if known
    ]


def _keys(contests: Sequence[Contest]) -> list[Key]:
    return list(dict.fromkeys(m.key for own in contests for m in own.measures))


def _values(contests: Sequence[Contest], key: Key) -> NDArray:
    """Return all values of a measure that there are."""
    found = [m.values[np.isfinite(m.values)] for own in contests for m in measures_of(own, key)]
    return np.concatenate(found) if found else np.zeros(0)


def _alike(contests: Sequence[Contest], key: Key) -> bool:
    """Return whether there is nothing to plot: no value, or none apart by more than the measure resolves."""
    values = _values(contests, key)
    return not values.size or ties_apart(key, values) <= 1
