"""The worst moments of a study: when each chain does worst by each measure, and how that looks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

from numpy.typing import NDArray

from scalesim.jobs.compare.study.kept import Kept
from scalesim.jobs.compare.study.moments import Shown, Spreads, Worst, ties_behind
from scalesim.metrics import key_of
from scalesim.result import Cell, Part, Picture, Table
from scalesim.texts import capital

_LINES = 180
"""Lines of a thumbnail, about: every n-th of the picture's."""


def worst_part(
    shown: Sequence[Shown],
    spreads: Spreads,
    kept: Kept,
    picture: Callable[[Shown, str], NDArray],
) -> Part:
    """Return the worst moments with thumbnails and time codes, and a table of every chain's.

    Parameters:  picture : gives what a chain makes of a shown frame
    """
    pictures = tuple(
        _thumbnail(number, moment, worst, spreads, partial(picture, moment, worst.chain))
        for number, moment in enumerate(shown)
        for worst in moment.worst[:1]
    )
    said = (
        "The frames at which a chain falls furthest behind its own median by a measure, where that is more "
        "than the measure resolves. Each is shown closely further down."
        if pictures
        else "No frame is worse than a chain's median by more than the measures resolve."
    )
    return Part("Worst moments", (said,), (*pictures, _table(spreads, kept)), "worst", quiet_text=True)


def _thumbnail(
    number: int,
    moment: Shown,
    worst: Worst,
    spreads: Spreads,
    picture: Callable[[], Any],
) -> Picture:
    key = key_of(worst.key)
    median = spreads[worst.key][worst.chain]
    value, unit = key.number(worst.value)
    said = f"{key.short} {value}{f' {unit}' if unit else ''}, its median {key.number(median.median)[0]}"

    def small() -> NDArray:
        values: NDArray = picture()
        step = max(1, values.shape[0] // _LINES)
        return values[::step, ::step]

    return Picture(
        f"figures/worst-{number + 1:02d}",
        small,
        label=moment.frame.name,
        alt=f"{moment.frame.name} after {worst.chain}, small",
        caption=f"{worst.chain}: {said} (n {median.n}).",
    )


def _table(spreads: Spreads, kept: Kept) -> Table:
    """Return every chain's worst frame by every measure, with the median beside it."""
    rows = []
    for name, own in spreads.items():
        key = key_of(name)
        for label, spread in own.items():
            at = kept.footage[spread.source]
            apart = ties_behind(key, spread.worst, spread.median) > 1
            rows.append(
                (
                    capital(key.label),
                    label,
                    key.number(spread.worst)[0] if apart else "–",
                    key.number(spread.median)[0],
                    key.shown_unit,
                    at.name if apart else "–",
                    time_code(spread.frame, at.rate) if apart else "–",
                    str(spread.n),
                )
            )
    heads = ("measure", "chain", "worst", "median", "unit", "clip", "time", "n")
    align = ("left", "left", "right", "right", "left", "left", "right", "right")
    return Table("Every chain's worst frame by every measure", heads, tuple(rows), align, folded=True)


def time_code(frame: int, rate: Any) -> str:
    """Return when a frame is shown, as minutes and seconds from the clip's begin: "1:02.48"."""
    if rate is None:
        return "–"
    hundredths = round(100 * frame / rate)
    minutes, rest = divmod(hundredths, 6000)
    hours, minutes = divmod(minutes, 60)
    head = f"{hours}:{minutes:02d}" if hours else str(minutes)
    return f"{head}:{rest // 100:02d}.{rest % 100:02d}"


def source_table(kept: Kept) -> Table:
    """Return what was looked at: every clip or picture, and how many of its frames were measured."""
    rows = []
    for number, each in enumerate(kept.footage):
        measured = kept.counts[number]
        lost = len(each.frames) - measured
        rows.append(
            (
                each.name,
                kept.modes[number] or "–",
                "–" if each.rate is None else f"{float(each.rate):.2f}",
                time_code(each.frames[0], each.rate),
                time_code(each.frames[-1], each.rate),
                str(len(each.frames)),
                Cell(str(measured), note=f"{lost} could not be; the appendix says why." if lost else ""),
            )
        )
    heads = ("clip or picture", "mode", "frames a second", "first", "last", "taken", "measured")
    align = ("left", "left", "right", "right", "right", "right", "right")
    return Table("Clips and pictures", heads, tuple(rows), align)
