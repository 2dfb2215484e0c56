"""`Rows`: the rows of a study in an SQLite database, written by one process, read while it grows."""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from scalesim.errors import ParameterError, ReadError, WriteError
from scalesim.rows.layout import (
    BESIDE,
    FRAME_ITSELF,
    LAYOUT,
    TEXTS,
    Contestant,
    Source,
    make_tables,
    quoted,
)
from scalesim.texts import echoed

_LONG = 10.0
"""Seconds to wait for another who looks into the database."""


@dataclass(frozen=True)
class Measured:
    """A row: a frame of a source through one contestant, both by their numbers; `values` by metric."""

    source: int
    frame: int
    contestant: int
    texts: tuple[str, ...]
    values: Mapping[str, float | None]
    beside: tuple[Mapping[str, Any], ...]


@dataclass(frozen=True)
class NotDone:
    """A frame, or a frame and a contestant, that could not be had, and why."""

    source: int
    frame: int
    contestant: int
    why: str


class Rows:
    """The rows of a study.

    Parameters:
        place : of the database; "" keeps it in a temporary file that goes with this object
        metrics : keys that are measured; version : of the program, rows of others are left as they are
    Raises: WriteError where the database cannot be made; ReadError for one that is damaged or of another
        layout; ParameterError for one that holds other metrics
    """

    def __init__(self, place: str | Path, metrics: Sequence[str], version: str) -> None:
        self.place, self.metrics, self.version = str(place), tuple(metrics), version
        self._numbers: dict[str, int] = {}
        self.sources: list[Source] = []
        self.contestants: list[Contestant] = []
        self._source_ids: list[int] = []
        self._contestant_ids: list[int] = []
        self._open: sqlite3.Connection | None = None
        with self._told("opened"):
            make_tables(self._database, self.metrics)
        self._check_columns()
        self.settle("layout", str(LAYOUT), "is kept in another layout")

    @property
    def _database(self) -> sqlite3.Connection:
        """The connection, opened when it is needed."""
        if self._open is None:
            with self._told("opened"):
                self._open = sqlite3.connect(self.place, timeout=_LONG, isolation_level=None)
                self._open.execute("PRAGMA journal_mode=WAL")
                self._open.execute("PRAGMA synchronous=NORMAL")
        return self._open

    def _check_columns(self) -> None:
        known = [row[1] for row in self._all("SELECT * FROM pragma_table_info('measured')")]
        missing = [name for name in self.metrics if name not in known]
        if missing:
            raise ParameterError(
                f"{self._name}: holds no {', '.join(missing)}; measure what it holds (--metrics), or choose "
                "another --out"
            )

    @property
    def _name(self) -> str:
        return Path(self.place).name or "the temporary database"

    def settle(self, key: str, value: str, otherwise: str) -> None:
        """Write what the study rests on, or check that it is still that.

        Raises: ParameterError that names the study and ends in `otherwise`
        """
        with self._told("written"):
            self._database.execute("INSERT OR IGNORE INTO study VALUES (?, ?)", (key, value))
        ((known,),) = self._all("SELECT value FROM study WHERE key=?", (key,))
        if known != value:
            raise ParameterError(
                f"{self._name}: {otherwise} ({echoed(known)}, now {echoed(value)}); choose another --out"
            )

    def take_up(self, sources: Iterable[Source], contestants: Iterable[Contestant]) -> None:
        """Say what the study is about; from here on both are known by their place in these lists."""
        self.sources, self.contestants = list(sources), list(contestants)
        with self._step() as database:
            for each in self.sources:
                told = json.dumps(each.settings, default=str), json.dumps(each.damage)
                database.execute(
                    "INSERT OR IGNORE INTO sources (mark, name, rate, settings, damage) "
                    "VALUES (?, ?, ?, ?, ?)",
                    (each.mark, each.name, each.rate, *told),
                )
            for one in self.contestants:
                database.execute(
                    "INSERT OR IGNORE INTO contestants (mark, label, chain, setting, display) "
                    "VALUES (?, ?, ?, ?, ?)",
                    (one.mark, one.label, one.chain, one.setting, one.display),
                )
        sources_known = dict(self._all("SELECT mark, id FROM sources"))
        contestants_known = dict(self._all("SELECT mark, id FROM contestants"))
        self._source_ids = [sources_known[each.mark] for each in self.sources]
        self._contestant_ids = [contestants_known[one.mark] for one in self.contestants]
        with self._step() as database:
            for table, numbers in (("s", self._source_ids), ("c", self._contestant_ids)):
                database.execute(f"DROP TABLE IF EXISTS temp.{table}")
                database.execute(f"CREATE TEMP TABLE {table} (id INTEGER PRIMARY KEY, place INTEGER)")
                pairs = ((number, place) for place, number in enumerate(numbers))
                database.executemany(f"INSERT INTO {table} VALUES (?, ?)", pairs)

    def missing(self, source: int, frames: Sequence[int]) -> tuple[list[int], list[int]]:
        """Return which frames of a source, and which contestants on any of them, are still to be done."""
        if not frames:
            return [], []
        bounds = (self._source_ids[source], frames[0], frames[-1], self.version)
        done: set[tuple[int, int]] = set()
        for table in ("measured", "not_done"):
            where = "source=? AND frame>=? AND frame<=? AND version=?"
            done |= set(self._all(f"SELECT frame, contestant FROM {table} WHERE {where}", bounds))
        left: dict[int, None] = {}
        open_frames = []
        for frame in frames:
            if (frame, FRAME_ITSELF) in done:
                continue
            own = [k for k, number in enumerate(self._contestant_ids) if (frame, number) not in done]
            if own:
                open_frames.append(frame)
                left.update(dict.fromkeys(own))
        return open_frames, sorted(left)

    def add(self, measured: Iterable[Measured], not_done: Iterable[NotDone]) -> None:
        """Keep what a task gave, all of it or nothing; what is there already stays as it is.

        Raises: WriteError when the disk is full or the database cannot be written
        """
        names = ("source", "frame", "contestant", "version", *TEXTS, *BESIDE, *map(quoted, self.metrics))
        marks = ", ".join("?" * len(names))
        with self._step() as database:
            database.executemany(
                f"INSERT OR IGNORE INTO measured ({', '.join(names)}) VALUES ({marks})",
                (self._packed(row) for row in measured),
            )
            database.executemany(
                "INSERT OR IGNORE INTO not_done VALUES (?, ?, ?, ?, ?)",
                (
                    (self._source_ids[n.source], n.frame, self._number(n.contestant), self.version, n.why)
                    for n in not_done
                ),
            )

    def _number(self, contestant: int) -> int:
        return FRAME_ITSELF if contestant == FRAME_ITSELF else self._contestant_ids[contestant]

    def _packed(self, row: Measured) -> tuple[Any, ...]:
        beside = (json.dumps(dict(each)) if each else "" for each in row.beside)
        values = (row.values.get(name) for name in self.metrics)
        place = self._source_ids[row.source], row.frame, self._contestant_ids[row.contestant], self.version
        return (*place, *row.texts, *beside, *values)

    def select(self, what: str, rest: str = "", values: Sequence[Any] = ()) -> Iterator[tuple[Any, ...]]:
        """Yield what SQL gives of the rows of this version and of those that are compared.

        `measured` is joined with `s.place` and `c.place`, the places of source and contestant in this
        study's lists: rows of others that the database may hold do not count.
        """
        query = (
            f"SELECT {what} FROM measured JOIN s ON s.id=source JOIN c ON c.id=contestant "
            f"WHERE version=? {rest}"
        )
        yield from self._database.execute(query, (self.version, *values))

    def rows(self, rest: str = "", values: Sequence[Any] = ()) -> Iterator[Measured]:
        """Yield rows in the order of sources, frames and contestants, one held at a time.

        Parameters:  rest : more of the SQL condition, beginning with AND
        """
        columns = ("s.place", "frame", "c.place", *TEXTS, *BESIDE, *map(quoted, self.metrics))
        order = "ORDER BY s.place, frame, c.place"
        texts, beside = 3 + len(TEXTS), 3 + len(TEXTS) + len(BESIDE)
        for found in self.select(", ".join(columns), f"{rest} {order}", values):
            source, frame, contestant = found[:3]
            yield Measured(
                source,
                frame,
                contestant,
                found[3:texts],
                dict(zip(self.metrics, found[beside:], strict=True)),
                tuple(json.loads(each) if each else {} for each in found[texts:beside]),
            )

    def not_done(self) -> Iterator[NotDone]:
        """Yield what could not be done, in the order of sources, frames and contestants."""
        places = {number: place for place, number in enumerate(self._contestant_ids)}
        places[FRAME_ITSELF] = FRAME_ITSELF
        for source, number in enumerate(self._source_ids):
            found = self._all(
                "SELECT frame, contestant, why FROM not_done WHERE source=? AND version=?",
                (number, self.version),
            )
            for frame, contestant, why in sorted(found, key=lambda row: (row[0], places.get(row[1], 0))):
                if contestant in places:
                    yield NotDone(source, frame, places[contestant], why)

    def close_into(self, place: str | Path) -> None:
        """Leave the whole database as one file at a place; at its own, let go of it, so that it can be moved.

        Raises: WriteError
        """
        with self._told("written"):
            if self.place and Path(place) == Path(self.place):
                self._leave_alone()
                return
            self._copy(place)

    def _leave_alone(self) -> None:
        """Leave one file without a journal, also while somebody looks into it."""
        try:
            self._database.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            self._database.execute("PRAGMA journal_mode=DELETE")
            self.close()
        except sqlite3.OperationalError as error:
            if "locked" not in str(error):
                raise
            fresh = f"{self.place}-new"
            self._copy(fresh)
            self.close()
            os.replace(fresh, self.place)
            for ending in ("-wal", "-shm"):
                Path(f"{self.place}{ending}").unlink(missing_ok=True)

    def _copy(self, place: str | Path) -> None:
        copy = sqlite3.connect(place)
        try:
            self._database.backup(copy)
            copy.execute("PRAGMA journal_mode=DELETE")
        finally:
            copy.close()

    def close(self) -> None:
        """Let go of the database; again is nothing."""
        if self._open is not None:
            self._open.close()
            self._open = None

    def _all(self, query: str, values: Sequence[Any] = ()) -> list[Any]:
        with self._told("read"):
            return self._database.execute(query, values).fetchall()

    @contextmanager
    def _step(self) -> Iterator[sqlite3.Connection]:
        """Give the database for a step that is kept whole or not at all."""
        with self._told("written"):
            self._database.execute("BEGIN IMMEDIATE")
            try:
                yield self._database
                self._database.execute("COMMIT")
            except BaseException:
                if self._database.in_transaction:
                    self._database.execute("ROLLBACK")
                raise

    @contextmanager
    def _told(self, what: str) -> Iterator[None]:
        """Tell an error of the database in one line."""
        try:
            yield
        except sqlite3.DatabaseError as error:
            code = getattr(error, "sqlite_errorcode", 0) & 0xFF
            if code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
                raise ReadError(
                    f"{self._name}: is no sound database ({error}); choose another --out"
                ) from None
            full = code in (sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR)
            reason = "the disk is full, or fails" if full else str(error)
            raise WriteError(
                f"{self._name}: cannot be {what} ({reason}); the rows before are kept: make room and go on "
                "with --resume"
            ) from None
