"""Addresses of keys: where they lead, what they set, and what is said when they lead nowhere."""

from __future__ import annotations

import pytest

from scalesim.chain import Chain
from scalesim.chain.keys import find_key, get_key
from scalesim.errors import ParameterError

CHAIN = Chain("mine: line-average lines=480, position lines=1, line-drop lines=360, line-drop lines=240")


@pytest.mark.parametrize(
    ("address", "value", "text"),
    [
        ("position.lines", 1.25, "line-average lines=480, position lines=1.25, line-drop lines=360, "),
        ("line-drop.lines", 300, "line-average lines=480, position lines=1, line-drop lines=300, "),
        ("line-average.encoding", "light", "line-average lines=480 encoding=light, position lines=1, "),
        ("line-average.phase", "1/3", "line-average lines=480 phase=1/3, position lines=1, "),
    ],
)
def test_sets_the_key_as_the_text_would(address: str, value: object, text: str) -> None:
    changed = CHAIN.with_keys({address: value})
    assert changed.text.startswith(text)
    assert changed.name == "mine" and CHAIN.text != changed.text
    assert changed == Chain(changed.text)


def test_the_second_of_a_kind() -> None:
    changed = CHAIN.with_keys({"line-drop#2.phase": 1, "line-drop#1.lines": 350})
    assert changed.text.endswith("line-drop lines=350, line-drop lines=240 phase=1")
    assert get_key(changed.stages, "line-drop#2.phase") == 1.0
    assert get_key(changed.stages, "line-drop.phase") == 0.0
    assert find_key(CHAIN.stages, "line-drop#2.lines").stage == 3


@pytest.mark.parametrize(
    ("address", "words"),
    [
        ("position.line", "did you mean 'lines'"),
        ("positon.lines", "unknown kind 'positon'; did you mean 'position'"),
        ("size.height", "the chain has no size"),
        ("line-drop#3.lines", "the chain has 2 line-drop, so # must be 1 to 2"),
        ("line-drop#0.lines", "# must be 1 to 2"),
        ("position", "is no address; write kind.key such as position.lines"),
        ("", "is no address"),
        (7, "is no address"),
    ],
)
def test_says_what_would_do(address: object, words: str) -> None:
    with pytest.raises(ParameterError) as caught:
        CHAIN.with_keys({address: 1})  # type: ignore[dict-item]  # a wrong key is the point
    assert words in str(caught.value) and "\n" not in str(caught.value)


def test_values_go_through_the_schema() -> None:
    with pytest.raises(ParameterError, match="line-drop: lines is 0; it must be at least 1"):
        CHAIN.with_keys({"line-drop.lines": 0})


def test_a_file_cannot_vary() -> None:
    chain = Chain("measured file=box.json, position")
    with pytest.raises(ParameterError, match=r"measured\.file cannot vary: it is a file"):
        chain.with_keys({"measured.file": "other.json"})
