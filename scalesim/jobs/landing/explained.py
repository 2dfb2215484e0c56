"""The reverse question answered: what explains what was seen, and what to measure next."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from scalesim.core.sync import SyncStandard
from scalesim.core.sync_wave import interlaced_wave
from scalesim.result import Table
from scalesim.tube.lock.fits import (
    LARGE_SHARE,
    Fit,
    Observation,
    Reading,
    fits_of,
    reading_of,
    told_apart,
)
from scalesim.tube.lock.words import share_words

MEASURE = (
    "Measure first, at the display's input: composite sync, 5 MS/s or more, 60 ms or more. Read for "
    "each field how far the leading edge of vertical sync lies after the last begin of a line, and the "
    "width of every pulse from six lines before it to its end (trace does both)."
)
SWEEP = (
    "Then, if the source can: move vertical sync of the second field from \u221230 to +30 \u00b5s in "
    "steps of 1 \u00b5s and read from photos how far apart the fields lie. A threshold or a width "
    "follows every step, a half-line clock takes three values, a whole-line clock two, and a two-field "
    "countdown stays."
)
HISTORY = (
    "And switch the display on with this signal, then switch over to it from a standard one: what "
    "differs is a countdown with a memory."
)
ELSEWHERE = (
    "No change of sync that is known here explains that with usual circuits: look for another cause (a "
    "display that is set by hand, two signals, or a sync that is not what it seems)."
)
_SEEN = {
    "one": "one set of lines",
    "two": "two sets",
    "uneven": "uneven fields",
    "rolls": "a rolling picture",
}
_WHEN = {
    "": "",
    "cold": " only after a cold start",
    "sometimes": " now and then",
    "always": " with every source",
}
_MOST_KINDS = 4
_NAMED, _KINDS_NAMED = 3, 2
"""How many changes, and kinds of each display, are told in words; the tables have all."""


@dataclass(frozen=True, eq=False)
class Explained:
    """What explains what was seen.

    Parameters:
        seen : on each display
        fits : changes that do, those with large shares first
        groups : the same, as the sync at the displays' input tells them apart
        readings : what an oscilloscope would show of each fit, in its order
        never : displays that drew what no kind draws with any of the changes
    """

    seen: tuple[Observation, ...]
    fits: tuple[Fit, ...]
    groups: tuple[tuple[Fit, ...], ...]
    readings: tuple[Reading, ...]
    never: tuple[str, ...] = ()

    def sentences(self) -> list[str]:
        """Return which changes and kinds fit, no more than that, and what to measure."""
        told = ", ".join(f"{each.label} {_SEEN[each.seen]}{_WHEN[each.when]}" for each in self.seen)
        if not self.fits:
            return [f"Seen: {told}. {ELSEWHERE} {self._contrary()}", MEASURE]
        said = [f"Seen: {told}. {self._counts()}", self._named(), *self._unchanged(), *self._groups()]
        return [*said, MEASURE, SWEEP, HISTORY]

    def _counts(self) -> str:
        changed = [fit for fit in self.fits if fit.change.keys]
        count, large = len(changed), sum(fit.least >= LARGE_SHARE for fit in changed)
        explain = "change of sync explains" if count == 1 else "changes of sync explain"
        return (
            f"{count} {explain} that with usual circuits, {large} over a quarter of the ranges or more and "
            f"{count - large} only in narrower bands. Each display is taken to interlace a standard signal "
            "unless it was said to draw so with every source."
        )

    def _named(self) -> str:
        """Return the changes with the largest shares, and which kinds the displays may then have."""
        told = [
            f"{fit.change.words}, where {', '.join(_may_have(fit, [each.label for each in self.seen]))}"
            for fit in self.fits[:_NAMED]
        ]
        first = "It is" if len(self.fits) == 1 else "First come" if len(told) > 1 else "First comes"
        return f"{first}: {'; '.join(told)}."

    def _unchanged(self) -> list[str]:
        """Return that no box need have done anything, where the standard signal explains it too."""
        if all(fit.change.keys for fit in self.fits):
            return []
        return [
            "The standard signal explains it as well, so what was seen does not show that a box changed "
            "anything."
        ]

    def _contrary(self) -> str:
        """Return whether one display alone, or only all of them together, cannot be explained."""
        if self.never:
            return f"No kind here draws what was seen on {' and '.join(self.never)}, whatever the sync."
        return "Each display alone can be explained; all of them by one signal cannot."

    def _groups(self) -> list[str]:
        if len(self.groups) < 2:
            return []
        return [
            f"The composite sync at the displays' input tells {len(self.groups)} groups of them apart; "
            "families of circuits within a group are told apart by a sweep, but for a threshold from a width."
        ]

    def tables(self) -> tuple[Table, ...]:
        """Return the changes with the kinds that fit, and what an oscilloscope would show of each."""
        return (self._fitting(), self._shown()) if self.fits else ()

    def _fitting(self) -> Table:
        labels = [each.label for each in self.seen]
        rows = tuple(
            (fit.change.words, *(_kinds(fit, label) for label in labels), share_words(fit.least))
            for fit in self.fits
        )
        columns = ("what a box does", *(f"{each} may have" for each in labels), "least share of ranges")
        return Table("What fits", columns, rows, (*("left",) * (len(labels) + 1), "right"), head=0)

    def _shown(self) -> Table:
        rows = tuple(
            (
                fit.change.words,
                *(f"{each:.2f}" for each in reading.leads),
                f"{reading.lines[0]:.2f}, {reading.lines[1]:.2f}",
                f"{reading.widest_us:.1f}",
                "yes" if reading.equalising else "no",
                ", ".join(f"{each:g}" for each in reading.odd_us) or "\u2013",
            )
            for fit, reading in zip(self.fits, self.readings, strict=True)
        )
        heads = (
            "what a box does",
            "lead of field 1, lines",
            "lead of field 2, lines",
            "lines of the fields",
            "longest pulse, \u00b5s",
            "equalising pulses",
            "other pulses before it, \u00b5s",
        )
        align = ("left", "right", "right", "right", "right", "left", "right")
        title = "What an oscilloscope would show at the displays' input"
        return Table(title, heads, rows, align, head=0)

    def to_dict(self) -> dict[str, Any]:
        """Return the keys of a document."""
        return {
            "seen": [
                {"display": each.label, "seen": each.seen, "when": each.when or None} for each in self.seen
            ],
            "fits": [_fit(*pair) for pair in zip(self.fits, self.readings, strict=True)],
            "groups": [[fit.change.words for fit in group] for group in self.groups],
            "never": list(self.never),
            "measure_next": [MEASURE, SWEEP, HISTORY],
        }


def _fit(fit: Fit, reading: Reading) -> dict[str, Any]:
    return {
        "change": fit.change.words,
        "resync": fit.change.keys,
        "least_share": fit.least,
        "kinds": {label: dict(own) for label, own in fit.kinds.items()},
        "leads": list(reading.leads),
        "lines_per_field": list(reading.lines),
        "widest_us": reading.widest_us,
        "equalising": reading.equalising,
        "odd_us": list(reading.odd_us),
    }


def explained(
    seen: Sequence[Observation], standard: SyncStandard, advance: Callable[[str], None] = lambda _: None
) -> Explained:
    """Return what explains what was seen; `advance` is called with each change that is looked at."""
    fits = fits_of(seen, standard, advance)
    waves = [interlaced_wave(standard, fit.change.stage.change()) for fit in fits]
    groups = tuple(tuple(group) for group in told_apart(fits, standard))
    never = () if fits else tuple(each.label for each in seen if not fits_of([each], standard))
    readings = tuple(reading_of(each, standard) for each in waves)
    return Explained(tuple(seen), tuple(fits), groups, readings, never)


def _may_have(fit: Fit, labels: Sequence[str]) -> list[str]:
    """Return which kinds the displays may have, those that may have the same told together."""
    alike: dict[tuple[str, ...], list[str]] = {}
    for label in labels:
        alike.setdefault(tuple(name for name, _ in fit.kinds[label]), []).append(label)
    told = []
    for names, own in alike.items():
        shown = [f"{'an' if name[0] in 'aeio' else 'a'} {name}" for name in names[:_KINDS_NAMED]]
        more = f" (or {len(names) - len(shown)} more)" if len(names) > len(shown) else ""
        told.append(f"{' and '.join(own)} may have {' or '.join(shown)}{more}")
    return told


def _kinds(fit: Fit, label: str) -> str:
    own = fit.kinds[label]
    shown = ", ".join(f"{name} {share_words(share)}" for name, share in own[:_MOST_KINDS])
    more = len(own) - _MOST_KINDS
    return f"{shown} and {more} more" if more > 0 else shown
