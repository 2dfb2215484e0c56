"""Vertical circuits by what they do: `[vertical]` in a display's file.

A kind is a way in which a display tells from the sync where a field begins. Values are those of the display;
`range` says between what they may lie, and the ranges here are what is usual for a kind.

Source: the structures are those of textbooks on television receivers (from memory); every range is
engineering judgement, no published source: real sets vary, and a range says what can happen, not what a
given set does.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, ClassVar, TypeVar

from scalesim.errors import ParameterError, nearest
from scalesim.schema import Param, from_keys, param, params_of, settle

JUDGED = "engineering judgement, no published source"
Span = tuple[float, float]

_ENDS = Param(
    "list", of=Param("number", bare=True), item="number", fewest=2, most=2, remedy="such as [10, 100]"
)


def _number(default: float, **limits: Any) -> Any:
    return param(default, type="number", bare=True, **limits)


def _ranges() -> Any:
    """Return the field of ranges, which is no part of a circuit's hash: a table has none."""
    found = param(
        None, type="map", of=_ENDS, item="range", doc="between what a key may lie: key = [low, high]"
    )
    found.hash = False
    return found


@dataclass(frozen=True, kw_only=True)
class Circuit:
    """What all kinds share: a range of their keys in place of the usual one.

    Parameters:
        range : key -> [low, high] between which the value may lie; keys left out have the usual range
    Raises: ParameterError naming key, value, limit and remedy
    """

    kind: ClassVar[str]
    words: ClassVar[str]
    USUAL: ClassVar[Mapping[str, Span]] = {}

    range: Mapping[str, Any] | None = _ranges()

    def __post_init__(self) -> None:
        place = f"vertical: {self.kind}"
        settle(self, place)
        for key, (low, high) in (self.range or {}).items():
            if key not in self.USUAL:
                raise ParameterError(f"{place}: range of '{key}'; {nearest(key, self.USUAL)}")
            if low > high:
                raise ParameterError(
                    f"{place}: range of {key} is [{low:g}, {high:g}]; the lower end goes first"
                )
            for value in (low, high):
                replace(self, **{key: value, "range": None})
            if not low <= (own := getattr(self, key)) <= high:
                raise ParameterError(
                    f"{place}: {key} is {own:g}, outside its own range [{low:g}, {high:g}]; widen the range, "
                    "or leave it out"
                )
        self.check(place)

    def check(self, place: str) -> None:
        """Raise ParameterError where two keys contradict each other."""

    @property
    def spans(self) -> dict[str, Span]:
        """Key -> (low, high): the ranges of the file, else the usual ones."""
        own = {key: (float(low), float(high)) for key, (low, high) in (self.range or {}).items()}
        return {key: own.get(key, span) for key, span in self.USUAL.items()}

    def with_(self, **values: Any) -> Circuit:
        """Return the circuit with other values."""
        return replace(self, **values)


KINDS: dict[str, type[Circuit]] = {}
"""Every kind by its name in a file."""

C = TypeVar("C", bound=type[Circuit])


def _kind(name: str, words: str, usual: Mapping[str, Span]) -> Callable[[C], C]:
    def register(cls: C) -> C:
        cls.kind, cls.words, cls.USUAL = name, words, dict(usual)
        KINDS[name] = cls
        return cls

    return register


_TAU: Span = (10.0, 100.0)
_THRESHOLD: Span = (0.6, 4.5)
"""Of a swing of 5 V."""


@dataclass(frozen=True, kw_only=True)
class WithFilter(Circuit):
    """A filter of resistors and capacitors takes line sync out before a comparator."""

    time_constant_us: float = _number(
        30.0, unit="us", above=0, at_most=2000, doc="R times C of the filter", remedy="30 is usual"
    )
    order: int = param(
        1, type="whole", bare=True, at_least=1, at_most=2, doc="1: one R and C; 2: a ladder of two"
    )
    ladder_ratio: float = _number(
        1.0,
        at_least=0.1,
        at_most=100,
        doc="of a ladder: the second R over the first, the first C over the second",
    )
    threshold_v: float = _number(2.5, unit="V", above=0, at_most=100, doc="where the comparator turns")
    swing_v: float = _number(5.0, unit="V", above=0, at_most=100, doc="of sync before the filter")
    noise_mv: float = _number(5.0, unit="mV", at_least=0, at_most=2000, doc="at the comparator, rms")
    hum_mv: float = _number(0.0, unit="mV", at_least=0, at_most=5000, doc="at the comparator, peak to peak")

    @property
    def level(self) -> float:
        """Threshold as a share of the swing."""
        return self.threshold_v / self.swing_v

    def check(self, place: str) -> None:
        """Refuse a threshold that sync never reaches."""
        if self.threshold_v >= self.swing_v:
            raise ParameterError(
                f"{place}: threshold_v is {self.threshold_v:g}; it must be below swing_v, "
                f"{self.swing_v:g}, or "
                "sync never reaches it (half the swing is usual)"
            )


@_kind(
    "integrator",
    "an integrator with a comparator",
    {"time_constant_us": _TAU, "threshold_v": _THRESHOLD},
)
@dataclass(frozen=True, kw_only=True)
class Integrator(WithFilter):
    """The field begins when filtered sync first rises above a threshold."""


