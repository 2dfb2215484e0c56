"""One circuit of every kind with usual values, and what boxes are known to do to sync.

Values are engineering judgement, no published source; see `scalesim.tube.lock.circuit`. The list of changes
is that of common practice in sync processors, no published source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from scalesim.stages.resync import Resync
from scalesim.tube.lock.circuit import (
    Circuit,
    Clocked,
    Countdown,
    Edge,
    Flywheel,
    Integrator,
    Oscillator,
)

TYPICAL: Mapping[str, Circuit] = MappingProxyType(
    {
        "integrator": Integrator(),
        "ladder": Integrator(order=2, time_constant_us=20.0, range={"time_constant_us": [5.0, 50.0]}),
        "edge": Edge(),
        "half-line clock": Clocked(),
        "filtered half-line clock": Clocked(front="integrator", time_constant_us=20.0),
        "whole-line clock": Clocked(clock="line", clock_phase=0.25),
        "oscillator": Oscillator(),
        "flywheel": Flywheel(),
        "strict countdown": Countdown(),
        "tolerant countdown": Countdown(rule="tolerant"),
        "two-field countdown": Countdown(rule="two-field"),
    }
)
"""Circuits by name."""

FEW = ("integrator", "edge", "half-line clock", "oscillator", "strict countdown", "two-field countdown")
"""Those that differ most, for a picture."""


@dataclass(frozen=True)
class Change:
    """Something a box does to sync: its words, and the stage that does it."""

    words: str
    stage: Resync

    @property
    def keys(self) -> str:
        """The stage's keys as a chain writes them, "" for none."""
        names = [
            "start",
            "moves",
            "equalising",
            "serrations",
            "combine",
            "broad_lines",
            "extra_us",
            "extra_lines",
        ]
        plain = Resync()
        return " ".join(
            f"{name}={_text(getattr(self.stage, name))}"
            for name in names
            if getattr(self.stage, name) != getattr(plain, name)
        )


def _text(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


CHANGES: tuple[Change, ...] = (
    Change("the standard signal", Resync()),
    Change("vertical sync of one field half a line early (262 and 263 lines)", Resync(start="line-start")),
    Change("only its leading edge half a line early", Resync(start="line-start", moves="edge")),
    Change("only its leading edge half a line late", Resync(start="0/0.5", moves="edge")),
    Change("vertical sync of one field 0.1 line early", Resync(start="0/-0.1")),
    Change("vertical sync of one field 0.25 line early", Resync(start="0/-0.25")),
    Change("vertical sync of one field 0.4 line early", Resync(start="0/-0.4")),
    Change("equalising pulses dropped", Resync(equalising="drop")),
    Change("serrations dropped", Resync(serrations="drop")),
    Change("serrations at line rate, no equalising", Resync(serrations="line-rate", equalising="drop")),
    Change("line OR vertical pulses, 3 lines", Resync(combine="or", broad_lines=3)),
    Change("line OR vertical pulses, 1 line", Resync(combine="or", broad_lines=1)),
    Change("line OR vertical pulses, 6 lines", Resync(combine="or", broad_lines=6)),
    Change(
        "line OR vertical pulses, one field 0.25 line early",
        Resync(combine="or", broad_lines=3, start="0/-0.25"),
    ),
    Change("line XOR vertical pulses, 3 lines", Resync(combine="xor", broad_lines=3)),
    Change("line XOR vertical pulses, 0.03 line late", Resync(combine="xor", broad_lines=3, start="0.03")),
    Change("line XOR vertical pulses, 0.03 line early", Resync(combine="xor", broad_lines=3, start="-0.03")),
    Change("a 12 \u00b5s pulse half a line ahead in one field", Resync(extra_us="0/12")),
    Change("an 18 \u00b5s pulse half a line ahead in one field", Resync(extra_us="0/18")),
    Change("vertical sync of 1 line", Resync(broad_lines=1)),
    Change("vertical sync of 6 lines", Resync(broad_lines=6)),
)
"""What may have been done to a sync, the standard signal first."""
