"""Vertical circuits in a display's file: what is taken, and what is refused in one line."""

from __future__ import annotations

from typing import Any

import pytest

from scalesim.errors import ParameterError
from scalesim.schema import params_of
from scalesim.tube.display import DISPLAYS, Display
from scalesim.tube.lock.circuit import KINDS, Clocked, Integrator, circuit_of
from scalesim.tube.lock.typical import CHANGES, FEW, TYPICAL

TUBE = 'name = "study"\ndiagonal_mm = 500\naspect = "4:3"\ntv_lines = 400\nbeam_width = 0.7\n'


def test_a_display_holds_its_circuit() -> None:
    vertical = '[vertical]\nkind = "integrator"\ntime_constant_us = 40\n'
    text = f"{TUBE}{vertical}[vertical.range]\ntime_constant_us = [20, 60]\n"
    found = Display.from_toml(text)
    assert isinstance(found.vertical, Integrator) and found.vertical.time_constant_us == 40
    assert found.vertical.spans == {"time_constant_us": (20, 60), "threshold_v": (0.6, 4.5)}
    assert hash(found) == hash(Display.from_toml(text)) and found == Display.from_toml(text)
    assert Display.from_toml(TUBE).vertical is None and all(
        each.vertical is None for each in DISPLAYS.values()
    )


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ('kind = "integrator"\nthreshold_v = 6', "threshold_v is 6; it must be below swing_v, 5"),
        ('kind = "integrator"\ntime_constant_us = -3', "time_constant_us is -3; it must be a number above 0"),
        ('kind = "integrator"\ntime_constant_us = nan', "time_constant_us is nan"),
        ('kind = "integrator"\norder = 3', "order is 3"),
        ('kind = "edge"\nleast_width_us = "wide"', "least_width_us is 'wide'"),
        ('kind = "edge"\nleast = 3', "unknown key 'least'"),
        ('kind = "edge"\nrange = {least_width_us = [20, 8]}', "the lower end goes first"),
        ('kind = "edge"\nrange = {least_width_us = [-8, 8]}', "least_width_us is -8"),
        ('kind = "edge"\nrange = {width = [1, 2]}', "range of 'width'; did you mean 'least_width_us'"),
        ('kind = "edge"\nrange = {least_width_us = [1]}', "a list of 2 numbers"),
        ('kind = "edge"\nrange = {least_width_us = [15, 20]}', "least_width_us is 14, outside its own range"),
        ('kind = "oscillator"\nnatural_period = 1', "natural_period is 1; it must be a number above 1"),
        ('kind = "countdown"\nrule = "loose"', "rule is 'loose'"),
        ('kind = "flyweel"', "did you mean 'flywheel'"),
        ("threshold_v = 1", "key 'kind' is missing; give one of integrator"),
    ],
)
def test_bad_circuits_are_refused_in_one_line(table: str, words: str) -> None:
    with pytest.raises(ParameterError, match=r"^[^\n]*$") as caught:
        Display.from_toml(f"{TUBE}[vertical]\n{table}\n")
    assert words in str(caught.value)


@pytest.mark.parametrize("value", [3, "integrator", [1]])
def test_a_circuit_is_a_table(value: Any) -> None:
    with pytest.raises(ParameterError, match="it must be a table of keys"):
        circuit_of(value)


def test_every_kind_has_words_units_and_ranges_it_can_take() -> None:
    assert set(KINDS) == {circuit.kind for circuit in TYPICAL.values()} and set(FEW) < set(TYPICAL)
    for circuit in TYPICAL.values():
        assert circuit.words and all(schema.doc for schema in params_of(circuit).values())
        for key, (low, high) in circuit.spans.items():
            assert low < high
            for value in (low, high):
                assert getattr(circuit.with_(**{key: value}), key) == value
    assert set(Clocked().spans) == {"clock_phase"} and len(Clocked(front="integrator").spans) == 3


def test_changes_are_told_as_a_chain_writes_them() -> None:
    assert CHANGES[0].keys == "" and CHANGES[1].keys == "start=line-start"
    assert len({each.keys for each in CHANGES}) == len(CHANGES) == 21
