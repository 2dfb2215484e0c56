"""The text form of a chain: reading, writing, and what it says when it cannot be read."""

from __future__ import annotations

import contextlib
import subprocess
import sys
import time

import properties
import pytest
import random_chains
from hypothesis import given
from hypothesis import strategies as st

from scalesim.chain import Chain
from scalesim.chain.text import parse_chain
from scalesim.demo.bench import chain_files
from scalesim.errors import ParameterError
from scalesim.stages.fields import FieldOnly, Interlace
from scalesim.stages.geometry import Fit, Overscan, Position, Size
from scalesim.stages.level import Level, Quantise
from scalesim.stages.lines import FlickerFilter, LineAverage, LineDrop
from scalesim.stages.resample import Resample


@pytest.mark.parametrize(
    ("text", "chain"),
    [
        ("line-drop lines=240", Chain(LineDrop(lines=240))),
        (
            "line-average lines=480, position lines=1, interlace, field-only",
            Chain(LineAverage(lines=480), Position(lines=1), Interlace(), FieldOnly()),
        ),
        ("line-drop lines=240 phase=1/3", Chain(LineDrop(lines=240, phase=1 / 3))),
        ("line-drop lines='240' phase='-1/3'", Chain(LineDrop(lines=240, phase=-1 / 3))),
        ("  line-drop\n lines = 240 ,\n quantise ", Chain(LineDrop(lines=240), Quantise())),
        ("line-drop lines=240 phase=2.5e-1", Chain(LineDrop(lines=240, phase=0.25))),
        ("flicker-filter taps=1/6/1", Chain(FlickerFilter(taps=(1, 6, 1)))),
        ("flicker-filter taps=-1/2/6/2/-1", Chain(FlickerFilter(taps=[-1, 2, 6, 2, -1]))),
        ("flicker-filter taps=1", Chain(FlickerFilter(taps=1))),
        ("flicker-filter taps=paired", Chain(FlickerFilter(taps="paired"))),
        ("fit aspect=16:9 how=crop", Chain(Fit(aspect=16 / 9, how="crop"))),
        ("fit aspect=4/3", Chain(Fit())),
        ("resample lines=240 antialias=off", Chain(Resample(lines=240, antialias=False))),
        ("size height=90 keep_aspect=on", Chain(Size(height=90.0, keep_aspect=True))),
        ("overscan top=0", Chain(Overscan(top=0))),
        ("level gain=1.1 clip=off", Chain(Level(gain=1.1, clip=False))),
    ],
)
def test_text_and_python_give_equal_chains(text: str, chain: Chain) -> None:
    assert Chain(text) == chain
    properties.text_round_trips(Chain(text))


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("sharp: line-drop lines=240", "sharp"),
        ("two words : line-drop lines=240", "two words"),
        ("'it''s, so: =': line-drop lines=240", "it's, so: ="),
        ("line-drop lines=240", ""),
        ("fit aspect=4:3", ""),
        ("'': line-drop lines=240", ""),
        ("drop 3:1: line-drop lines=240", "drop 3:1"),
        ("16:9, cut: fit how=crop, line-drop lines=240", "16:9, cut"),
        ("it's fine: interlace", "it's fine"),
        ("interlace, later: interlace", "interlace, later"),
        ("measured file='x: interlace'", ""),
    ],
)
def test_names(text: str, name: str) -> None:
    assert Chain(text).name == name


def test_names_of_the_shipped_chains_need_no_quotes() -> None:
    """Among them "720p drop 3:1", "16:9 squeezed onto 4:3" and "one set of lines, paired, up"."""
    for text in chain_files().values():
        chain = Chain.from_toml(text)
        written = Chain(f"{chain.name}: {chain.text}")
        assert (written, written.name) == (chain, chain.name)


def test_a_name_is_only_a_label() -> None:
    one, other = Chain("a: interlace"), Chain(Interlace(), name="b")
    assert one == other and hash(one) == hash(other) and one.name != other.name
    assert Chain("a: interlace", name="given").name == "given"
    assert one.text == "interlace" and str(one) == "a: interlace"


