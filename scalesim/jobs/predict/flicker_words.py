"""The flicker study in a reviewer's words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from scalesim.jobs.predict.flicker_row import STEADY, FlickerRow
from scalesim.metrics import key_of
from scalesim.metrics.flicker.eye import MODEL

_ALIKE = 0.9
"""Share of each other from which two figures are told as alike."""


def number(key: str, value: float | None) -> str:
    """Return a figure of the study as text, "none" when there is none."""
    return "none" if value is None else key_of(key).number(value, fine=True)[0]


def study_sentences(rows: Sequence[FlickerRow], rate_hz: float) -> list[str]:
    """Return which filter steadies most for what loss, what the pairing does, and what the figures are."""
    # moved down, even a flat picture has a black line at its top
    if all(_flicker(row) < STEADY for row in rows if row.shift == 0):
        return ["Nothing in this frame alternates between fields, with or without a filter."]
    interlaced = _group(rows, "", 0)
    said = [*_filters(interlaced), *_pairing(rows), *_pairs(rows)]
    said.append(
        "Decibels compare the alternating light with the mean light, weighted for the eye at "
        f"{rate_hz / 2:.2f} Hz by the model of {MODEL}; single lines look "
        "steadier than that, because the eye averages them."
    )
    return said


def _filters(rows: Mapping[str, FlickerRow]) -> list[str]:
    off = rows.get("1")
    others = [row for row in rows.values() if row is not off]
    said = []
    if off is not None:
        said.append(
            f"Interlaced and unfiltered, the light alternates by {_percent(off)} of white on average, "
            f"with horizontal edges {_edge(off)}."
        )
    if not others:
        return said
    steadiest = min(others, key=_flicker)
    said.append(
        f"Interlaced, {_named(steadiest.taps)} steadies it most: {_percent(steadiest)}, "
        f"with edges {_edge(steadiest)}."
    )
    if off is not None:
        halving = [row for row in others if _flicker(row) <= _flicker(off) / 2 and _height(row) is not None]
        sharpest = min(halving, key=lambda row: _height(row) or 0.0, default=None)
        if sharpest is not None and sharpest is not steadiest:
            said.append(
                f"Of the filters that at least halve the flicker, {_named(sharpest.taps)} keeps edges "
                f"sharpest: "
                f"{_percent(sharpest)}, with edges {_edge(sharpest)}."
            )
    return said


def _pairing(rows: Sequence[FlickerRow]) -> list[str]:
    """Return what pairing and shift do to the first filter, which is none unless told otherwise."""
    down, up, moved = (_group(rows, pair, shift) for pair, shift in (("down", 0), ("up", 0), ("down", 1)))
    taps = "1" if "1" in down else next(iter(down))
    one, other, shifted = down[taps], up[taps], moved[taps]
    filtered = "unfiltered" if taps == "1" else f"filtered by {taps}"
    figures = f"{_percent(one)} with pair=down and {_percent(other)} with pair=up"
    low, high = sorted((_flicker(one), _flicker(other)))
    if low > _ALIKE * high:
        return [f"Both fields on one set of lines, {filtered}: {figures}; the pairing matters little here."]
    pair, better = ("down", down) if _flicker(one) == low else ("up", up)
    said = [
        f"Both fields on one set of lines, {filtered}: {figures}, so this frame is steadier with "
        f"pair={pair}. Moving the picture down by one line "
        f"makes the {_percent(one)} of pair=down {_percent(shifted)}."
    ]
    worse = [name for name, row in better.items() if _flicker(row) > low + STEADY]
    if worse:
        said.append(f"There, filtering makes it flicker more than {filtered}: {', '.join(worse)}.")
    return said


def _pairs(rows: Sequence[FlickerRow]) -> list[str]:
    """Return what averaging line pairs does where its pairs share a scan line and where they do not."""
    down, up = (_group(rows, pair, 0).get("paired") for pair in ("down", "up"))
    if down is None or up is None:
        return []
    return [
        f"Line pairs flicker by {_percent(down)} with pair=down, whose scan lines show those very pairs, and "
        f"by {_percent(up)} with pair=up, whose scan lines straddle them."
    ]


def _group(rows: Sequence[FlickerRow], pair: str, shift: int) -> dict[str, FlickerRow]:
    return {row.taps: row for row in rows if (row.pair, row.shift) == (pair, shift)}


def _flicker(row: FlickerRow) -> float:
    value = row.metrics["flicker_percent"]
    return float("inf") if value is None else value


def _height(row: FlickerRow) -> float | None:
    return row.metrics["edge_spread_lines"]


def _percent(row: FlickerRow) -> str:
    return number("flicker_percent", row.metrics["flicker_percent"]) + " %"


def _edge(row: FlickerRow) -> str:
    height = _height(row)
    return "that cannot be measured" if height is None else f"{height:.2f} lines tall"


def _named(taps: str) -> str:
    return "averaging line pairs" if taps == "paired" else taps
