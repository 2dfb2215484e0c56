"""The close looks of a tuning as a part of its page."""

from __future__ import annotations

from collections.abc import Sequence

from scalesim.jobs.tune.looks import TuneLook
from scalesim.result import Part, Picture

_WHERE = {
    "now": "where outlines suffer most now",
    "after": "where they suffer most with the best setting",
    "both": "where they suffer most both now and with the best setting",
}


def looks_part(looks: Sequence[TuneLook], *, stays: bool) -> Part:
    """Return the looks, each before and after; once where the best setting is the present one."""
    if stays:
        shown = [_picture(number, look, "now", stays=True) for number, look in enumerate(looks, start=1)]
        text = "Per frame the place where outlines suffer most, split or lost, at the setting it has now."
        return Part("Where outlines suffer most, as it is set now", (text,), tuple(shown), anchor="looks")
    shown = [
        _picture(number, look, when)
        for number, look in enumerate(looks, start=1)
        for when in ("before", "after")
    ]
    return Part("Before and after", (_about(looks),), tuple(shown), anchor="looks")


def _about(looks: Sequence[TuneLook]) -> str:
    """Return what the looks were chosen for."""
    if {look.why for look in looks} == {"both"}:
        return "The outlines that suffer most, split or lost, are in the same place now and afterwards."
    return (
        "Per frame the place where outlines suffer most now, split or lost, and the place where they suffer "
        "most with the best setting (one place where both are the same), each now and with the best setting."
    )


def _picture(number: int, look: TuneLook, when: str, *, stays: bool = False) -> Picture:
    said = "with the best setting" if when == "after" else "as it is set now"
    where = "where outlines suffer most" if stays else _WHERE[look.why]
    return Picture(
        f"{when}-{number}",
        look.after if when == "after" else look.before,
        f"{look.frame}, {when}",
        f"{look.frame}: a close look {said}",
        f"About source line {look.line:.0f}, {where}; {said}: whole scan lines, doubled, no beam.",
    )
