"""Clips that lie beside a page: what was counted in them as they were written, and what was done about it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from scalesim.result.items import Table

CAUTION = (
    "It flashes beyond the limits: it can trigger seizures in people with photosensitive epilepsy. "
    "Warn everybody you show it to."
)
_COUNTED = "Flashes were counted in every picture as it was written. A clip beyond a limit needs a caution."


@dataclass(frozen=True)
class FlashCount:
    """What one standard says of a clip.

    Parameters:
        standard, field : its name; of what more than a quarter must flash for a flash to count
        flashes, red : most flashes of light, and to or from saturated red, in any one second
        allowed : how many may be; passes : whether none are more
    """

    standard: str
    field: str
    flashes: float
    red: float
    allowed: float
    passes: bool


@dataclass(frozen=True)
class ClipTold:
    """A clip as a page tells it.

    Parameters:
        name, file : what the document calls it; its file
        counts : of its flashes
        card_s : seconds of caution before it, 0 for none
        why_no_card : why there is none though it is needed, "" otherwise
        words : what to know of the counts besides
        keys : the clip's own in the document
    """

    name: str
    file: str
    counts: tuple[FlashCount, ...]
    card_s: float = 0.0
    why_no_card: str = ""
    words: tuple[str, ...] = ()
    keys: Mapping[str, Any] = field(default_factory=dict)

    @property
    def card(self) -> str:
        """What goes before it, and why nothing does."""
        if self.card_s:
            return f"a caution of {self.card_s:g} s"
        return f"nothing: {self.why_no_card or 'none is needed'}"


def cautions(clips: Iterable[ClipTold]) -> list[str]:
    """Return what to tell everybody who may see the clips that flash beyond the limits."""
    found: dict[tuple[float, str], list[str]] = {}
    for clip in clips:
        if not all(count.passes for count in clip.counts):
            found.setdefault((clip.card_s, clip.why_no_card), []).append(clip.file)
    said = []
    for (seconds, why), files in found.items():
        names = " and ".join(filter(None, (", ".join(files[:-1]), files[-1])))
        card = f"A caution of {seconds:g} s goes before" if seconds else "No caution goes before"
        said.append(f"{card} {names}{f' ({why})' if why else ''}. {CAUTION}")
    return said


def flash_words(clips: Iterable[ClipTold]) -> tuple[str, ...]:
    """Return what to know of the counts, said once for all clips."""
    return _COUNTED, *dict.fromkeys(text for clip in clips for text in clip.words)


def flash_table(clips: Iterable[ClipTold]) -> Table:
    """Return what was counted in some clips; those in which the same was counted share their rows."""
    alike: dict[tuple[Any, ...], list[str]] = {}
    for clip in clips:
        alike.setdefault((clip.counts, clip.card), []).append(clip.file)
    rows = tuple(
        (
            ", ".join(files),
            each.standard,
            f"{each.flashes:g}",
            f"{each.red:g}",
            f"{each.allowed:g}",
            each.field,
            "passes" if each.passes else "does not pass",
            card,
        )
        for (counts, card), files in alike.items()
        for each in counts
    )
    head = (
        "clip",
        "limits of",
        "flashes in any second",
        "red flashes",
        "allowed",
        "over a quarter of",
        "verdict",
        "before it",
    )
    align = ("left", "left", "right", "right", "right", "left", "left", "left")
    return Table("Flashes as the clips show them", head, rows, align)
