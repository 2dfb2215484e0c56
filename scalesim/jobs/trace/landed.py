"""Where displays land the fields of a recorded sync."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from scalesim.errors import NotMeasurable
from scalesim.result import Table
from scalesim.signal.waveform.timing import Timing
from scalesim.signal.waveform.verdict import NEAR
from scalesim.signal.waveform.wave import recorded_wave
from scalesim.texts import capital
from scalesim.tube.display import Display
from scalesim.tube.lock.on_display import Landed, landed_of
from scalesim.tube.lock.words import circuit_words, landing_sentences, margin_words, spread_words

WITHOUT = "it has no [vertical], so fields land as their content lies"
_PAIR = "sync alone does not tell which frame lines share a scan line"


@dataclass(frozen=True)
class OnTrace:
    """What a display makes of a recorded sync; `found` is None with `why`.

    `alike` when all fields of the record have as many whole lines: those of a progressive signal.
    """

    display: Display
    found: Landed | None
    why: str = ""
    alike: bool = False

    def sentences(self) -> list[str]:
        """Return where the fields land."""
        if self.found is None:
            return [f"{self.display.name}: where it lands the fields cannot be told; {self.why}."]
        said = landing_sentences(self.display.name, self.found, False, self.alike)
        more = [f"{capital(_PAIR)}."] if self.found.first.pair and not self.alike else []
        return [" ".join([*said, *more])]

    def to_dict(self) -> dict[str, Any]:
        """Return the keys of a document."""
        named = {"display": self.display.name}
        if self.found is None:
            return {**named, "kind": None, "lines": None, "why": self.why}
        why = "all fields are alike" if self.alike else _PAIR
        return {**named, **self.found.to_dict(), "pair": None, "pairs": {}, "pair_why": why}


def landings_on(displays: Sequence[Display], timing: Timing | None) -> tuple[OnTrace, ...]:
    """Return what each display makes of the sync of a record, None for one without any."""
    return tuple(_on(each, timing) for each in displays)


def _on(display: Display, timing: Timing | None) -> OnTrace:
    if display.vertical is None:
        return OnTrace(display, None, WITHOUT)
    if timing is None:
        return OnTrace(display, None, "no sync was found")
    try:
        return OnTrace(display, landed_of(recorded_wave(timing), display.vertical), "", _alike(timing))
    except NotMeasurable as error:
        return OnTrace(display, None, str(error))


def _alike(timing: Timing) -> bool:
    """Tell whether all fields have as many whole lines."""
    lines = [each.lines for each in timing.fields]
    return max(lines) - min(lines) < NEAR and all(abs(each.offset) < NEAR for each in timing.fields)


def landed_table(landed: Sequence[OnTrace]) -> Table:
    """Return one row for each display."""
    rows = []
    for each in landed:
        if each.found is None:
            rows.append((each.display.name, "\u2013", each.why, "\u2013", "\u2013"))
            continue
        first = each.found.first
        lines = "\u2013" if first.lines is None else f"{first.lines:.2f}"
        outcomes = spread_words(each.found.spreads[0])
        rows.append(
            (
                each.display.name,
                circuit_words(each.found.circuit),
                f"{first.outcome}, {lines}" if first.lines is not None else first.why,
                margin_words(each.found.margins),
                outcomes,
            )
        )
    columns = ("display", "circuit", "fields, lines apart", "to the next landing", "over its ranges")
    return Table("Where displays land the fields", columns, tuple(rows))
