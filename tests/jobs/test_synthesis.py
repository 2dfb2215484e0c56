"""Positions found by synthesis: captures of a box that averages, moves and drops, made with NumPy.

The box: 720 lines averaged to 480 by running sums (tests/box_captures.py), moved by whole lines or, for
fractions, by the linear interpolation of two moves, then every second line chosen.
"""

from __future__ import annotations

from functools import cache
from math import floor

import numpy as np
import pytest
from box_captures import frame, resized, unit
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.errors import ParameterError
from scalesim.jobs.position.position import CapturePosition, capture_position
from scalesim.jobs.press.press import calibrate
from scalesim.jobs.settings.stated import error_text, value_text

CHAIN = "line-average lines=480, position lines=0, line-drop lines=240"


def box(name: str, down: float, noise: float = 1.0, seed: int = 0) -> NDArray:
    """Return a capture, 240 x 1280, as 0..1; `down` in lines of 480."""
    whole = resized(frame(name), 480, (1.5, 0.0), "box", 0)
    low = floor(down)
    part = down - low
    moved = (1 - part) * np.roll(whole, low, axis=0) + part * np.roll(whole, low + 1, axis=0)
    codes = 0.95 * moved[::2] + 3 + noise * np.random.RandomState(seed).standard_normal((240, 1280, 3))
    return unit(np.clip(np.floor(codes + 0.5), 0, 255).astype(np.uint8))


@cache
def found(name: str, down: float, noise: float) -> CapturePosition:
    return capture_position(box(name, down, noise), unit(frame(name)), CHAIN)


@pytest.mark.parametrize(("down", "noise"), [(3.0, 0.0), (2.5, 1.0), (0.75, 3.0)])
def test_a_move_between_averaging_and_dropping(down: float, noise: float) -> None:
    """Registered to the chain at 0, these came out up to 0.14 lines off, seven stated errors."""
    place = found("kettle_crew", down, noise).place
    assert abs(place.now - down) <= 2 * place.error and place.error < 0.05


def test_art_states_what_it_cannot_tell() -> None:
    """Dots three lines high: within a line of 480 hardly anything changes, and the error says so."""
    place = found("moss_tower", 4.0, 1.0).place
    assert abs(place.now - 4) <= 2 * place.error and place.error > 0.1


def test_what_it_costs_and_saves_is_told() -> None:
    result = found("kettle_crew", 2.5, 1.0)
    said = " ".join(result.sentences())
    assert result.place.found is not None and result.place.move
    assert "Where it is now costs" in said and "saves" in said
    gain = result.place.found.on_present
    sure = result.place.found.clear or (gain is not None and gain.low > result.place.found.objective.tie)
    assert ("Move it" in said) == sure and ("may be better" in said) == (not sure)


def test_errors_are_the_same_in_sentence_and_table() -> None:
    result = found("kettle_crew", 3.0, 0.0)
    shown = {row[0]: row for row in result.table().rows}["lower than predicted (− is higher)"]
    assert f"{shown[1]} source lines (± {shown[2]};" in result.sentences()[0]


@pytest.mark.parametrize("down", [pytest.param(2.5, marks=pytest.mark.slow), 0.3])
def test_presses(down: float) -> None:
    """With chain and source within two errors and close; without, the wider error covers the truth."""
    before, after = box("kettle_crew", 0), box("kettle_crew", down, seed=1)
    chain, source = Chain(CHAIN), unit(frame("kettle_crew"))
    exact = calibrate(before, after, 1, chain=chain, source=source, mode="720p")
    plain = calibrate(before, after, 1, chain=chain, mode="720p")
    assert exact.dial is not None and plain.dial is not None
    assert exact.dial.step == pytest.approx(down, abs=2 * exact.dial.error) and exact.dial.error < 0.03
    assert plain.dial.step == pytest.approx(down, abs=2 * plain.dial.error)
    assert abs(plain.dial.step - down) > 3 * exact.dial.error
    assert "Giving the chain and the source" in " ".join(plain.sentences())
    assert "Give the chain" not in " ".join(exact.sentences())


def test_a_source_needs_a_chain() -> None:
    before, after = box("kettle_crew", 0), box("kettle_crew", 1, seed=1)
    with pytest.raises(ParameterError, match="only with a chain"):
        calibrate(before, after, 1, source=unit(frame("kettle_crew")))


def test_no_error_is_printed_as_nought() -> None:
    assert error_text(0.0004) == "0.0004" and value_text(0.5, 0.0004) == "0.5000"
    assert error_text(0.031) == "0.03" and error_text(0.0) == "below 0.0001"
    assert value_text(-0.001, 0.05) == "0.00" and value_text(1.5, 0.05, sign=True) == "+1.50"
