"""The answer of a landing, as a `Result`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from scalesim.core.sync import SyncStandard
from scalesim.core.sync_wave import Wave
from scalesim.jobs.landing.explained import Explained
from scalesim.jobs.landing.figures import glass_plot, intervals_plot, maps
from scalesim.plot import Plot
from scalesim.result import Code, Part, Result, Table
from scalesim.stages.resync import Resync
from scalesim.texts import capital
from scalesim.tube.lock.landings import OUTCOMES
from scalesim.tube.lock.on_display import Landed
from scalesim.tube.lock.typical import Change
from scalesim.tube.lock.words import (
    CAUTIONS,
    border_sentence,
    circuit_words,
    history_sentences,
    landing_words,
    margin_words,
    nominal_words,
    spread_words,
    undecided_sentence,
    useless_sentence,
)

_COUNTED = {
    "one set": "draws one set of lines|draw one set of lines",
    "uneven": "draws uneven fields|draw uneven fields",
    "two sets": "interlaces|interlace",
    "no lock": "does not lock|do not lock",
}


@dataclass(frozen=True, eq=False)
class Landings(Result):
    """Where circuits land the fields of one sync; a `Result`.

    Parameters:
        stage : what was done to the sync; standard : the system; wave : the sync
        found : name of a display or kind -> what its circuit makes of the sync
        explained : what explains what was seen, None when nothing was
    """

    stage: Resync
    standard: SyncStandard
    wave: Wave
    found: Mapping[str, Landed]
    explained: Explained | None = None

    kind = "landing"

    @property
    def keys(self) -> str:
        """What was done to the sync, as a chain writes it; "standard" for nothing."""
        return Change("", self.stage).keys or "standard"

    @property
    def title(self) -> str:
        """How many circuits do what with this sync."""
        if len(self.found) == 1:
            name, only = next(iter(self.found.items()))
            return f"One sync on {name}: it {_COUNTED[only.first.outcome].split('|')[0]}"
        told = []
        for outcome in OUTCOMES:
            count = sum(each.first.outcome == outcome for each in self.found.values())
            if count:
                told.append(f"{count} {_COUNTED[outcome].split('|')[count > 1]}")
        return f"One sync, {len(self.found)} circuits: {', '.join(told)}"

    @property
    def undecided(self) -> bool:
        """True when something was seen that nothing here explains."""
        return self.explained is not None and not self.explained.fits

    @property
    def foot(self) -> tuple[str, ...]:
        """Cautions."""
        return CAUTIONS

    def sentences(self) -> list[str]:
        """Return what explains what was seen, then what each circuit does."""
        said = [] if self.explained is None else [*self.explained.sentences(), self._pictured]
        return [*said, *(text for name, each in self.found.items() for text in self._of(name, each))]

    @property
    def _pictured(self) -> str:
        """Which sync the rest is of, where what was seen leaves it open."""
        what = "the standard signal" if self.keys == "standard" else f"resync {self.keys}"
        first = self.explained.fits[0].change.stage if self.explained and self.explained.fits else None
        which = "of the first of these" if first == self.stage else "of one sync"
        return f"The pictures and what follows are {which}, {what}, on circuits that differ."

    def _of(self, name: str, found: Landed) -> list[str]:
        first = found.first
        cold = " when started on it" if first.history else ""
        ranges = spread_words(found.spreads[0], short=True)
        more = [
            *useless_sentence(found),
            *undecided_sentence(found),
            *history_sentences(found),
            *(border_sentence(each) for each in found.borders),
        ]
        said = f"{capital(name)} {landing_words(first, when=cold)}; over its ranges {ranges}."
        return [" ".join([said, *more])]

    def table(self) -> Table:
        """Return one row for each circuit."""
        rows = []
        for name, each in self.found.items():
            first = each.first
            lines = "\u2013" if first.lines is None else f"{first.lines:.2f}"
            jitter = "\u2013" if each.jitter is None else f"{each.jitter:.4f}"
            outcome = first.outcome + (f", pair {first.pair}" if first.pair else "")
            rows.append(
                (name, outcome, lines, margin_words(each.margins), jitter, spread_words(each.spreads[0]))
            )
        columns = (
            "circuit",
            "at its own values",
            "lines apart",
            "to the next landing",
            "jitter, lines rms",
            "over its ranges",
        )
        align = ("left", "left", "right", "left", "right", "left")
        return Table("Where the fields land", columns, tuple(rows), align, head=0)

    def _histories(self) -> Table | None:
        rows = [
            (name, landing.history, landing.outcome, spread_words(own))
            for name, each in self.found.items()
            for landing, own in zip(each.landings, each.spreads, strict=True)
            if landing.history
        ]
        if not rows:
            return None
        columns = ("circuit", "history", "at its own values", "over its ranges")
        return Table(
            "Started on this signal, or switched over to it from the standard one", columns, tuple(rows)
        )

    def _values(self) -> Table:
        rows = tuple(
            (name, circuit_words(each.circuit), nominal_words(each.circuit), _ranges(each))
            for name, each in self.found.items()
        )
        columns = ("circuit", "what it is", "its own values", "ranges, and where they are from")
        return Table("The circuits", columns, rows, folded=True)

    @cached_property
    def _plots(self) -> tuple[Plot, ...]:
        return (intervals_plot(self.wave, self.found), glass_plot(self.found), *maps(self.wave, self.found))

    def figures(self) -> tuple[Plot, ...]:
        """Return every plot."""
        return self._plots

    def parts(self) -> Iterator[Part]:
        """Yield the picture that explains, what results, maps, and the reverse question when it was asked."""
        intervals, glass, *mapped = self._plots
        if self.explained is not None:
            yield Part("What explains what was seen", items=self.explained.tables())
        yield Part("Why one sync gives several pictures", items=(intervals, glass))
        history = self._histories()
        text = (
            "Margins are how far a circuit's value is from the next landing, all else staying. Ranges "
            "are what may be "
            "met, not how likely it is.",
        )
        yield Part("Landings and margins", text, (self.table(), *((history,) if history else ())))
        if mapped:
            yield Part("Maps", items=tuple(mapped))
        yield Part("What was asked", items=(Code(f"resync {self.keys}", "the sync"), self._values()))

    def to_dict(self) -> dict[str, Any]:
        """Return the document's keys."""
        return {
            "sync": self.keys,
            "system": self.standard.lines,
            "landing": [{"display": name, **each.to_dict()} for name, each in self.found.items()],
            "explained": None if self.explained is None else self.explained.to_dict(),
            "why": {} if self.explained else {"explained": "nothing was told that was seen"},
        }


def _ranges(found: Landed) -> str:
    own = found.to_dict()["ranges_from"]
    spans = found.circuit.spans
    return "; ".join(f"{key} {low:g} to {high:g} ({own[key]})" for key, (low, high) in spans.items())
