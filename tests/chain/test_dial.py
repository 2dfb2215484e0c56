"""Dials of a box in a chain's TOML, and ranges of values."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scalesim.chain import Chain
from scalesim.chain.dial import Dial, make_dial, range_of, spaced
from scalesim.errors import ParameterError

STAGES = """
name = "box"
[[stage]]
kind = "position"
[[stage]]
kind = "flicker-filter"
[[stage]]
kind = "fit"
"""


def chain(dial: str) -> Chain:
    return Chain.from_toml(STAGES + "\n[[dial]]\n" + dial)


@pytest.mark.parametrize(
    ("written", "steps"),
    [
        ('key = "position.lines"\nfirst = -1\nlast = 1\nstep = 0.5', (-1.0, -0.5, 0.0, 0.5, 1.0)),
        ('key = "position.lines"\nfirst = 0\nlast = "2/3"\nstep = "1/3"', (0.0, 1 / 3, 2 / 3)),
        ('key = "position.lines"\nsteps = [0, 0.25, 1]', (0.0, 0.25, 1.0)),
        (
            'key = "flicker-filter.taps"\nsteps = ["1", "1/2/1", "paired"]',
            ((1.0,), (1.0, 2.0, 1.0), "paired"),
        ),
        ('key = "fit.how"\nsteps = ["squeeze", "crop"]', ("squeeze", "crop")),
    ],
)
def test_reads_and_writes_dials(written: str, steps: tuple) -> None:
    made = chain(written + '\nlabel = "wheel"')
    assert made.dials == (Dial(made.dials[0].key, steps, "wheel"),)
    again = Chain.from_toml(made.to_toml())
    assert again.dials == made.dials and again == made
    assert "dial" not in str(made)


def test_dials_are_labels_and_stay() -> None:
    made = chain('key = "position.lines"\nsteps = [0, 1]')
    assert made == Chain(made.text) and Chain(made.text).dials == ()
    assert made.with_keys({"position.lines": 3}).dials == made.dials


@pytest.mark.parametrize(
    ("written", "words"),
    [
        (
            'key = "position.line"\nsteps = [0]',
            "dial 1 of 1: position.line: unknown key 'line' of position; did you mean",
        ),
        ('key = "size.height"\nsteps = [90]', "the chain has no size"),
        ('key = "position.lines"', "give steps = [0, 0.25, 0.5], or first, last and step"),
        ('key = "position.lines"\nfirst = 0\nlast = 1', "or first, last and step"),
        ('key = "position.lines"\nsteps = []', "has no values"),
        ('key = "position.lines"\nsteps = [0]\nfirst = 1', "steps is given beside first"),
        ('key = "position.lines"\nfirst = 0\nlast = 1\nstep = 0', "step is 0"),
        ('key = "position.lines"\nfirst = 0\nlast = nan\nstep = 1', "nan is no finite number"),
        ('key = "position.lines"\nfirst = 1\nlast = 0\nstep = 1', "runs backwards; write 0:1:1"),
        ('key = "position.lines"\nfirst = 0\nlast = 4000\nstep = 0.0001', "has 40000001 values"),
        ('key = "fit.how"\nsteps = ["stretch"]', "dial fit.how: fit: how is 'stretch'"),
        ('key = "fit.how"\nsteps = ["crop"]\nlabl = "x"', "unknown key 'labl'; did you mean 'label'"),
        ('key = 3\nsteps = ["crop"]', "dial 1 of 1: key is 3; it must be a text in quotes"),
    ],
)
def test_names_what_is_wrong(written: str, words: str) -> None:
    with pytest.raises(ParameterError) as caught:
        chain(written)
    assert words in str(caught.value) and "\n" not in str(caught.value)


def test_a_key_has_one_dial() -> None:
    dial = make_dial(Chain("position").stages, "position.lines", [0, 1])
    with pytest.raises(ParameterError, match="is given twice"):
        Chain("position").__class__(*Chain("position").stages, dials=[dial, dial])


def test_presses_count_steps() -> None:
    dial = Dial("position.lines", (-1.0, -0.5, 0.0, 0.5, 1.0))
    assert dial.presses(0.0, 1.0) == 2 and dial.presses(0.5, -1.0) == -3 and dial.presses(0.5, 0.5) == 0
    assert dial.presses(0.1, 0.5) is None and dial.presses(0.5, 0.6) is None


@given(
    st.fractions(-50, 50, max_denominator=16), st.integers(0, 40), st.fractions("1/16", 3, max_denominator=16)
)
def test_ranges_hold_both_ends_exactly(first: Fraction, count: int, step: Fraction) -> None:
    """Against whole-number arithmetic: value k is first + k step, and the last is included."""
    values = spaced(first, first + count * step, step, "here")
    assert values == [float(first + k * step) for k in range(count + 1)]
    if count >= 3:
        assert range_of([float(Fraction(v)) for v in values]) in (None, (values[0], values[-1], float(step)))


def test_decimals_do_not_drift() -> None:
    values = spaced("-4", "4", "0.1", "here")
    assert (
        len(values) == 81 and values[40] == 0.0 and values[43] == 0.3
    )  # 0.1 + 0.1 + 0.1 is 0.30000000000000004
