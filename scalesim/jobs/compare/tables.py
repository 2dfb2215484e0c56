"""The tables of a comparison: ranking, figures with footnotes, settings, failures."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from scalesim.jobs.compare.place import Place
from scalesim.jobs.compare.rows import Row
from scalesim.jobs.frames import FrameSource
from scalesim.metrics import key_of
from scalesim.result import Cell, Table

NO_VALUE = "–"


@dataclass(frozen=True)
class Column:
    """A metric's column: its key, words, unit and what is better ("" for neither)."""

    key: str
    label: str
    unit: str
    better: str


def columns_of(rows: Sequence[Row], *, fidelity: bool) -> tuple[Column, ...]:
    """Return the metrics that the rows have, fidelity or all others, in the rows' order."""
    keys = dict.fromkeys(key for row in rows for key in row.metrics)
    return tuple(column_of(key) for key in keys if (key_of(key).family == "fidelity") == fidelity)


def column_of(key: str) -> Column:
    """Return a metric's words."""
    known = key_of(key)
    return Column(key, known.label, known.shown_unit, "" if known.better == "neither" else known.better)


def metric_table(title: str, rows: Sequence[Row], columns: Sequence[Column]) -> Table:
    """Return the rows of one frame: a chain a column, the best of several on one screen marked.

    Footnotes say why a value is missing, or which way it was had.
    """
    heads = tuple(Cell(row.chain, row.raster) for row in rows)
    lines: tuple[tuple[str | Cell, ...], ...] = tuple(
        (Cell(column.label, column.unit), column.better, *(_cell(row, column, rows) for row in rows))
        for column in columns
    )
    align = ("left", "left", *("right",) * len(rows))
    return Table(title, ("metric, unit", "better", *heads), lines, align, head=0)


def metric_tables(rows: Sequence[Row], *, fidelity: bool) -> tuple[Table, ...]:
    """Return a table of figures per frame."""
    columns = columns_of(rows, fidelity=fidelity)
    if not columns:
        return ()
    frames = dict.fromkeys(row.frame for row in rows)
    return tuple(metric_table(name, [r for r in rows if r.frame == name], columns) for name in frames)


def _cell(row: Row, column: Column, rows: Sequence[Row]) -> Cell:
    value = row.metrics.get(column.key)
    if value is None:
        return Cell(NO_VALUE, note=row.why.get(column.key, "not measured"))
    peers = [r.metrics.get(column.key) for r in rows if r.raster == row.raster]
    known = [peer for peer in peers if peer is not None]
    best = False
    if column.better and max(known) - min(known) > 1e-6:
        target = min(known) if column.better == "lower" else max(known)
        best = abs(value - target) <= 1e-6
    way = f"by {row.how[column.key]}" if column.key in row.how else ""
    return Cell(key_of(column.key).number(value)[0], best=best, note=way)


def ranking_tables(ranking: Sequence[Place]) -> tuple[Table, ...]:
    """Return one ranking per screen."""
    screens = dict.fromkeys(place.raster for place in ranking)
    align = ("right", "left", "right", "left")
    return tuple(
        Table(
            screen[:1].upper() + screen[1:],
            ("place", "chain", "mean rank", "why"),
            tuple((str(p.rank), p.chain, f"{p.score:.2f}", p.reason) for p in ranking if p.raster == screen),
            align,
            head=1,
        )
        for screen in screens
    )


def settings_table(frames: Sequence[FrameSource]) -> Table | None:
    """Return what the notes say of each frame, or None without notes."""
    keys = sorted({key for frame in frames for key in frame.settings})
    if not keys:
        return None
    rows = tuple((f.name, *(str(f.settings.get(key, NO_VALUE)) for key in keys)) for f in frames)
    return Table("From the notes beside the frames", ("frame", *keys), rows, head=0)


def failures_table(failed: Mapping[str, str]) -> Table | None:
    """Return what could not be done and why, or None."""
    if not failed:
        return None
    return Table("Not done", ("frame and chain", "why"), tuple(failed.items()), head=0)


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
