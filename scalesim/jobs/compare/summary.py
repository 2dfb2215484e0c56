"""The summary of a comparison: one table, chains by measures, each the median over the frames."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from scalesim.jobs.compare.contest import Contest, Measure
from scalesim.jobs.compare.medians import frames_word
from scalesim.jobs.compare.tables import NO_VALUE, stands_out
from scalesim.metrics.key import Key
from scalesim.result import Cell, Table

Opens = Callable[[str, str, str], str]
_WAY = {"higher": "more is better", "lower": "less is better", "neither": ""}


def summary_table(contests: Sequence[Contest], opens: Opens = lambda *_: "") -> Table | None:
    """Return the median of every contestant by every measure of the ranking; None where nothing is compared.

    Contestants stand in the order of their places, screen by screen; the first of each names the screen, or
    the title does where there is but one. n is the number of frames that a
    median rests on: at the head where all rest on as many, else beside each value. A measure that nobody
    has is left out. A median opens what it rests on, on the frame whose value is nearest to it.

    Parameters:  opens : takes frame, chain and measure, and gives what a `Cell` opens
    """
    keys = dict.fromkeys(m.key for own in contests for m in own.measures if np.isfinite(m.values).any())
    if not keys:
        return None
    counts = {_frames(m, k) for own in contests for m in own.measures for k in range(len(own.chains))} - {0}
    alike = len(counts) == 1
    rows = []
    for own in contests:
        bold = {m.key: _bold(m, len(own.chains)) for m in own.measures}
        measured = {m.key: m for m in own.measures}
        screen = own.name if len(contests) > 1 else ""
        for place, k in enumerate(np.argsort(own.standings, kind="stable")):
            cells = (
                _cell(own, measured.get(key), int(k), bold.get(key, []), opens, alike=alike) for key in keys
            )
            rows.append((Cell(own.chains[k], "" if place else screen), *cells))
    title = f"Medians over {frames_word(counts.pop())}" if alike else "Medians over frames (n: how many)"
    title += f", {contests[0].name}" if len(contests) == 1 else ""
    align = ("left", *("right",) * len(keys))
    return Table(title, ("chain", *map(_head, keys)), tuple(rows), align, head=0)


def _head(key: Key) -> Cell:
    """Return a measure's short name, with its unit and which way is better in small letters."""
    name, _, unit = key.head.rpartition(", ")
    return Cell(name or key.head, ", ".join(filter(None, (unit if name else "", _WAY[key.better]))))


def _bold(measure: Measure, count: int) -> list[bool]:
    """Return which medians are set in bold: nobody's where they rest on other frames, as these differ too.

    One that is not rated stands aside where the others decide.
    """
    medians = [measure.median(k) for k in range(count)]
    if measure.decides:
        return stands_out(measure.key, [own if measure.rated[k] else None for k, own in enumerate(medians)])
    bases = {_basis(measure, k).tobytes() for k in range(count) if medians[k] is not None}
    return stands_out(measure.key, medians) if len(bases) < 2 else [False] * count


def _basis(measure: Measure, own: int) -> NDArray:
    """Return (frames,) bool, those on which a contestant's median rests, as `Measure.median` takes it."""
    if measure.decides and measure.rated[own]:
        return measure.shared
    found: NDArray = np.isfinite(measure.values[:, own])
    return found


def _frames(measure: Measure, own: int) -> int:
    """Return on how many frames a contestant's median rests."""
    return int(_basis(measure, own).sum())


def _cell(
    contest: Contest, measure: Measure | None, own: int, bold: Sequence[bool], opens: Opens, *, alike: bool
) -> Cell:
    value = None if measure is None else measure.median(own)
    if measure is None or value is None:
        return Cell(NO_VALUE)
    rests = "" if alike else f"n\N{NO-BREAK SPACE}{_frames(measure, own)}"
    nearest = int(np.nanargmin(np.abs(measure.values[:, own] - value)))
    opened = opens(contest.frames[nearest], contest.chains[own], measure.key.name)
    return Cell(measure.key.number(value)[0], rests, bold[own], opens=opened)
