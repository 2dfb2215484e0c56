"""The counter chart drawn: luma codes of one picture after the other, and one of them as a chart.

A line of a picture is like every other but for the number in figures, so a picture is one row repeated.
Interlaced modes carry one number a field: a woven frame holds two, the earlier in its top field's lines.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from itertools import count, islice
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.charts._base import Chart
from scalesim.charts.counter import code
from scalesim.charts.counter.layout import (
    CELL,
    COPY_AT,
    GROUND,
    HIGH,
    LOW,
    QUIET,
    SCENERY,
    STEP,
    STRIP,
    UNITS,
    Layout,
    layout,
    luma_code,
)
from scalesim.draw.letters import text_mask

POLE, POLE_LEVEL = 32, 0.75
"""The bright pole that crosses the middle, in units: a tear breaks it."""
FENCE, RAIL, FENCE_LEVEL = 76, 20, 0.22
"""Pitch and width of the dim poles behind it."""
FIGURES, INK_LEVEL = 5, 0.6
CAUTION = (
    "The picture changes all the time; its changes of light stay below the limits that WCAG 2.3.1 and ITU-R "
    "BT.1702-3 set for flashes, at the levels it is drawn with. A box or display that raises contrast may "
    "take them beyond: play it into a capture, not before an audience."
)


def counter_chart(mode: str, *, aspect: str = "full") -> Chart:
    """Return the counter chart's first picture, and the truth about all of them.

    Parameters:  mode : a mode's name; aspect : "full", "16:9", or "4:3" for the centre of a wide picture
    Returns:     the `Chart`; its frame is (frame lines, samples, 3) float32, woven with fields
    Raises:      ParameterError for an unknown mode or aspect
    """
    plan = layout(mode, aspect=aspect)
    luma = (next(counter_frames(plan)).astype(np.float32) - 16) / 219
    frame = np.repeat(luma[..., None], 3, axis=2)
    return Chart("counter", plan.mode.name, "", _title(plan), frame, _truth(plan))


def counter_frames(plan: Layout, frames: int | None = None, first: int = 0) -> Iterator[NDArray[np.uint8]]:
    """Yield frames as luma codes, (frame lines, samples) uint8, black 16 and white 235.

    Parameters:  frames : how many, None for no end; first : number of the first picture
    """
    fields = 2 if plan.mode.interlaced else 1
    for index in islice(count(), frames):
        frame = np.empty((plan.mode.frame_lines, plan.mode.samples), np.uint8)
        for parity in range(fields):
            _draw(plan, first + index * fields + parity, frame[parity::fields])
        yield frame


def _draw(plan: Layout, number: int, lines: NDArray[np.uint8]) -> None:
    """Draw the picture of a number on the lines of its frame or field."""
    lines[:] = _row(plan, number)
    tall = max(1, lines.shape[0] // 120)
    wide = max(1, round(plan.share * plan.mode.samples / 213))
    left = int(plan.samples(UNITS / 2)) - FIGURES * 3 * wide
    for place, figure in enumerate(f"{number % 10**FIGURES:0{FIGURES}d}"):
        ink = _figure(figure, tall, wide)
        top, x = (lines.shape[0] - ink.shape[0]) // 2, left + place * 6 * wide
        lines[top : top + ink.shape[0], x : x + ink.shape[1]][ink] = luma_code(INK_LEVEL)


@cache
def _figure(figure: str, tall: int, wide: int) -> NDArray[np.bool_]:
    return np.asarray(text_mask(figure), bool).repeat(tall, 0).repeat(wide, 1)


def _row(plan: Layout, number: int) -> NDArray[np.uint8]:
    """Return the line that all lines of a picture are; a sample holds the mean of the units it covers."""
    levels = np.concatenate([[0.0], np.cumsum(_units(number))])
    edges = (np.arange(plan.mode.samples + 1) / plan.mode.samples - plan.left) / plan.share * UNITS
    total = np.interp(edges, np.arange(UNITS + 1), levels)
    # Beside the window of 4:3 in a wide picture the ground goes on.
    total += GROUND * (np.minimum(edges, 0) + np.maximum(edges - UNITS, 0))
    row: NDArray[np.uint8] = np.floor(16 + 219 * np.diff(total) / np.diff(edges) + 0.5).astype(np.uint8)
    return row


def _units(number: int) -> NDArray[np.float64]:
    """Return the level of every unit along the line of a picture."""
    levels = np.full(UNITS, GROUND)
    start, stop = SCENERY
    moved = np.arange(stop - start) - STEP * number
    levels[start:stop][moved % FENCE < RAIL] = FENCE_LEVEL
    levels[start:stop][moved % (stop - start) < POLE] = POLE_LEVEL
    for copy, left in enumerate(COPY_AT):
        strip = [1, 0, *code.cells()[number % code.NUMBERS, copy], 0, 1]
        levels[left - CELL : left + (STRIP + 1) * CELL] = QUIET
        levels[left : left + STRIP * CELL] = np.repeat(np.where(np.array(strip) > 0, HIGH, LOW), CELL)
    return levels


def _title(plan: Layout) -> str:
    what = "field" if plan.mode.interlaced else "frame"
    window = ", inside the centre 4:3" if plan.aspect == "4:3" else ""
    return (
        f"Counter chart, {plan.mode.name}{window}: every {what} carries its number in every line; the bright "
        "pole must be straight, and where it breaks, the picture is torn"
    )


def _truth(plan: Layout) -> dict[str, Any]:
    """Return all that redraws the chart, in JSON types."""
    mode = plan.mode
    return {
        "chart": "counter",
        "title": _title(plan),
        "caution": CAUTION,
        "mode": mode.name,
        "aspect": plan.aspect,
        "lines": mode.frame_lines,
        "samples": mode.samples,
        "interlaced": mode.interlaced,
        "rate_hz": [mode.rate.numerator, mode.rate.denominator],
        "first": 0,
        "wraps_at": code.NUMBERS,
        "units_across": UNITS,
        "window": {"left": plan.left, "share": plan.share},
        "copies": {"left": list(COPY_AT), "cell": CELL, "cells": STRIP, "strip": "1 0 code 0 1"},
        "code": {
            "message": f"rest of number * {code.SCATTER} by {code.NUMBERS}",
            "word": "message * 2^11 + its rest by the generator polynomial, then a cell of even parity",
            "generator": code.GENERATOR,
            "masks": list(code.MASKS),
            "order": "highest bit at the left; a cell is high where the word, turned over by its mask, has 1",
        },
        "levels": {"low": LOW, "high": HIGH, "quiet": QUIET, "ground": GROUND},
        "scenery": {
            "from": SCENERY[0],
            "to": SCENERY[1],
            "step": STEP,
            "pole": {"width": POLE, "level": POLE_LEVEL},
            "fence": {"pitch": FENCE, "width": RAIL, "level": FENCE_LEVEL},
        },
    }
