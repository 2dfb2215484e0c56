"""Which channel holds what: as the user says, as names say, or as the signals themselves show."""

from __future__ import annotations

from dataclasses import dataclass

from numpy.typing import NDArray

from scalesim.core.trace import Trace
from scalesim.errors import NotMeasurable, ParameterError, nearest
from scalesim.signal.waveform.timing import Timing, timing_of

ROLES = ("csync", "video", "sog", "red", "green", "blue", "hsync", "vsync")
WITH_SYNC = ("csync", "video", "sog")
_ALIASES = {
    "sync": "csync",
    "composite": "video",
    "cvbs": "video",
    "luma": "video",
    "y": "video",
    "r": "red",
    "g": "green",
    "b": "blue",
    "h": "hsync",
    "v": "vsync",
}


@dataclass(frozen=True, eq=False)
class Channel:
    """A channel: its role, the name and column of its file, and its volts."""

    role: str
    name: str
    column: int
    volts: NDArray

    @property
    def said(self) -> str:
        """How it is called in sentences."""
        return f"{self.role} ({self.name})" if self.name.lower() != self.role else self.role


@dataclass(frozen=True, eq=False)
class Assigned:
    """The channels of a record, the timing of its sync, which channel gave it, and what was guessed."""

    channels: tuple[Channel, ...]
    sync: Channel
    timing: Timing
    notes: tuple[str, ...]


def assigned(trace: Trace, interval_us: float, columns: str | None, factor: float) -> Assigned:
    """Return a record's channels by their roles, and its timing.

    Parameters:  columns : as the user wrote them, None to guess; factor : of the levels
    Raises: ParameterError for a role or column that is not there; NotMeasurable where no sync is found
    """
    if columns is not None:
        return _as_told(trace, interval_us, _told(trace, columns, factor))
    return _guessed(trace, interval_us, factor)


def _channel(trace: Trace, number: int, role: str, factor: float) -> Channel:
    name = list(trace.channels)[number]
    volts = trace.channels[name]
    return Channel(
        role,
        name,
        trace.columns[number] if trace.columns else number + 1,
        volts * factor if factor != 1 else volts,
    )


def _told(trace: Trace, columns: str, factor: float) -> list[Channel]:
    found: list[Channel] = []
    names = list(trace.channels)
    for part in columns.replace(";", ",").split(","):
        if not part.strip():
            continue
        word, equals, place = (each.strip() for each in part.partition("="))
        role = _ALIASES.get(word.lower(), word.lower())
        if role not in ROLES:
            raise ParameterError(
                f"trace: columns: '{word[:40]}' is no role; {nearest(word.lower()[:40], ROLES)}"
            )
        if not equals or not place:
            raise ParameterError(
                f"trace: columns: '{part.strip()[:40]}' has no column; write {role}=2 or {role}=CH1"
            )
        number = _place(trace, names, place)
        if role in {each.role for each in found}:
            raise ParameterError(f"trace: columns: {role} is given twice; each role has one column")
        found.append(_channel(trace, number, role, factor))
    if not found:
        raise ParameterError("trace: columns is empty; write csync=2 or leave it out")
    return found


def _place(trace: Trace, names: list[str], place: str) -> int:
    """Return the number of a channel by its column or its name."""
    numbers = trace.columns or tuple(range(1, len(names) + 1))
    if place.isdecimal() and int(place) in numbers:
        return numbers.index(int(place))
    for number, name in enumerate(names):
        if place.lower() == name.lower() or place.lower() == name.split()[0].lower():
            return number
    there = ", ".join(f"{number} ({name})" for number, name in zip(numbers, names, strict=True))
    raise ParameterError(
        f"trace: columns: {trace.name} has no column '{place[:40]}'; its channels are {there}"
    )


def _as_told(trace: Trace, interval_us: float, found: list[Channel]) -> Assigned:
    by_role = {each.role: each for each in found}
    sync = next((by_role[role] for role in ("hsync", *WITH_SYNC, "green") if role in by_role), None)
    if sync is None:
        raise ParameterError(
            "trace: columns name no sync; add csync=, hsync= (with vsync=), video= or sog= to find the "
            "lines by"
        )
    if sync.role == "green":  # green without another sync is sync on green
        found = [Channel("sog", c.name, c.column, c.volts) if c is sync else c for c in found]
        sync = next(each for each in found if each.role == "sog")
    vertical = by_role["vsync"].volts if "vsync" in by_role and sync.role == "hsync" else None
    try:
        timing = timing_of(sync.volts, interval_us, vertical)
    except NotMeasurable as error:
        raise NotMeasurable(_swapped(trace, interval_us, sync, str(error))) from None
    return Assigned(tuple(found), sync, timing, ())


def _swapped(trace: Trace, interval_us: float, sync: Channel, reason: str) -> str:
    """Return the reason, and which other channel does hold sync."""
    for number, name in enumerate(trace.channels):
        if name == sync.name:
            continue
        try:
            timing_of(trace.channels[name], interval_us)
        except NotMeasurable:
            continue
        column = trace.columns[number] if trace.columns else number + 1
        return (
            f"column {sync.column} ({sync.name}) was to be {sync.role} and holds no sync, column {column} "
            f"({name}) does; are the channels swapped? Try --columns csync={column}"
        )
    return reason


def _guessed(trace: Trace, interval_us: float, factor: float) -> Assigned:
    reasons: list[str] = []
    for number, name in enumerate(trace.channels):
        channel = _channel(trace, number, "video", factor)
        try:
            timing = timing_of(channel.volts, interval_us)
        except NotMeasurable as error:
            reasons.append(str(error))
            continue
        others = [
            _channel(trace, k, _role_by_name(other, k), factor)
            for k, other in enumerate(trace.channels)
            if k != number
        ]
        note = f"{trace.name}: sync was found in column {channel.column} ({name}); --columns says otherwise"
        notes = [note] if others else []
        if not timing.verticals and not timing.fields:
            for other in others:
                separate = _separate(channel, other, interval_us)
                if separate is not None:
                    both = (
                        Channel("hsync", channel.name, channel.column, channel.volts),
                        Channel("vsync", other.name, other.column, other.volts),
                    )
                    told = f"{trace.name}: column {other.column} ({other.name}) is taken as vertical sync"
                    rest = tuple(each for each in others if each is not other)
                    return Assigned((*both, *rest), both[0], separate, (*notes, told))
        return Assigned((channel, *others), channel, timing, tuple(notes))
    raise NotMeasurable(reasons[0] if reasons else "the record has no channel")


def _separate(line: Channel, other: Channel, interval_us: float) -> Timing | None:
    """Return the timing with another channel as vertical sync, when that gives fields."""
    try:
        timing = timing_of(line.volts, interval_us, other.volts)
    except NotMeasurable:
        return None
    lines = [field.lines for field in timing.fields]
    return timing if lines and min(lines) > 200 and max(lines) - min(lines) < 2 else None


def _role_by_name(name: str, number: int) -> str:
    first = name.split()[0].lower()
    role = _ALIASES.get(first, first)
    return role if role in ("red", "green", "blue") else f"channel {number + 1}"
