"""Operator files: the line weights of a box, as a text that can be kept, sent and used again.

A document is a JSON object; a row is one output line: the first source line it takes, and its weights.
Lines count from 0 at the top of a picture (of a field where there are two); a row may begin above the
picture or end below it, where the outermost line stands for what is missing.

``{"scalesim_operator": 1, "title": "…", "lines_in": 720, "fields_in": 1, "encoding": "code", "step": 3.0,
"fields": [{"parity": 0, "landing": "0", "phase": 0.0, "rows": [[0, [0.5, 0.5]], …]}]}``

Format of this project.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Literal

import numpy as np

from scalesim.core.encoding import Encoding
from scalesim.core.operator import FieldOperator, Operator, matrix_from_taps, mixing
from scalesim.core.raster import Field
from scalesim.errors import ParameterError

FORMAT = 1
MARK = "scalesim_operator"
_MOST_LINES = 4320
_MOST_WEIGHT = 64.0

Row = tuple[int, tuple[float, ...]]


@dataclass(frozen=True)
class FieldRows:
    """One field phase: what it carries, where it lands, and a (first line, weights) row per output line.

    `phase` is where the first row's span begins, in source lines.
    """

    field: Field
    phase: float
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class OperatorFile:
    """The line operator of a box as it was measured.

    Parameters:
        title : what it is, for people
        lines_in : lines of a source picture, `fields_in` 1 for frames or 2 for fields
        encoding : the values it mixes, "code" or "light"
        step : source lines per output line
        fields : one entry per output phase, all with equally many rows
    """

    title: str
    lines_in: int
    fields_in: int
    encoding: Literal["code", "light"]
    step: float
    fields: tuple[FieldRows, ...]

    @property
    def lines_out(self) -> int:
        """Lines of an output picture."""
        return len(self.fields[0].rows)

    def operator(self) -> FieldOperator:
        """Return the matrices, one per output phase."""
        return FieldOperator(tuple(self._matrix(own.rows, self.encoding) for own in self.fields))

    def _matrix(self, rows: tuple[Row, ...], encoding: Encoding) -> Operator:
        lengths = [len(weights) for _, weights in rows]
        line = np.repeat(np.arange(len(rows)), lengths)
        source = np.concatenate([first + np.arange(len(weights)) for first, weights in rows])
        weight = np.concatenate([np.asarray(weights) for _, weights in rows])
        shape = (len(rows), self.lines_in)
        return mixing(
            matrix_from_taps(shape, line, np.clip(source, 0, self.lines_in - 1), weight), encoding=encoding
        )

    def to_json(self) -> str:
        """Return the text of the file; weights to ten digits."""
        document = {
            MARK: FORMAT,
            "title": self.title,
            "lines_in": self.lines_in,
            "fields_in": self.fields_in,
            "encoding": self.encoding,
            "step": self.step,
            "fields": [
                {
                    "parity": own.field.parity,
                    "landing": str(own.field.landing),
                    "phase": own.phase,
                    "rows": [[first, [float(f"{w:.10g}") for w in weights]] for first, weights in own.rows],
                }
                for own in self.fields
            ],
        }
        return json.dumps(document, ensure_ascii=False, allow_nan=False) + "\n"

    @classmethod
    def from_json(cls, text: str, *, name: str = "operator file") -> OperatorFile:
        """Return what a text holds.

        Raises: ParameterError naming what is missing or out of range
        """
        try:
            document = json.loads(text)
        except (ValueError, RecursionError):
            raise ParameterError(f"{name}: is not JSON; save one with scalesim identify") from None
        if not isinstance(document, dict) or document.get(MARK) != FORMAT:
            raise ParameterError(
                f'{name}: is no operator file of format {FORMAT} (no "{MARK}": {FORMAT}); '
                "save one with scalesim identify"
            )
        fields = _member(document, "fields", list, name)
        if not 1 <= len(fields) <= 2:
            raise ParameterError(f"{name}: holds {len(fields)} fields; it must be 1 or 2")
        lines_in = _whole(document, "lines_in", 1, _MOST_LINES, name)
        read = tuple(_field(own, lines_in, f"{name}: field {n}") for n, own in enumerate(fields, start=1))
        if len({len(own.rows) for own in read}) > 1:
            raise ParameterError(f"{name}: its fields have different numbers of rows; they must be equal")
        encoding = document.get("encoding")
        if encoding not in ("code", "light"):
            raise ParameterError(f"{name}: encoding is {encoding!r}; it must be code or light")
        return cls(
            title=str(document.get("title", "")),
            lines_in=lines_in,
            fields_in=_whole(document, "fields_in", 1, 2, name),
            encoding="light" if encoding == "light" else "code",
            step=_number(document, "step", 1 / 64, _MOST_LINES, name),
            fields=read,
        )


def _field(table: Any, lines_in: int, name: str) -> FieldRows:
    if not isinstance(table, Mapping):
        raise ParameterError(f"{name}: is {type(table).__name__}; it must be an object with its rows")
    rows = _member(table, "rows", list, name)
    if not 1 <= len(rows) <= _MOST_LINES:
        raise ParameterError(f"{name}: has {len(rows)} rows; it must be 1 to {_MOST_LINES}")
    parity = _whole(table, "parity", 0, 1, name)
    phase = _number(table, "phase", -_MOST_LINES, _MOST_LINES, name)
    read = tuple(_row(row, lines_in, f"{name}, row {n}") for n, row in enumerate(rows))
    return FieldRows(Field(parity, _landing(table.get("landing"), name)), phase, read)


def _landing(text: Any, name: str) -> Fraction:
    """Return where a field lands, a whole or half line."""
    if text in ("0", "1/2", "1"):
        return Fraction(text)
    raise ParameterError(f"{name}: landing is {text!r}; it must be 0, 1/2 or 1 in quotes")


def _row(row: Any, lines_in: int, name: str) -> Row:
    fits = isinstance(row, list) and len(row) == 2 and isinstance(row[0], int) and isinstance(row[1], list)
    if not fits or not 1 <= len(row[1]) <= lines_in:
        raise ParameterError(f"{name}: it must be [first source line, [weights]], at least one weight")
    if not -lines_in <= row[0] <= 2 * lines_in:
        raise ParameterError(f"{name}: begins at line {row[0]}, far outside the {lines_in} source lines")
    for weight in row[1]:
        if isinstance(weight, bool) or not isinstance(weight, int | float) or not abs(weight) <= _MOST_WEIGHT:
            raise ParameterError(f"{name}: weight {weight!r}; it must be a number within ±{_MOST_WEIGHT:g}")
    return row[0], tuple(float(weight) for weight in row[1])


def _member(table: Mapping[str, Any], key: str, kind: type, name: str) -> Any:
    value = table.get(key)
    if not isinstance(value, kind):
        raise ParameterError(f"{name}: {key} is {value!r}; it must be a {kind.__name__}")
    return value


def _number(table: Mapping[str, Any], key: str, least: float, most: float, name: str) -> float:
    value = table.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise ParameterError(f"{name}: {key} is {value!r}; it must be a number")
    if not least <= value <= most:
        raise ParameterError(f"{name}: {key} is {value:g}; it must be {least:g} to {most:g}")
    return float(value)


def _whole(table: Mapping[str, Any], key: str, least: int, most: int, name: str) -> int:
    value = _number(table, key, least, most, name)
    if value != int(value):
        raise ParameterError(f"{name}: {key} is {value:g}; it must be a whole number")
    return int(value)
