"""One value: the same answer and the same words whichever form it came in."""

from __future__ import annotations

import datetime
import math
from decimal import Decimal
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from scalesim.chain import Chain
from scalesim.errors import ParameterError
from scalesim.schema import Param, convert, read_table
from scalesim.tube.display import Display

HUGE = 10**5000
"""More digits than Python writes out (4300); TOML can hold it in hexadecimal."""

LINES = Param("whole", unit="lines", at_least=1, at_most=4320, remedy="240 is usual")
SHARE = Param("number", above=0, at_most=1)
BARE = Param("number", bare=True, at_least=0.5, at_most=3)


@pytest.mark.parametrize(
    "value", [240, 240.0, "240", " 240 ", "480/2", Fraction(240), Decimal(240), np.int16(240)]
)
def test_a_whole_number_in_every_form(value: Any) -> None:
    found = convert("x", value, LINES)
    assert found == 240 and type(found) is int


@pytest.mark.parametrize("value", [0.25, "0.25", "1/4", ".25", "25e-2", Fraction(1, 4), np.float32(0.25)])
def test_a_number_in_every_form(value: Any) -> None:
    found = convert("x", value, SHARE)
    assert found == 0.25 and type(found) is float


WORDS = ("nan", "inf", "1e999", "9" * 5000, "", "1/0", "1_0", "٣")
ODD = (*WORDS, math.nan, math.inf, HUGE, -HUGE, True, np.True_, None, [1], {"a": 1}, b"1", 1j)


@pytest.mark.parametrize("schema", [LINES, SHARE, BARE, Param("exact"), Param("aspect")])
@pytest.mark.parametrize("value", ODD, ids=lambda value: type(value).__name__)
def test_what_is_no_number_is_refused_in_a_short_line(schema: Param, value: Any) -> None:
    """One line, whatever it is; no other error gets out."""
    with pytest.raises(ParameterError) as refused:
        convert("box: key", value, schema)
    text = str(refused.value)
    assert text.startswith("box: key") and "\n" not in text and len(text) < 200


def test_the_words_of_a_refusal() -> None:
    """Place, value, limit, remedy."""
    for schema, value, text in (
        (LINES, 0, "p is 0; it must be at least 1 (240 is usual)"),
        (LINES, "9000", "p is 9000; it must be at most 4320 (240 is usual)"),
        (LINES, 1.5, "p is 1.5; it must be a whole number of lines (240 is usual)"),
        (SHARE, 0, "p is 0; it must be above 0"),
        (BARE, "2", "p is '2'; it must be a number at least 0.5 and at most 3"),
        (BARE, 9, "p is 9; it must be a number at least 0.5 and at most 3"),
        (
            Param("choice", choices=("aware", "naive")),
            "awar",
            "p is 'awar'; did you mean 'aware'? valid: aware, naive",
        ),
        (
            Param("list", of=LINES, item="line", most=2),
            [],
            "p is a list of 0 lines; it must be a list of 1 to 2 lines",
        ),
        (
            Param("list", of=LINES, item="line"),
            [1, 0],
            "p: line 2 is 0; it must be at least 1 (240 is usual)",
        ),
    ):
        with pytest.raises(ParameterError) as refused:
            convert("p", value, schema)
        assert str(refused.value) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (datetime.date(2024, 3, 5), "2024-03-05"),
        (datetime.datetime(2024, 3, 5, 20, 15), "2024-03-05 20:15:00"),
        ("2024-03-05", "2024-03-05"),
        ("2024-03", "2024-03"),
        ("2024", "2024"),
    ],
)
def test_dates(value: Any, text: str) -> None:
    """ISO 8601 calendar dates, whole or cut to month or year."""
    assert convert("date", value, Param("date")) == text


@pytest.mark.parametrize("value", ["2024-02-30", "2024-13", "spring", "", 2024, datetime.time(1, 2), None])
def test_no_dates(value: Any) -> None:
    with pytest.raises(ParameterError, match="a date such as 2024-03-05"):
        convert("date", value, Param("date"))


BOX = {
    "kind": Param("text", doc="what it is"),
    "dials": Param(
        "list",
        of=Param("table", keys={"key": Param("text"), "steps": Param("whole", default=2)}),
        fewest=0,
        item="dial",
        optional=True,
    ),
    "notes": Param("map", of=Param("free"), item="note", or_text=True, optional=True),
}


def test_tables_within_tables() -> None:
    """A catalogue's box: keys left out stay out, what is given is converted."""
    given = {
        "kind": "scaler",
        "dials": [{"key": "position.lines", "steps": "9"}],
        "notes": {"fan": "loud", "unit": 2},
    }
    assert read_table("box", given, BOX) == {
        "kind": "scaler",
        "dials": ({"key": "position.lines", "steps": 9},),
        "notes": {"fan": "loud", "unit": 2},
    }
    assert read_table("box", {"kind": "scaler", "notes": "loud"}, BOX) == {"kind": "scaler", "notes": "loud"}


@pytest.mark.parametrize(
    ("given", "text"),
    [
        ({}, "box: key 'kind' is missing; give kind=… (what it is)"),
        (
            {"kind": "a", "dial": []},
            "box: unknown key 'dial'; did you mean 'dials'? valid: kind, dials, notes",
        ),
        ({"kind": "a", "dials": [{"key": "b"}, 3]}, "box: dials: dial 2 is 3; it must be a table of keys"),
        (
            {"kind": "a", "dials": [{"kye": "b"}]},
            "box: dials: dial 1: unknown key 'kye'; did you mean 'key'?",
        ),
        ({"kind": "a", "notes": {"fan": math.nan}}, "box: notes: fan is nan; it must be a text"),
        ({"kind": "a", "notes": 3}, "box: notes is 3; it must be a table of notes"),
        ({"k" * 9999: 1}, "box: unknown key 'kkk"),
    ],
)
def test_the_place_in_a_table_is_named(given: dict[str, Any], text: str) -> None:
    with pytest.raises(ParameterError) as refused:
        read_table("box", given, BOX)
    assert str(refused.value).startswith(text) and len(str(refused.value)) < 200


def test_numbers_of_thousands_of_digits_in_files() -> None:
    """TOML reads hexadecimal numbers of any length, Python writes none of more than 4300 digits."""
    table = '[[stage]]\nkind = "line-drop"\nlines = 0x' + "f" * 5000
    with pytest.raises(
        ParameterError, match="lines is a number of thousands of digits; it must be a whole number"
    ):
        Chain.from_toml(table)
    with pytest.raises(ParameterError, match="diagonal_mm is a number of thousands"):
        Display.from_toml(
            'name = "a"\naspect = "4:3"\ntv_lines = 400\nbeam_width = 1\ndiagonal_mm = 0x' + "f" * 5000
        )
