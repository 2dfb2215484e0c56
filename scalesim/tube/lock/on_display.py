"""A raster on a display: where its vertical circuit lands the fields, and what is to be said of that."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Any

from scalesim.core.raster import LANDING_GRID, Raster
from scalesim.core.sync_wave import Wave
from scalesim.tube.display import Display
from scalesim.tube.lock.circuit import JUDGED, Circuit
from scalesim.tube.lock.landings import Landing, histories, land
from scalesim.tube.lock.ranges import (
    Border,
    Margin,
    Spread,
    borders,
    hum_lines,
    jitter_lines,
    margins,
    spreads_of,
    standard_like,
)

MOST_15_KHZ = 300


@dataclass(frozen=True)
class Landed:
    """What a circuit makes of a signal, with all that stands beside it.

    Parameters:
        circuit : with its own values
        landings : one per history, the cold start first; pictures are of the first
        margins, borders : of the first; jitter, hum : lines, None where not known
        spreads : outcomes over the ranges, as many as landings
        line_us : of the signal
        works : whether its own values lock on the standard signal, as those of any display must
    """

    circuit: Circuit
    landings: tuple[Landing, ...]
    margins: tuple[Margin, ...]
    borders: tuple[Border, ...]
    jitter: float | None
    hum: float | None
    spreads: tuple[Spread, ...]
    line_us: float
    works: bool = True

    @property
    def first(self) -> Landing:
        """The landing at the circuit's own values, started cold."""
        return self.landings[0]

    def margin(self, unit: str) -> float | None:
        """Return the least margin in a unit, None where there is none."""
        found = [abs(each.by) for each in self.margins if each.unit == unit]
        return min(found) if found else None

    @property
    def undecided(self) -> Margin | None:
        """The margin that is within three times the circuit's own noise, so that either landing may come."""
        noise = {
            "us": self.jitter and self.jitter * self.line_us,
            "mV": getattr(self.circuit, "noise_mv", None),
        }
        return next((each for each in self.margins if abs(each.by) < 3 * (noise.get(each.unit) or 0)), None)

    def to_dict(self) -> dict[str, Any]:
        """Return the keys of a document."""
        first = self.first
        return {
            "kind": self.circuit.kind,
            "lines": first.lines,
            "outcome": first.outcome,
            "pair": first.pair or None,
            "locks": first.lines is not None,
            "locks_on_standard": self.works,
            "why": first.why or None,
            "times_us": list(first.times_us),
            "margin_mv": self.margin("mV"),
            "margin_us": self.margin("us"),
            "margins": [
                {"key": each.key, "unit": each.unit, "by": each.by, "to_lines": each.to}
                for each in self.margins
            ],
            "borders": [{"key": b.key, "percent": b.percent, "to_lines": b.to} for b in self.borders],
            "jitter_lines": self.jitter,
            "hum_lines": self.hum,
            "outcomes": dict(self.spreads[0].shares),
            "pairs": dict(self.spreads[0].pairs),
            "outcomes_lines": list(self.spreads[0].lines or ()) or None,
            "n": self.spreads[0].n,
            "histories": {
                landing.history: {
                    "lines": landing.lines,
                    "outcome": landing.outcome,
                    "outcomes": dict(own.shares),
                }
                for landing, own in zip(self.landings, self.spreads, strict=True)
                if landing.history
            },
            "ranges": {key: list(span) for key, span in self.circuit.spans.items()},
            "ranges_from": {
                key: "the display's file" if key in (self.circuit.range or {}) else JUDGED
                for key in self.circuit.spans
            },
        }


def landed_of(wave: Wave, circuit: Circuit) -> Landed:
    """Return what a circuit makes of a signal, with margins and outcomes over its ranges."""
    found = tuple(land(wave, circuit, each) for each in histories(circuit))
    return Landed(
        circuit,
        found,
        margins(wave, circuit, found[0]),
        borders(wave, circuit, found[0]),
        jitter_lines(wave, circuit, found[0]),
        hum_lines(wave, circuit),
        spreads_of(wave, circuit),
        wave.line_us,
        land(standard_like(wave), circuit).lines is not None,
    )


@dataclass(frozen=True)
class OnDisplay:
    """Gives the raster that a display draws: `Chain.landing` takes it."""

    display: Display

    def __call__(self, raster: Raster) -> Raster:
        """Return the raster with its fields where the circuit lands them, on eighths of a line.

        They stay where they are without a circuit, on a raster without fields or of another line rate, where
        field-only states them, and where the circuit does not lock.
        """
        if self.why_ideal(raster):
            return raster
        landing = _land(raster.with_(samples=1), self.display.vertical)
        if landing.lines is None:
            return raster
        bottom = Fraction(round(LANDING_GRID * landing.lines), LANDING_GRID)
        landings = (Fraction(0), bottom)
        fields = tuple(type(own)(own.parity, landings[own.parity]) for own in raster.fields)
        return raster.with_(fields=fields, sync=raster.sync)

    def why_ideal(self, raster: Raster) -> str:
        """Return why no circuit is asked, "" when one is."""
        if raster.period != 2:
            return "the picture has no fields"
        if raster.scan != "interlaced":
            return "field-only states where they land"
        if raster.lines > MOST_15_KHZ:
            return f"{raster.lines} lines a field are no 15 kHz signal"
        if self.display.vertical is None:
            return f"{self.display.name} has no [vertical]"
        return ""

    def landed(self, raster: Raster) -> Landed | None:
        """Return all that is known of the landing of a chain's output, None where no circuit is asked."""
        if self.why_ideal(raster) or self.display.vertical is None:
            return None
        return _landed(raster.with_(samples=1), self.display.vertical)

    def warning(self, raster: Raster) -> str:
        """Return what a reader must know about where the fields are drawn, "" for nothing."""
        why = self.why_ideal(raster)
        if why and raster.sync is not None:
            return f"fields are drawn where their content lies, whatever resync did: {why}"
        if why:
            return ""
        landing = _land(raster.with_(samples=1), self.display.vertical)
        if landing.lines is None:
            return (
                f"{self.display.name} does not lock on this sync ({landing.why}): its picture would "
                "roll; fields "
                "are drawn where their content lies"
            )
        return ""


@lru_cache(maxsize=64)
def _land(raster: Raster, circuit: Circuit) -> Landing:
    return land(raster.wave(), circuit)


@lru_cache(maxsize=32)
def _landed(raster: Raster, circuit: Circuit) -> Landed:
    return landed_of(raster.wave(), circuit)
