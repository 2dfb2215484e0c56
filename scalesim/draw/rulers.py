"""Stepped rulers: how far into the picture from an edge, readable on a tube that hides the edge.

A ruler is a wedge that starts at the very edge of the picture and grows by steps; behind every fifth
step stands how many lines (or samples) it has grown to. If the tube hides k lines, the wedge is out of
sight up to step k: it comes into view at the number that answers the question, which is also the first
number that can be seen whole.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.draw.letters import text_mask
from scalesim.draw.sheet import DIGIT_DOTS, Box, Sheet

PLATE, INK, NAME = 0.03, 0.92, 0.62
WEDGE = (0.86, 0.60)  # in turn, so that the numbers' steps can be counted by eye
STEPS = 5
"""Steps from one number of a ruler to the next."""

GAP_DOTS = 1
"""From a step to its number."""

SIDES = ("top", "bottom", "left", "right")


@dataclass(frozen=True)
class Ruler:
    """One stepped ruler, in the directions along its edge and into the picture from it.

    `step` and `last` are lines or samples into the picture; `start`, `pitch` and `count` place its
    columns along the edge, the first for the number 0.
    """

    side: str
    step: int
    start: int
    pitch: int
    count: int

    @property
    def last(self) -> int:
        """The largest number."""
        return self.step * STEPS * (self.count - 1)

    @property
    def stop(self) -> int:
        """Where it ends along the edge."""
        return self.start + self.pitch * self.count


def ruler_step(size: int) -> int:
    """Return the step of a ruler into `size` lines or samples: about 1/240 of them, whole.

    So a step of the rulers at top and bottom is about one line of 240.
    """
    return max(1, floor(size / 240 + 0.5))


def lay_rulers(sheet: Sheet, side: str) -> list[Ruler]:
    """Lay out the two rulers of one edge about its middle; they reach at least a tenth of the picture."""
    upright = side in ("top", "bottom")
    deep, along = (sheet.lines, sheet.samples) if upright else (sheet.samples, sheet.lines)
    step = ruler_step(deep)
    count = ceil(0.10 * deep / (step * STEPS)) + 1
    if upright:
        widest = max(sheet.text_samples(str(step * STEPS * k)) for k in range(count))
        pitch = STEPS * ceil((widest + 3 * sheet.dot_samples) / STEPS)
        gap = 6 * sheet.dot_samples
    else:
        pitch = STEPS * ceil((DIGIT_DOTS + 3) * sheet.dot_lines / STEPS)
        gap = (DIGIT_DOTS + 7) * sheet.dot_lines  # even, to keep the numbers on whole dots
    origin = sheet.area.left if upright else sheet.area.top
    first = round(origin + (along - gap) / 2) - pitch * count
    return [Ruler(side, step, first + k * (pitch * count + gap), pitch, count) for k in (0, 1)]


def into(sheet: Sheet, side: str, along: tuple[float, float], depth: tuple[float, float]) -> Box:
    """Return the box that runs `along` an edge, and from `depth` to `depth` into the picture from it."""
    area, (near, far) = sheet.area, depth
    if side == "top":
        return Box(area.top + near, area.top + far, *along)
    if side == "bottom":
        return Box(area.bottom - far, area.bottom - near, *along)
    if side == "left":
        return Box(*along, area.left + near, area.left + far)
    return Box(*along, area.right - far, area.right - near)


def ruler_depth(sheet: Sheet, ruler: Ruler) -> int:
    """Return how far into the picture a ruler and its largest number reach."""
    if ruler.side in ("top", "bottom"):
        return ruler.last + (GAP_DOTS + DIGIT_DOTS + 1) * sheet.dot_lines
    return ruler.last + (GAP_DOTS + number_ink(ruler.side, ruler.last).shape[1] + 2) * sheet.dot_samples


def draw_rulers(sheet: Sheet, pair: list[Ruler]) -> dict[str, Any]:
    """Draw the two rulers of one edge; return their unit, step, and where every number is."""
    side, step = pair[0].side, pair[0].step
    upright = side in ("top", "bottom")
    pad = (2 * sheet.dot_samples) if upright else (2 * sheet.dot_lines)
    plate = (pair[0].start - pad, pair[1].stop + pad)
    sheet.fill(into(sheet, side, plate, (0, ruler_depth(sheet, pair[0]))), PLATE)
    marks = [mark for ruler in pair for mark in _draw_ruler(sheet, ruler)]
    _name_rulers(sheet, pair)
    unit = "samples" if not upright else "frame lines" if sheet.mode.interlaced else "lines"
    return {
        "unit": unit,
        "step": step,
        "number_every": step * STEPS,
        "last": pair[0].last,
        "marks": marks,
    }


def _draw_ruler(sheet: Sheet, ruler: Ruler) -> list[dict[str, Any]]:
    """Draw the wedge and its numbers; return where each number and its step are."""
    marks = []
    for column in range(ruler.count):
        start, value = ruler.start + column * ruler.pitch, column * ruler.step * STEPS
        for k in range(STEPS if column else 0):
            along = (start + ruler.pitch * k / STEPS, start + ruler.pitch * (k + 1) / STEPS)
            # The steps before a number are shorter than it, so that nothing covers what stands behind it.
            depth = value - ruler.step * (STEPS - 1 - k)
            sheet.fill(into(sheet, ruler.side, along, (0, depth)), WEDGE[column % 2])
        step = (start + ruler.pitch * (STEPS - 1) / STEPS, start + float(ruler.pitch))
        number = _number(sheet, ruler, value, start)
        marks.append(
            {
                "value": value,
                "step": into(sheet, ruler.side, step, (0, value)).to_dict(),
                "number": number.to_dict(),
            }
        )
    return marks


def _number(sheet: Sheet, ruler: Ruler, value: int, start: int) -> Box:
    """Write one number behind its step; return the box of its ink."""
    ink = number_ink(ruler.side, value).repeat(sheet.dot_lines, 0).repeat(sheet.dot_samples, 1)
    high, wide = ink.shape
    if ruler.side in ("top", "bottom"):
        # A dot short of the column's end, where the next wedge begins.
        end, near = start + ruler.pitch - sheet.dot_samples, value + GAP_DOTS * sheet.dot_lines
        box = into(sheet, ruler.side, (end - wide, end), (near, near + high))
    else:
        end, near = start + ruler.pitch - sheet.dot_lines, value + GAP_DOTS * sheet.dot_samples
        box = into(sheet, ruler.side, (end - high, end), (near, near + wide))
    return sheet.stamp(ink, int(box.top), int(box.left), INK)


def number_ink(side: str, value: int) -> NDArray[np.bool_]:
    """Return a number as it is written at one side, as a mask of dots (7, width).

    At left and right an arrow points from the number to the edge. Without it a number that has lost its
    first digit would read as a smaller whole one: 30 as 0.
    """
    digits = text_mask(str(value))[:DIGIT_DOTS]
    if side in ("top", "bottom"):
        return digits
    gap = np.zeros((DIGIT_DOTS, 1), np.bool_)
    parts = [_ARROW, gap, digits] if side == "left" else [digits, gap, _ARROW[:, ::-1]]
    return np.hstack(parts)


_ARROW = np.abs(np.arange(DIGIT_DOTS) - DIGIT_DOTS // 2)[:, None] <= np.arange(DIGIT_DOTS // 2 + 1)
"""A triangle (7, 4) that points left."""


def _name_rulers(sheet: Sheet, pair: list[Ruler]) -> None:
    """Write what a ruler counts: in the empty corner behind its small numbers, or between the two."""
    ruler, below = pair[0], ruler_depth(sheet, pair[0])
    if ruler.side in ("top", "bottom"):
        near = below - (DIGIT_DOTS + 2) * sheet.dot_lines
        for one in pair:
            along = (one.start + float(sheet.dot_samples), float(one.stop))
            box = into(sheet, ruler.side, along, (near, near + DIGIT_DOTS * sheet.dot_lines))
            sheet.text("LINES", box.top, box.left, NAME)
        return
    wide, dot = sheet.text_samples("SAMPLES"), sheet.dot_samples
    box = into(sheet, ruler.side, (pair[0].stop, pair[1].start), (below - wide - dot, below - dot))
    sheet.text("SAMPLES", (box.top + box.bottom - DIGIT_DOTS * sheet.dot_lines) / 2, box.left, NAME)