@_kind("edge", "an edge detector with a least width", {"least_width_us": (8.0, 20.0)})
@dataclass(frozen=True, kw_only=True)
class Edge(Circuit):
    """The field begins when sync has lasted for a least width the first time."""

    least_width_us: float = _number(
        14.0, unit="us", above=0, at_most=1000, doc="of the shortest pulse that counts", remedy="14 is usual"
    )
    jitter_us: float = _number(0.05, unit="us", at_least=0, at_most=100, doc="of the width, rms")


@_kind(
    "clocked",
    "a detector clocked by the horizontal loop",
    {"clock_phase": (0.0, 1.0), "time_constant_us": _TAU, "threshold_v": _THRESHOLD},
)
@dataclass(frozen=True, kw_only=True)
class Clocked(WithFilter):
    """The field begins at the first tick of a clock, locked to the lines, that finds vertical sync."""

    clock: str = param("half-line", type="choice", choices=("line", "half-line"), doc="how often it ticks")
    clock_phase: float = _number(
        0.5, unit="of its period", at_least=0, at_most=1, doc="of a tick, after the begin of a line"
    )
    front: str = param(
        "level",
        type="choice",
        choices=("level", "integrator"),
        doc="what it looks at: sync itself, or filtered",
    )
    jitter_us: float = _number(0.1, unit="us", at_least=0, at_most=100, doc="of the clock, rms")

    @property
    def spans(self) -> dict[str, Span]:
        """The ranges; those of the filter only where there is one."""
        found = super().spans
        return found if self.front == "integrator" else {"clock_phase": found["clock_phase"]}


@_kind(
    "oscillator",
    "an oscillator that sync pulls in",
    {"natural_period": (1.02, 1.15), "coupling": (0.05, 0.2), "time_constant_us": (10.0, 60.0)},
)
@dataclass(frozen=True, kw_only=True)
class Oscillator(WithFilter):
    """A capacitor charges toward `charge_v`; with `coupling` times filtered sync it is discharged at 1 V.

    Left alone it takes `natural_period` fields: what a hold control sets.
    """

    natural_period: float = _number(
        1.06, unit="field periods", above=1, at_most=2, doc="of a field without sync: the hold control"
    )
    coupling: float = _number(0.1, above=0, at_most=1, doc="of filtered sync, over the voltage of discharge")
    charge: float = _number(1.6, above=1, at_most=100, doc="voltage it charges toward over that of discharge")

    def check(self, place: str) -> None:
        """Take any threshold: there is none."""


@_kind(
    "flywheel", "a flywheel", {"correction": (0.02, 1.0), "time_constant_us": _TAU, "threshold_v": _THRESHOLD}
)
@dataclass(frozen=True, kw_only=True)
class Flywheel(WithFilter):
    """Each field corrects a share of the error between where it was expected and where sync is."""

    correction: float = _number(0.2, unit="of the error", above=0, at_most=1, doc="of each field")


@_kind(
    "countdown",
    "a countdown of half lines",
    {"clock_phase": (0.0, 1.0), "time_constant_us": (10.0, 60.0), "threshold_v": (1.0, 4.0)},
)
@dataclass(frozen=True, kw_only=True)
class Countdown(WithFilter):
    """Half lines are counted; after some fields of the standard length it runs by its count alone.

    - strict: a field must have the standard's half lines; tolerant: within `window` of them;
    - two-field: two fields together must have twice as many.
    """

    time_constant_us: float = _number(20.0, unit="us", above=0, at_most=2000, doc="R times C of the filter")
    rule: str = param(
        "strict", type="choice", choices=("strict", "tolerant", "two-field"), doc="what it counts as standard"
    )
    window: int = param(
        2, type="whole", bare=True, at_least=1, at_most=40, unit="half lines", doc="of the tolerant rule"
    )
    fields_in: int = param(
        8,
        type="whole",
        bare=True,
        at_least=1,
        at_most=64,
        unit="fields",
        doc="that must be standard before it runs alone",
    )
    misses_out: int = param(
        4,
        type="whole",
        bare=True,
        at_least=1,
        at_most=64,
        unit="fields",
        doc="in a row that miss before it follows sync again",
    )
    clock_phase: float = _number(
        0.5, unit="of a half line", at_least=0, at_most=1, doc="of the count, after the half line"
    )
    jitter_us: float = _number(0.1, unit="us", at_least=0, at_most=100, doc="of the count, rms")


def circuit_of(keys: Any, place: str = "vertical") -> Circuit:
    """Return the circuit of a `[vertical]` table.

    Raises: ParameterError for no table, an unknown kind or key, and values out of range
    """
    if isinstance(keys, Circuit):
        return keys
    if not isinstance(keys, Mapping):
        raise ParameterError(f"{place} is {keys!r}; it must be a table of keys, [vertical] with a kind")
    kind = keys.get("kind")
    if kind is None:
        raise ParameterError(f"{place}: key 'kind' is missing; give one of {', '.join(KINDS)}")
    if not isinstance(kind, str) or kind not in KINDS:
        raise ParameterError(f"{place}: kind is {kind!r}; {nearest(str(kind)[:60], KINDS)}")
    rest = {name: value for name, value in keys.items() if name != "kind"}
    found: Circuit = from_keys(KINDS[kind], rest, f"{place}: {kind}")
    return found


def unit_of(circuit: Circuit, key: str) -> str:
    """Return the unit of a key, "" for none."""
    return params_of(circuit)[key].unit
