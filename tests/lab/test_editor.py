"""A chain being written: its forms agree, stages that are off are kept, errors say where."""

from __future__ import annotations

from pathlib import Path

import pytest

from scalesim.chain import Chain
from scalesim.errors import ParameterError
from scalesim.lab.editor import place_of, with_files, written
from scalesim.stages import STAGES

TEXT = "line-average lines=480, position lines=1/3, flicker-filter taps=1/6/1, interlace"


def test_text_toml_and_stages_agree() -> None:
    told = written({"text": f"a: {TEXT}"}).to_dict()
    assert told["name"] == "a" and told["text"] == TEXT
    assert written({"toml": told["toml"]}).to_dict() == told
    assert written({"stages": told["stages"], "name": "a"}).to_dict() == told


@pytest.mark.parametrize("kind", STAGES)
def test_every_kind_goes_through(kind: str) -> None:
    stage = STAGES[kind](**STAGES[kind].example)
    told = written({"text": Chain(stage).text}).to_dict()
    assert written({"stages": told["stages"]}).chain == Chain(stage)


def test_a_stage_that_is_off_is_kept_and_not_computed() -> None:
    stages = written({"text": TEXT}).to_dict()["stages"]
    stages[1]["off"] = True
    told = written({"stages": stages, "name": "b"}).to_dict()
    assert "position" not in told["text"] and told["stages"][1]["off"] and "off = true" in told["toml"]
    assert written({"toml": told["toml"]}).to_dict() == told


def test_all_stages_may_be_off() -> None:
    found = written({"stages": [{"kind": "interlace", "keys": {}, "off": True}]})
    assert found.chain is None and found.to_dict()["text"] == ""


def test_dials_come_along() -> None:
    text = (
        'name = "x"\n[[stage]]\nkind = "position"\n'
        '[[dial]]\nkey = "position.lines"\nfirst = -1\nlast = 1\nstep = 0.25\n'
    )
    told = written({"toml": text}).to_dict()
    assert told["dials"][0]["values"][:2] == ["-1", "-0.75"] and told["dials"][0]["step"] == 0.25


DIALS = [
    {"key": "position.lines", "steps": ["0", "1"], "label": "V-POS"},
    {"key": "position#2.lines", "steps": ["0", "2"]},
]


def test_dials_stay_with_their_stages_whether_on_or_off() -> None:
    """The second position's dial is the first of the chain while the first stage is off."""
    stages = [
        {"kind": "position", "keys": {"lines": "1"}, "off": True},
        {"kind": "position", "keys": {"lines": "2"}, "off": False},
    ]
    found = written({"stages": stages, "dials": DIALS})
    assert found.chain is not None
    assert [(dial.key, dial.steps) for dial in found.chain.dials] == [("position.lines", (0, 2))]
    told = found.to_dict()
    assert [(dial["key"], dial["label"]) for dial in told["dials"]] == [
        ("position.lines", "V-POS"),
        ("position#2.lines", ""),
    ]
    assert written({"toml": told["toml"]}) == found
    stages[0]["off"] = False
    again = written({"stages": stages, "dials": DIALS}).chain
    assert again is not None and [dial.steps for dial in again.dials] == [(0, 1), (0, 2)]


def test_dials_are_kept_when_all_stages_are_off() -> None:
    found = written({"stages": [{"kind": "position", "keys": {}, "off": True}], "dials": DIALS[:1]})
    assert found.chain is None and written({"toml": found.to_dict()["toml"]}) == found


@pytest.mark.parametrize(
    ("given", "words", "place"),
    [
        ({"text": "interlace, line-dorp"}, "line-drop", {"stage": 1}),
        ({"text": "interlace, ='"}, "cannot read", {"begin": 10}),
        ({"text": 3}, "must be a text", None),
        ({"toml": "a = ["}, "not valid TOML", None),
        ({"stages": []}, "empty", None),
        ({"stages": [{"kind": "line-drop", "keys": {"lines": "-3"}}]}, "lines is", {"stage": 0}),
        ({"stages": [{"kind": "interlace", "off": 1}]}, "off is 1", {"stage": 0}),
        ({"stages": ["interlace"]}, "no table", {"stage": 0}),
        ({"stages": [{"kind": "interlace", "keys": []}]}, "no table", {"stage": 0}),
        ({"stages": [{"kind": None}]}, "must be a text", {"stage": 0}),
        ({"stages": [{"kind": "interlace"}] * 201}, "at most 200", None),
        ({"stages": [{"kind": "position"}], "dials": {}}, "no list", None),
        ({"stages": [{"kind": "position"}], "dials": [3]}, "dial 1 is no table", None),
        ({"stages": [{"kind": "position"}], "dials": [{"key": "position.lines"}]}, "dial 1", None),
        ({"stages": [{"kind": "position"}], "dials": [{"key": "x.y", "steps": [1]}]}, "x", None),
        ({}, "must be a text", None),
    ],
)
def test_errors_say_where(given: dict, words: str, place: dict | None) -> None:
    with pytest.raises(ParameterError, match=words) as caught:
        written(given)
    assert place_of(str(caught.value)) == place


def test_files_are_those_it_was_started_with(tmp_path: Path) -> None:
    chain = Chain("measured file=box.json")
    found = with_files(chain, {"box.json": tmp_path / "box.json"})
    assert str(tmp_path / "box.json") in str(found)
    with pytest.raises(ParameterError, match="name it on the command line"):
        with_files(chain, {})
