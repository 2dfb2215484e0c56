"""The answer of a trace, as a `Result`."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from scalesim.jobs.trace import figures as plots
from scalesim.jobs.trace import tables
from scalesim.jobs.trace.document import document, pulses_csv
from scalesim.jobs.trace.found import Found
from scalesim.jobs.trace.found import Record as Record
from scalesim.jobs.trace.landed import landed_table
from scalesim.jobs.trace.words import CAUTIONS, sentences
from scalesim.plot import Plot
from scalesim.result import File, Item, Part, Result, Table
from scalesim.tube.lock.words import CAUTIONS as CAUTIONS_OF_LOCK

_TITLES = {
    "interlaced": "The sync is interlaced",
    "progressive": "The sync is progressive",
    "neither": "The sync is neither interlaced nor progressive",
    "unknown": "Interlaced or progressive: it cannot be told",
}


@dataclass(frozen=True, eq=False)
class Traced(Found, Result):
    """What an oscilloscope's records tell; a `Result`. Its fields are those of `Found`."""

    kind = "trace"

    @property
    def title(self) -> str:
        """The finding."""
        mode = self.verdict.mode
        said = _TITLES[self.verdict.answer] + (f": {mode.name}" if mode is not None else "")
        return f"{said}, and a level is over" if self.trim is not None and not self.doubts else said

    @property
    def undecided(self) -> bool:
        """True when interlaced and progressive cannot be told apart."""
        return self.verdict.answer == "unknown"

    @property
    def foot(self) -> tuple[str, ...]:
        """Cautions."""
        return CAUTIONS

    def sentences(self) -> list[str]:
        """Return what was found, the verdict first."""
        return [*sentences(self), *(said for each in self.landed for said in each.sentences())]

    def table(self) -> Table:
        """Return the main figures."""
        return tables.main_table(self)

    def remarks(self) -> list[str]:
        """Return how the files were read."""
        return list(self.notes)

    def figures(self) -> tuple[Plot, ...]:
        """Return every plot."""
        return plots.figures(self)

    def parts(self) -> Iterator[Part]:
        """Yield what the page shows, the vertical syncs first."""
        syncs = tables.vertical_table(self) if self.timing is not None and self.timing.verticals else None
        yield Part("Where fields begin", items=_there(plots.vertical_plot(self), self.table(), syncs))
        if self.landed:
            yield Part("Where displays land the fields", CAUTIONS_OF_LOCK, (landed_table(self.landed),))
        if self.levels:
            pads = None if self.trim is None else tables.pad_table(self.trim)
            more = f"from {self.levels_from}" if self.levels_from else ""
            shown = _there(tables.level_table(self), plots.line_plot(self), pads)
            yield Part("Levels", _level_text(self), shown, quiet=more)
        if self.timing is not None:
            widths = tables.width_table(self)
            yield Part(
                "Pulses and fields", items=_there(plots.field_plot(self), plots.width_plot(self), widths)
            )
        notes = tuple(f"{note}." for note in self.notes)
        yield Part("How it was recorded", notes, (tables.record_table(self),), quiet_text=True)

    def files(self) -> dict[str, File]:
        """Return every pulse as CSV."""
        return {"pulses": File("pulses.csv", pulses_csv(self.timings))} if self.timings else {}

    def to_dict(self) -> dict[str, Any]:
        """Return the document's keys."""
        return document(self)


def _level_text(found: Found) -> tuple[str, ...]:
    said = [
        "White, peak, black and overshoot are above blanking; blanking is where it lies in the record. ± "
        "is twice the standard error of the reading, without the oscilloscope's own error."
    ]
    if found.trim is not None:
        said.append(
            "A pad goes between source and display, close to the input, in a 75 ohm line that is "
            "terminated. It lowers sync on the same wire too; when sync must stay, trim at the source. "
            "Build one only if you know how, measure again, and follow the manuals."
        )
    return tuple(said)


def _there(*items: Item | None) -> tuple[Item, ...]:
    return tuple(item for item in items if item is not None)
