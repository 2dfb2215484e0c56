"""Traces and logs given on the page: kept as files of the lab, known by their digest, read anew."""

from __future__ import annotations

import hashlib
import threading
from dataclasses import replace
from pathlib import Path
from typing import Any

from scalesim.core.files import shown
from scalesim.core.lag_table import LagTable
from scalesim.core.trace import Trace
from scalesim.errors import ParameterError, ReadError
from scalesim.io.traces.read import read_trace

MOST_TRACES = 64
TRACE_MEGABYTES = 256
"""Of one file; ten million samples as text are about 200."""


class Traces:
    """All traces of one lab; safe to use from several threads."""

    def __init__(self, store: Path) -> None:
        self._store, self._lock = store, threading.Lock()
        self._names: dict[str, str] = {}

    def add(self, name: str, content: bytes, *, log: bool = False) -> dict[str, Any]:
        """Know an uploaded trace, or log of lag; return what the page is told of it.

        Raises: ReadError for what is none; ParameterError for too many
        """
        id = ("log-" if log else "trace-") + hashlib.sha256(content).hexdigest()[:24]
        plain = shown(Path(name.replace("\\", "/")).name)[:80] or "trace"
        with self._lock:
            if id not in self._names and len(self._names) >= MOST_TRACES:
                raise ParameterError(
                    f"the lab holds {MOST_TRACES} traces, as many as it takes; start it again"
                )
        path = self._store / id
        path.write_bytes(content)
        try:
            told = self._log_told(path) if log else self._trace_told(path)
        except ReadError as error:
            path.unlink(missing_ok=True)
            raise ReadError(str(error).replace(str(path), plain).replace(id, plain)) from None
        with self._lock:
            self._names.setdefault(id, plain)
        return {"id": id, "name": plain, "told": told}

    def _trace_told(self, path: Path) -> str:
        found = read_trace(path)
        return f"{found.samples} samples of {', '.join(found.channels)}"

    def _log_told(self, path: Path) -> str:
        from scalesim.io.tables.lag import read_lag

        found = read_lag(path)
        devices = f", {len(found.names)} devices" if found.names else ""
        return f"{len(found.lags)} rows{devices}"

    def name(self, id: Any) -> str:
        """Return the name of a trace's file; raise ParameterError for one that is not known."""
        found = self._names.get(id) if isinstance(id, str) else None
        if found is None:
            raise ParameterError("this trace is not here any more: give its file again")
        return found

    def trace(self, id: Any) -> Trace:
        """Return a trace, read now."""
        name = self.name(id)
        found = read_trace(self._store / id)
        notes = tuple(note.replace(id, name) for note in found.notes)
        return Trace(name, found.interval_s, found.channels, found.start_s, found.columns, notes)

    def log(self, id: Any) -> LagTable:
        """Return a log of lag, read now, under the name it was given by."""
        from scalesim.io.tables.lag import read_lag

        name = self.name(id)
        found = read_lag(self._store / id)
        notes = tuple(note.replace(found.name, name) for note in found.notes)
        return replace(found, name=name, notes=notes)