@pytest.mark.parametrize(
    "name", ["a:b", ":", "it's", "a, b", "x=1", " padded ", "line\nbreak", "'", "tab\t", "ünï"]
)
def test_every_name_comes_back(name: str) -> None:
    properties.text_round_trips(Chain(Interlace(), name=name))


@pytest.mark.parametrize(
    ("stage", "text"),
    [
        (LineDrop(lines=240), "line-drop lines=240"),
        (LineDrop(lines=240, phase=1 / 3), "line-drop lines=240 phase=1/3"),
        (LineDrop(lines=240, phase=0.1), "line-drop lines=240 phase=0.1"),
        (LineDrop(lines=240, phase=-2.0), "line-drop lines=240 phase=-2"),
        (FlickerFilter(), "flicker-filter"),
        (FlickerFilter(taps=[-1, 2.5, -1]), "flicker-filter taps=-1/2.5/-1"),
        (Fit(aspect="16:9"), "fit aspect=16:9"),
        (Resample(samples=720, antialias=False), "resample samples=720 antialias=off"),
        (Position(), "position"),
    ],
)
def test_writing_leaves_defaults_out(stage: object, text: str) -> None:
    assert Chain(stage).text == text  # type: ignore[arg-type]


@pytest.mark.parametrize("taps", [(1 / 3, 1 / 3, 1 / 3), (1 / 3,), (1 / 7, 1, 1 / 7)])
def test_taps_that_are_fractions_come_back(taps: tuple[float, ...]) -> None:
    """The slash joins taps, so a tap of a third cannot be written with one."""
    properties.text_round_trips(Chain(FlickerFilter(taps=taps)))


@pytest.mark.parametrize("aspect", ["1.85", "2.39:1", "1.333333", "1.777778:1", "3.999999", "0.25"])
def test_aspects_given_as_decimals_come_back(aspect: str) -> None:
    properties.text_round_trips(Chain(f"fit aspect={aspect}"))
    properties.toml_round_trips(Chain(f"fit aspect={aspect}"))


@given(random_chains.chains)
def test_random_chains_round_trip(chain: Chain) -> None:
    properties.text_round_trips(chain)
    for stage in chain.stages:
        properties.keys_round_trip(stage)


# what cannot be read


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "chain is empty"),
        ("   ", "chain is empty"),
        ("sharp:", "chain is empty"),
        (",", "stage 1 of 2 is empty; remove the extra comma"),
        ("interlace,", "stage 2 of 2 is empty; remove the extra comma"),
        ("interlace,, quantise", "stage 2 of 3 is empty"),
        ("interlase", "stage 1 of 1: unknown kind 'interlase'; did you mean 'interlace'?"),
        (
            "quantise, line-dorp lines=240",
            "stage 2 of 2: unknown kind 'line-dorp'; did you mean 'line-drop'?",
        ),
        (
            "drop 3:1: line-dorp lines=240",
            "stage 1 of 1: unknown kind 'line-dorp'; did you mean 'line-drop'?",
        ),
        ("zzz", "stage 1 of 1: unknown kind 'zzz'; valid: "),
        ("line-drop line=240", "stage 1 of 1: line-drop: unknown key 'line'; did you mean 'lines'?"),
        ("line-drop", "stage 1 of 1: line-drop: key 'lines' is missing; give lines="),
        ("line-drop lines=0", "stage 1 of 1: line-drop: lines is 0; it must be at least 1 (240 keeps"),
        ("line-drop lines=2.5", "line-drop: lines is 2.5; it must be a whole number of lines"),
        ("line-drop lines=nan", "line-drop: lines is 'nan'; it must be a whole number"),
        ("line-drop lines=inf", "line-drop: lines is 'inf'; it must be a whole number"),
        ("line-drop lines=240 phase=1/0", "line-drop: phase is 1/0; it must be a finite number"),
        ("line-drop lines=240 edge=blak", "line-drop: edge is 'blak'; did you mean 'black'?"),
        ("line-drop lines=240 lines=480", "stage 1 of 1 (line-drop): key 'lines' is given twice"),
        ("line-drop lines=240 interlace", "stage 1 of 1 (line-drop): 'interlace' has no value"),
        ("lines=240", "stage 1 of 1: begins with lines=240; it must begin with a kind"),
        ("line-drop lines='240", "chain: cannot read"),
        ("resample kernel=cubic", "stage 1 of 1: resample: neither lines nor samples"),
    ],
)
def test_errors_name_the_place_and_the_remedy(text: str, words: str) -> None:
    with pytest.raises(ParameterError) as refused:
        Chain(text)
    assert words in str(refused.value) and "\n" not in str(refused.value)


