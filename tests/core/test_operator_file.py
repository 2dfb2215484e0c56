"""Operator files: what is written is read back, and nothing odd gets in."""

from __future__ import annotations

import json
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from scalesim.core.operator_file import MARK, FieldRows, OperatorFile
from scalesim.core.raster import Field
from scalesim.errors import ParameterError


def pair_means(lines: int = 8) -> OperatorFile:
    """Return the operator file of a box that averages pairs of lines."""
    rows = tuple((2 * r, (0.5, 0.5)) for r in range(lines // 2))
    return OperatorFile("pairs", lines, 1, "code", 2.0, (FieldRows(Field(), 0.0, rows),))


def field(**keys: Any) -> list[dict[str, Any]]:
    return [{"parity": 0, "landing": "0", "phase": 0, "rows": [[0, [1]]], **keys}]


def changed(**keys: Any) -> str:
    return json.dumps({**json.loads(pair_means().to_json()), **keys})


def test_it_is_the_matrix_of_its_rows() -> None:
    """Against a matrix written out by hand."""
    matrix = pair_means(4).operator().phases[0].lines
    assert matrix is not None
    np.testing.assert_array_equal(matrix.toarray(), [[0.5, 0.5, 0, 0], [0, 0, 0.5, 0.5]])


def test_rows_beyond_the_picture_lie_on_its_outermost_lines() -> None:
    rows = ((-1, (0.25, 0.75)), (3, (0.5, 0.25, 0.25)))
    matrix = OperatorFile("", 4, 1, "code", 2.0, (FieldRows(Field(), 0.0, rows),)).operator().phases[0].lines
    assert matrix is not None
    np.testing.assert_array_equal(matrix.toarray(), [[1, 0, 0, 0], [0, 0, 0, 1]])


def test_what_is_written_is_read_back() -> None:
    fields = (
        FieldRows(Field(0, Fraction(0)), 0.25, ((0, (1.0,)), (2, (1.0,)))),
        FieldRows(Field(1, Fraction(1, 2)), 1.25, ((1, (0.5, 0.5)), (3, (1.0,)))),
    )
    written = OperatorFile("a box", 4, 1, "light", 2.0, fields)
    assert OperatorFile.from_json(written.to_json()) == written


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is not JSON"),
        ("[1, 2]", "no operator file"),
        ("[" * 100000, "is not JSON"),
        (json.dumps({MARK: 2}), "no operator file of format 1"),
        (changed(lines_in=0), "lines_in is 0; it must be a whole number at least 1 and at most 4320"),
        (changed(lines_in=7.5), "must be a whole number"),
        (changed(lines_in="8"), "lines_in is '8'; it must be a whole number"),
        (changed(fields=[]), "fields is a list of 0 fields; it must be a list of 1 to 2 fields"),
        (changed(fields=[3]), "field 1 is 3; it must be a table of keys"),
        (changed(encoding="gamma"), "encoding is 'gamma'; valid: code, light"),
        (changed(step=float("inf")), "step is inf"),
        (changed(fields=field(rows=[])), "rows is a list of 0 rows"),
        (
            changed(fields=field(landing="1/3")),
            "landing is '1/3'",
        ),
        (changed(fields=field(parity=2)), "parity is 2"),
        (changed(fields=field(parity=True)), "parity is True"),
        (changed(step=10**400), "step is 1000"),
        (changed(setp=2), "unknown key 'setp'; did you mean 'step'"),
        (json.dumps({MARK: 1}), "key 'lines_in' is missing"),
        (changed(fields=field(rows=[[True, [1]]])), "first is True"),
        (changed(fields=field(rows=[[0, [1], 2]])), "[first source line, [weights]]"),
        (
            changed(fields=field(rows=[[0, []]])),
            "row 0: weights is a list of 0 weights",
        ),
        (changed(fields=field(rows=[[99, [1]]])), "far outside"),
        (
            changed(fields=field(rows=[[0, ["x"]]])),
            "weight 0 is 'x'; it must be a number at least -64 and at most 64",
        ),
        (
            changed(fields=field(rows=[[0, [float("nan")]]])),
            "weight 0 is nan",
        ),
    ],
)
def test_anything_else_is_refused_in_a_line(text: str, words: str) -> None:
    with pytest.raises(ParameterError, match=None) as caught:
        OperatorFile.from_json(text, name="box.json")
    assert words in str(caught.value) and "\n" not in str(caught.value)
    assert str(caught.value).startswith("box.json")


def test_fields_of_different_height_are_refused() -> None:
    one = {"parity": 0, "landing": "0", "phase": 0, "rows": [[0, [1]]]}
    two = {"parity": 1, "landing": "1/2", "phase": 0, "rows": [[0, [1]], [1, [1]]]}
    with pytest.raises(ParameterError, match="different numbers of rows"):
        OperatorFile.from_json(changed(fields=[one, two]))
