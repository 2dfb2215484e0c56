"""What to try, from text and Python."""

from __future__ import annotations

from typing import Any

import pytest

from scalesim.chain import Chain
from scalesim.chain.vary import parse_vary
from scalesim.errors import ParameterError

STAGES = Chain("position, fit, line-drop lines=240, flicker-filter, line-drop lines=120").stages


@pytest.mark.parametrize(
    ("vary", "key", "values", "ordered"),
    [
        ("position.lines=-1:1:1/2", "position.lines", (-1.0, -0.5, 0.0, 0.5, 1.0), True),
        ({"position.lines": (-1, 1, 0.5)}, "position.lines", (-1.0, -0.5, 0.0, 0.5, 1.0), True),
        ({"position.lines": [0, 3, 1]}, "position.lines", (0.0, 3.0, 1.0), False),
        ({"position.lines": [3, 2, 2, 1]}, "position.lines", (3.0, 2.0, 1.0), True),
        (["fit.how=squeeze|crop"], "fit.how", ("squeeze", "crop"), False),
        ("line-drop#2.lines = 100:120:10", "line-drop#2.lines", (100, 110, 120), True),
        ("flicker-filter.taps=1|1/2/1", "flicker-filter.taps", ((1.0,), (1.0, 2.0, 1.0)), False),
        ({"fit.how": "crop"}, "fit.how", ("crop",), False),
    ],
)
def test_reads(vary: Any, key: str, values: tuple, ordered: bool) -> None:
    (found,) = parse_vary(STAGES, vary)
    assert (found.key, found.values, found.ordered) == (key, values, ordered)


@pytest.mark.parametrize(
    ("vary", "words"),
    [
        ("position.lines", "write key=first:last:step"),
        ("position.lines=", "write key=first:last:step"),
        ("position.lines=4:-4:1", "4:-4:1 runs backwards; write -4:4:1"),
        ("position.lines=-4:4:-1", "runs backwards"),
        ("position.lines=-4:4:0", "step is 0"),
        ("position.lines=-4:4:nan", "nan is no finite number"),
        ("position.lines=-4:4:1/0", "1/0 is no finite number"),
        ("position.lines=-4:4", "-4:4 is no range"),
        ("position.lines=0:4000:0.001", "has 4000001 values"),
        ("position.lines=0|5000", "position: lines is 5000"),
        ("line-drop.lines=1:2:0.5", "lines is 1.5; it must be a whole number"),
        ("fit.how=squeez", "did you mean 'squeeze'"),
        (["fit.how=crop", "fit.how=squeeze"], "is given twice"),
        (["line-drop.lines=240", "line-drop#1.lines=240"], "is given twice"),
        ({"position.lines": (0, 1)}, "is no range"),
        ({"position.lines": []}, "has no values"),
        ({}, "vary is empty"),
        ({"position.lines": (0, float("inf"), 1)}, "inf is no finite number"),
    ],
)
def test_names_what_is_wrong(vary: Any, words: str) -> None:
    with pytest.raises(ParameterError) as caught:
        parse_vary(STAGES, vary)
    assert words in str(caught.value) and "\n" not in str(caught.value)
