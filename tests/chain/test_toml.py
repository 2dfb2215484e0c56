"""The TOML form: equal to text and Python, and what it says when it cannot be read."""

from __future__ import annotations

import properties
import pytest
import random_chains
from hypothesis import given
from hypothesis import strategies as st

from scalesim.chain import Chain
from scalesim.errors import ParameterError
from scalesim.stages.fields import Interlace
from scalesim.stages.lines import FlickerFilter

WHOLE = """
name = "sharp"

[[stage]]
kind = "line-average"
lines = 480
phase = "1/3"

[[stage]]
kind = "flicker-filter"
taps = [1, 6, 1]

[[stage]]
kind = "resample"
samples = 640
antialias = false

[[stage]]
kind = "fit"
aspect = "16:9"

[[stage]]
kind = "size"
height = 92.5
keep_aspect = true

[[stage]]
kind = "interlace"
"""
TEXT = (
    "sharp: line-average lines=480 phase=1/3, flicker-filter taps=1/6/1, resample samples=640 antialias=off, "
    "fit aspect=16:9, size height=92.5 keep_aspect=on, interlace"
)


def test_toml_and_text_give_equal_chains() -> None:
    from_toml, from_text = Chain.from_toml(WHOLE), Chain(TEXT)
    assert from_toml == from_text and from_toml.name == from_text.name == "sharp"
    assert str(from_toml) == TEXT
    properties.toml_round_trips(from_text)


@pytest.mark.parametrize(
    ("written", "text"),
    [
        ('kind = "line-drop"\nlines = "240"\nphase = 0.25', "line-drop lines=240 phase=1/4"),
        ('kind = "line-drop"\nlines = 240.0', "line-drop lines=240"),
        ('kind = "flicker-filter"\ntaps = "1/2/2/2/1"', "flicker-filter taps=1/2/2/2/1"),
        ('kind = "flicker-filter"\ntaps = [0.25, 0.5, 0.25]', "flicker-filter taps=0.25/0.5/0.25"),
        ('kind = "flicker-filter"\ntaps = "paired"', "flicker-filter taps=paired"),
        ('kind = "flicker-filter"\ntaps = 1', "flicker-filter taps=1"),
        ('kind = "resample"\nlines = 240\nantialias = "off"', "resample lines=240 antialias=off"),
        ('kind = "fit"\naspect = 1.25', "fit aspect=5:4"),
    ],
)
def test_values_as_toml_or_as_text(written: str, text: str) -> None:
    assert Chain.from_toml(f"[[stage]]\n{written}\n") == Chain(text)


def test_writing_leaves_defaults_out() -> None:
    written = Chain("line-drop lines=240, interlace").to_toml()
    assert [line for line in written.splitlines() if line] == [
        "[[stage]]",
        'kind = "line-drop"',
        "lines = 240",
        "[[stage]]",
        'kind = "interlace"',
    ]


def test_thirds_are_written_as_thirds() -> None:
    assert 'phase = "1/3"' in Chain("line-drop lines=240 phase=1/3").to_toml()
    properties.toml_round_trips(Chain(FlickerFilter(taps=(1 / 3, 1 / 3, 1 / 3))))


@given(random_chains.chains)
def test_random_chains_round_trip(chain: Chain) -> None:
    properties.toml_round_trips(chain)


@given(random_chains.chains)
def test_text_toml_and_python_agree(chain: Chain) -> None:
    assert Chain.from_toml(Chain(chain.text).to_toml()) == chain


def table(body: str) -> str:
    return f"[[stage]]\n{body}\n"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "chain file has no [[stage]] table"),
        ("stage = []", "chain file has no [[stage]] table"),
        ("stage = 3", "chain file has no [[stage]] table"),
        ("[stage]\nkind = 'interlace'", "chain file has no [[stage]] table"),
        ("stage = [3]", "stage 1 of 1: is 3; it must be a [[stage]] table"),
        ("name = 3\n" + table("kind = 'interlace'"), "chain file: name is 3; it must be a text"),
        ("nam = 'a'\n" + table("kind = 'interlace'"), "chain file: unknown key 'nam'; did you mean 'name'?"),
        (table("lines = 240"), "stage 1 of 1: kind is None; it must be the name of a stage"),
        (table("kind = 3"), "stage 1 of 1: kind is 3"),
        (table("kind = 'interlase'"), "stage 1 of 1: unknown kind 'interlase'; did you mean 'interlace'?"),
        (
            table("kind = 'interlace'") + table("kind = 'line-drop'"),
            "stage 2 of 2: line-drop: key 'lines' is missing",
        ),
        (table("kind = 'line-drop'\nline = 240"), "unknown key 'line'; did you mean 'lines'?"),
        (table("kind = 'line-drop'\nlines = true"), "lines is True; it must be a whole number"),
        (table("kind = 'line-drop'\nlines = [240]"), "lines is [240]; it must be a whole number"),
        (table("kind = 'line-drop'\nlines = nan"), "lines is nan; it must be a whole number"),
        (table("kind = 'line-drop'\nlines = 1979-05-27"), "lines is 1979-05-27; it must be a whole number"),
        (table("kind = 'flicker-filter'\ntaps = [[1], 2, [1]]"), "flicker-filter: taps is [[1], 2, [1]]"),
        (table("kind = 'flicker-filter'\ntaps = {a = 1}"), "flicker-filter: taps is"),
        (table("kind = 'resample'\nlines = 240\nantialias = 1"), "antialias is 1; it must be on or off"),
        (table("kind = 'line-drop'\nlines = 240\nlines = 480"), "not valid TOML"),
        ("[[stage]", "not valid TOML"),
        (table("kind = 'line-drop'\nlines = " + "9" * 5000), "TOML"),
        ("a = " + "[" * 5000, "TOML"),
    ],
)
def test_errors_name_the_place_and_the_remedy(text: str, words: str) -> None:
    with pytest.raises(ParameterError) as refused:
        Chain.from_toml(text)
    assert words in str(refused.value) and "\n" not in str(refused.value)


@given(st.text(max_size=80))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        chain = Chain.from_toml(text)
    except ParameterError:
        return
    properties.toml_round_trips(chain)


def test_name_is_kept_and_left_out_when_empty() -> None:
    assert Chain.from_toml(Chain(Interlace(), name='it\'s: "so"\n').to_toml()).name == 'it\'s: "so"\n'
    assert "name" not in Chain(Interlace()).to_toml()
