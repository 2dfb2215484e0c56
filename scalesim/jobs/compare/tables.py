"""The tables of a comparison: ranking, figures with footnotes, settings, failures."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from scalesim.jobs.compare.evidence import Opens, no_opening
from scalesim.jobs.compare.place import Place, Verdict
from scalesim.jobs.compare.rows import Row
from scalesim.jobs.frames import FrameSource
from scalesim.jobs.predict.words import basis_note, reason_note
from scalesim.metrics import key_of
from scalesim.metrics.key import Key
from scalesim.result import Cell, Table
from scalesim.texts import capital

NO_VALUE = "–"
_BRACKETED = re.compile(r"\([^()]*\)")


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


def metric_table(
    title: str, rows: Sequence[Row], columns: Sequence[Column], opens: Opens = no_opening
) -> Table:
    """Return the rows of one frame: a chain a column, the best of several on one screen marked.

    Beside a value stands its n, where that is counted, beside the unit what n counts; footnotes
    say why a value is missing, or which way it was had.
    """
    heads = tuple(Cell(row.chain, row.raster) for row in rows)
    lines: tuple[tuple[str | Cell, ...], ...] = tuple(
        (
            Cell(column.label, _unit(column, rows)),
            column.better,
            *(_cell(row, column, rows, opens) for row in rows),
        )
        for column in columns
    )
    align = ("left", "left", *("right",) * len(rows))
    return Table(title, ("metric, unit", "better", *heads), lines, align, head=0)


def _unit(column: Column, rows: Sequence[Row]) -> str:
    """Return a metric's unit, and what n counts where a value has one."""
    counts = key_of(column.key).counts if any(column.key in row.n for row in rows) else ""
    return "; ".join(filter(None, (column.unit, f"n: {counts}" if counts else "")))


def metric_tables(rows: Sequence[Row], *, fidelity: bool, opens: Opens = no_opening) -> tuple[Table, ...]:
    """Return a table of figures per frame, folded."""
    columns = columns_of(rows, fidelity=fidelity)
    if not columns:
        return ()
    frames = dict.fromkeys(row.frame for row in rows)
    tables = (metric_table(name, [r for r in rows if r.frame == name], columns, opens) for name in frames)
    return tuple(replace(table, folded=True) for table in tables)


def _cell(row: Row, column: Column, rows: Sequence[Row], opens: Opens) -> Cell:
    value = row.metrics.get(column.key)
    if value is None:
        return Cell(NO_VALUE, note=reason_note(row.why.get(column.key, "not measured")))
    key = key_of(column.key)
    peers = [r for r in rows if r.raster == row.raster]
    best = stands_out(key, [r.metrics.get(column.key) for r in peers])[peers.index(row)]
    way = basis_note(row.how[column.key]) if column.key in row.how else ""
    rests = f"n {row.n[column.key]}" if column.key in row.n else ""
    return Cell(key.number(value)[0], rests, best, way, opens(row, column.key))


def stands_out(key: Key, values: Sequence[float | None]) -> list[bool]:
    """Return which of values on one screen are set in bold: the best, compared as they are printed.

    Two that print alike are both bold or neither; nothing is bold where all print alike.
    """
    merits = [None if value is None else key.merit(value) for value in values]
    known = [merit for merit in merits if merit is not None]
    printed = ["" if merit is None else key.number(merit)[0] for merit in merits]
    if key.better == "neither" or len(set(filter(None, printed))) < 2:
        return [False] * len(printed)
    best = key.number(max(known) if key.better == "higher" else min(known))[0]
    return [text == best for text in printed]


def ranking_tables(ranking: Sequence[Place]) -> tuple[Table, ...]:
    """Return one ranking per screen."""
    screens = dict.fromkeys(place.raster for place in ranking)
    align = ("right", "left", "right", "right", "right", "left")
    return tuple(
        Table(
            capital(screen),
            ("place", "chain", "mean rank", "lead", "frames", "why"),
            tuple(_place_row(p) for p in ranking if p.raster == screen),
            align,
            head=1,
        )
        for screen in screens
    )


def _place_row(place: Place) -> tuple[str, ...]:
    score = NO_VALUE if place.score is None else f"{place.score:.2f}"
    lead = NO_VALUE if place.lead is None else f"{100 * place.lead:.0f} %"
    return place_number(place), place.chain, score, lead, frames_of(place), place.reason


def place_number(place: Place) -> str:
    """Return the place's number, a dash when it has none."""
    return NO_VALUE if place.rank is None else str(place.rank)


def frames_of(place: Place) -> str:
    """Return on how many frames the measures were had: "7", "3 to 7" when they differ, and what on none."""
    counts = sorted(count for count in place.frames.values() if count)
    if not counts:
        return "0"
    span = str(counts[0]) if counts[0] == counts[-1] else f"{counts[0]} to {counts[-1]}"
    none = [name for name, count in place.frames.items() if not count]
    return f"{span} ({_keys(none)}: 0)" if none else span


def standing_tables(verdicts: Sequence[Verdict]) -> tuple[Table, ...]:
    """Return, for each screen the chains that none beats in everything, and at what each beats whom."""
    return tuple(
        Table(
            f"{capital(verdict.raster)}: beaten by none in everything",
            ("chain", "better in", "worse in"),
            tuple((s.chain, _against(s.better_than), _against(s.worse_than)) for s in verdict.unbeaten),
            head=0,
        )
        for verdict in verdicts
        if verdict.unbeaten
    )


def _against(keys: Mapping[str, Sequence[str]]) -> str:
    """Return measures and than whom: "false detail than sharp and soft"."""
    said = "; ".join(f"{key_of(name).short} than {listed(chains)}" for name, chains in keys.items())
    return said or NO_VALUE


def _keys(names: Sequence[str]) -> str:
    return listed(key_of(name).short for name in names) if names else NO_VALUE


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
    commas = ["," in _BRACKETED.sub("", part) for part in parts]
    if len(parts) == 2 and not commas[0]:
        return " and ".join(parts)
    between = "; " if any(commas) else ", "
    return f"{between.join(parts[:-1])}{';' if between == '; ' else ''} and {parts[-1]}"