@pytest.mark.parametrize(
    "text", ["line-drop lines=", "line-drop lines=240 phase =", "line-drop lines=, interlace"]
)
def test_a_key_without_a_value_is_named_whole(text: str) -> None:
    key = "phase" if "phase" in text else "lines"
    with pytest.raises(ParameterError, match=rf"\b{key}\b"):
        Chain(text)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ((), "chain is empty"),
        ((3,), "stage 1 of 1 is 3; it must be a stage"),
        ((Interlace(), "quantise"), "stage 2 of 2 is 'quantise'"),
        (([Interlace()],), "stage 1 of 1 is"),
    ],
)
def test_what_is_no_stage_is_refused(given: tuple[object, ...], words: str) -> None:
    with pytest.raises(ParameterError, match=words):
        Chain(*given)  # type: ignore[arg-type]


WORDS = st.sampled_from(
    [
        "line-drop",
        "interlace",
        "lines",
        "=",
        "=240",
        "lines=240",
        ",",
        " ",
        ":",
        "'",
        "''",
        "/",
        "1/2/1",
        "taps=",
        "1e5",
        "name:",
        "\n",
        "phase=1/3",
        "fit",
        "aspect=4:3",
        "nan",
        "-",
        "paired",
        "ø",
        "taps='1/2/1'",
        "size height=90",
    ]
)


@given(st.one_of(st.text(max_size=60), st.lists(WORDS, max_size=12).map("".join)))
def test_any_text_is_read_or_refused_in_one_line(text: str) -> None:
    """Nothing but ParameterError comes out of the reader; what is read is written and read again."""
    try:
        name, stages = parse_chain(text)
    except ParameterError as refusal:
        assert str(refusal)
    else:
        properties.text_round_trips(Chain(*stages, name=name))


def test_many_blanks_are_read_quickly() -> None:
    """The time grows with the length, not with its cube: 1500 blanks in well under a second."""
    began = time.process_time()  # not the clock: other work on the machine is none of its
    for text in ("a" + " " * 1500 + "=", " " * 1500 + "b=", "line-drop" + " " * 1500 + "lines=240"):
        with contextlib.suppress(ParameterError):
            parse_chain(text)
    assert time.process_time() - began < 1.0


HUGE = """
from scalesim.chain import Chain
from scalesim.demo.bench import chain_files
from scalesim.errors import ParameterError
for text in ("line-drop lines=1e99999999", "fit aspect=1e99999999", "flicker-filter taps=1/1e99999999/1"):
    try:
        Chain(text)
    except ParameterError:
        continue
    raise SystemExit(text + " was not refused")
"""


def test_a_huge_exponent_is_refused_at_once() -> None:
    """Not worked out as a whole number of a hundred million digits first. Own process: it might never end."""
    try:
        done = subprocess.run(
            [sys.executable, "-c", HUGE], timeout=120, capture_output=True, text=True, check=False
        )
    except subprocess.TimeoutExpired:
        pytest.fail("a number such as 1e99999999 is still being worked out after 120 s")
    assert done.returncode == 0, done.stderr
