"""The close looks of a tuning: the figure that opens its page, and the others as a part of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from scalesim.figure import MARK_WORDS, Figure
from scalesim.jobs.predict.views import source_view
from scalesim.jobs.tune.looks import TuneLook
from scalesim.result import Part, Picture

_WHERE = {
    "now": "where outlines suffer most now",
    "after": "where outlines suffer most with the best setting",
    "both": "where outlines suffer most both now and with the best setting",
}
_FOOT = "Predicted: lines drawn as they land, no beam or glass."


def look_pictures(looks: Sequence[TuneLook], *, stays: bool) -> Iterator[tuple[int, Picture]]:
    """Yield (number of the look, picture) of each look before and after; once where the setting stays."""
    for number, look in enumerate(looks, start=1):
        for when in ("now",) if stays else ("before", "after"):
            yield number, _picture(number, look, when, stays=stays)


def looks_part(looks: Sequence[TuneLook], *, stays: bool) -> Part | None:
    """Return the looks but the first, which opens the page; None without any."""
    shown = tuple(picture for number, picture in look_pictures(looks, stays=stays) if number > 1)
    if not shown:
        return None
    meant = f"Marked, {MARK_WORDS['split']}; {MARK_WORDS['lost']}."
    if stays:
        return Part("Where outlines suffer most, as it is set now", (meant,), shown, anchor="looks")
    text = (
        "Per frame the place where outlines suffer most now, split or lost, and the place where they suffer "
        f"most with the best setting, each now and with the best setting. {meant}"
    )
    return Part("Before and after at more places", (text,), shown, anchor="looks")


def look_figure(look: TuneLook, title: str, said: str, *, stays: bool) -> Figure:
    """Return the source and the look, before and after, as the figure that opens the page.

    Parameters:  said : what the setting brings on this frame
    """
    shown = look.pair[:1] if stays else look.pair
    where = "where outlines suffer most" if stays else _WHERE["after" if look.why == "after" else "now"]
    if not look.at_fault:
        where = "on which no outline is split or lost enough to be marked"
    names = (
        "the source (a) and as it is set now (b)" if stays else "the source (a), now (b), best setting (c)"
    )
    split = next((each.judged["line_doubling"].n for each in shown if "line_doubling" in each.judged), 0)
    judged = f" Judged on this frame: {split} outlines." if split else ""
    return Figure(
        "figures/look",
        title,
        f"The same part of {look.frame}, {where}: {names}. {said}{judged}",
        (source_view(look.source, "", list(shown)), *(each.marked for each in shown)),
        look.window,
        look.shape,
        look.source,
        _FOOT,
    )


def _picture(number: int, look: TuneLook, when: str, *, stays: bool) -> Picture:
    said = "with the best setting" if when == "after" else "as it is set now"
    where = "where outlines suffer most" if stays else _WHERE[look.why]
    return Picture(
        f"{when}-{number}",
        look.picture(int(when == "after")),
        f"{look.frame}, {when}",
        f"{look.frame}: a close look {said}",
        f"About source line {look.line:.0f}, {where}; {said}.",
    )
