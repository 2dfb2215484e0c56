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
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Literal

import numpy as np

from scalesim.core.encoding import Encoding
from scalesim.core.operator import FieldOperator, Operator, matrix_from_taps, mixing
from scalesim.core.raster import Field
from scalesim.errors import ParameterError
from scalesim.schema import Param, read_table

FORMAT = 1
MARK = "scalesim_operator"
_MOST_LINES = 4320
_MOST_WEIGHT = 64.0

Row = tuple[int, tuple[float, ...]]

_WEIGHT = Param("number", bare=True, at_least=-_MOST_WEIGHT, at_most=_MOST_WEIGHT)
_ROW = Param(
    "row",
    keys={
        "first": Param("whole", bare=True, doc="the first source line, 0 at the top"),
        "weights": Param(
            "list", of=_WEIGHT, item="weight", first=0, most=_MOST_LINES, doc="of the lines from there"
        ),
    },
    remedy="[first source line, [weights]], at least one weight",
)
_FIELD = {
    "parity": Param("whole", bare=True, at_least=0, at_most=1, doc="0: holds the topmost line"),
    "landing": Param(
        "choice",
        bare=True,
        choices=("0", "1/2", "1"),
        remedy="in quotes",
        unit="lines",
        doc="how far down the field lands",
    ),
    "phase": Param(
        "number",
        bare=True,
        unit="source lines",
        at_least=-_MOST_LINES,
        at_most=_MOST_LINES,
        doc="where the first row's span begins",
    ),
    "rows": Param("list", of=_ROW, item="row", first=0, most=_MOST_LINES, doc="one row an output line"),
}
OPERATOR = {
    MARK: Param("whole", bare=True, at_least=FORMAT, at_most=FORMAT, doc="format of the file"),
    "title": Param("text", default="", fewest=0, doc="what it is, for people"),
    "lines_in": Param(
        "whole", bare=True, unit="lines", at_least=1, at_most=_MOST_LINES, doc="lines of a source picture"
    ),
    "fields_in": Param("whole", bare=True, at_least=1, at_most=2, doc="1 for frames, 2 for fields"),
    "encoding": Param("choice", choices=("code", "light"), doc="the values it mixes"),
    "step": Param(
        "number",
        bare=True,
        unit="source lines per output line",
        at_least=1 / 64,
        at_most=_MOST_LINES,
        doc="from row to row",
    ),
    "fields": Param(
        "list", of=Param("table", keys=_FIELD), item="field", most=2, doc="one entry an output phase"
    ),
}
"""The keys of an operator file."""


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
        keys = read_table(name, document, OPERATOR)
        read = tuple(
            _field(own, keys["lines_in"], f"{name}: fields: field {n}")
            for n, own in enumerate(keys["fields"], start=1)
        )
        if len({len(own.rows) for own in read}) > 1:
            raise ParameterError(f"{name}: its fields have different numbers of rows; they must be equal")
        rest = {key: keys[key] for key in ("lines_in", "fields_in", "encoding", "step")}
        return cls(title=keys.get("title", ""), fields=read, **rest)


def _field(keys: Mapping[str, Any], lines_in: int, place: str) -> FieldRows:
    """Return a field of a file, after what its rows must agree on with the source is checked."""
    for number, (first, weights) in enumerate(keys["rows"]):
        if len(weights) > lines_in:
            raise ParameterError(
                f"{place}: rows: row {number} has {len(weights)} weights; it must be at most {lines_in}, "
                "one a source line"
            )
        if not -lines_in <= first <= 2 * lines_in:
            raise ParameterError(
                f"{place}: rows: row {number} begins at line {first}, far outside the {lines_in} source lines"
            )
    return FieldRows(Field(keys["parity"], Fraction(keys["landing"])), keys["phase"], keys["rows"])
