"""What page and Markdown say alike: ranking, metric tables with footnotes, settings, failures."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from scalesim.jobs.compare.compare import Comparison
from scalesim.jobs.compare.rows import Row
from scalesim.metrics import key_of

NO_VALUE = "–"


@dataclass(frozen=True)
class Column:
    """A metric's column: its key, words, unit and what is better ("" for neither)."""

    key: str
    label: str
    unit: str
    better: str


@dataclass(frozen=True)
class Cell:
    """A value as text; `best` on its screen; `note` numbers a footnote (0: none), `reason` is its text."""

    text: str
    best: bool = False
    note: int = 0
    reason: str = ""


@dataclass(frozen=True)
class MetricTable:
    """One frame's metrics: chains with their screens along the top, a row of cells per metric.

    `notes` say why a value is missing, or which way it was had; numbered from 1.
    """

    title: str
    chains: tuple[tuple[str, str], ...]
    rows: tuple[tuple[Column, tuple[Cell, ...]], ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class TextTable:
    """A table of texts whose first column heads the rows."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: tuple[int, ...] = ()


def columns_of(rows: Sequence[Row], *, fidelity: bool) -> tuple[Column, ...]:
    """Return the metrics that the rows have, fidelity or all others, in the rows' order."""
    keys = dict.fromkeys(key for row in rows for key in row.metrics)
    return tuple(column_of(key) for key in keys if (key_of(key).family == "fidelity") == fidelity)


def column_of(key: str) -> Column:
    """Return a metric's words."""
    known = key_of(key)
    return Column(key, known.label, known.shown_unit, "" if known.better == "neither" else known.better)


def metric_table(title: str, rows: Sequence[Row], columns: Sequence[Column]) -> MetricTable:
    """Return the rows of one frame as a table; the best of several on one screen are marked."""
    notes: list[str] = []
    lines = tuple((column, tuple(_cell(row, column, rows, notes) for row in rows)) for column in columns)
    return MetricTable(title, tuple((row.chain, row.raster) for row in rows), lines, tuple(notes))


def _cell(row: Row, column: Column, rows: Sequence[Row], notes: list[str]) -> Cell:
    value = row.metrics.get(column.key)
    if value is None:
        reason = row.why.get(column.key, "not measured")
        return Cell(NO_VALUE, note=_noted(reason, notes), reason=reason)
    peers = [r.metrics.get(column.key) for r in rows if r.raster == row.raster]
    known = [peer for peer in peers if peer is not None]
    best = False
    if column.better and max(known) - min(known) > 1e-6:
        target = min(known) if column.better == "lower" else max(known)
        best = abs(value - target) <= 1e-6
    way = f"by {row.how[column.key]}" if column.key in row.how else ""
    return Cell(key_of(column.key).number(value)[0], best, _noted(way, notes), way)


def _noted(text: str, notes: list[str]) -> int:
    """Return the number of a footnote, added if it is new; 0 for no text."""
    if text and text not in notes:
        notes.append(text)
    return notes.index(text) + 1 if text else 0


def ranking_tables(comparison: Comparison) -> tuple[TextTable, ...]:
    """Return one ranking per screen."""
    screens = dict.fromkeys(place.raster for place in comparison.ranking)
    return tuple(
        TextTable(
            screen[:1].upper() + screen[1:],
            ("place", "chain", "mean rank", "why"),
            tuple(
                (str(place.rank), place.chain, f"{place.score:.2f}", place.reason)
                for place in comparison.ranking
                if place.raster == screen
            ),
            (0, 2),
        )
        for screen in screens
    )


def settings_table(comparison: Comparison) -> TextTable | None:
    """Return what the notes say of each frame, or None without notes."""
    frames = comparison.frames
    keys = sorted({key for frame in frames for key in frame.settings})
    if not keys:
        return None
    rows = tuple((f.name, *(str(f.settings.get(key, NO_VALUE)) for key in keys)) for f in frames)
    return TextTable("From the notes beside the frames", ("frame", *keys), rows)


def failures_table(comparison: Comparison) -> TextTable | None:
    """Return what could not be done and why, or None."""
    if not comparison.failed:
        return None
    return TextTable("Not done", ("frame and chain", "why"), tuple(comparison.failed.items()))


def chains_of(comparison: Comparison) -> tuple[tuple[str, str], ...]:
    """Return (label, text form) of every chain."""
    chains = ((label, chain.text) for label, chain in comparison.chains.items())
    return (*chains, *((label, "a real box, captured") for label in comparison.captures))


def listed(names: Iterable[str], most: int = 6) -> str:
    """Return names as a reader writes them, and how many more there are."""
    known = list(names)
    shown = known if len(known) <= most else known[: most - 1]
    more = len(known) - len(shown)
    parts = [*shown, f"{more} more"] if more else shown
    if len(parts) == 1:
        return parts[0]
    between = "; " if any("," in part for part in parts) else ", "
    return f"{between.join(parts[:-1])}{';' if between == '; ' else ''} and {parts[-1]}"
