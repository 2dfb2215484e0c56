"""The flicker chart: what an interlaced tube makes of thin detail, and what a flicker filter leaves of it.

Every detail is counted in frame lines of the mode it is drawn for. The line gratings are the part that
can be felt: where bright and dark lines fall on different fields they alternate at half the field rate.
So their area is kept below a quarter of the picture, the share above which ITU-R BT.1702-3 counts
changing stripes as a hazard, their contrast is held back, and the caution stands in the picture itself.
"""

from __future__ import annotations

from math import ceil
from typing import Any

import numpy as np

from scalesim.charts._base import Chart
from scalesim.draw.letters import text_mask
from scalesim.draw.sheet import Box, Sheet, blank_sheet, tidy

BAR_LINES = (1, 2, 3, 4, 6)
"""Frame lines of one bright bar of each grating; the dark bar below it has as many."""

AREA_LIMIT = 0.25
"""Share of the picture that may hold changing stripes, ITU-R BT.1702-3 guideline 2."""

CAUTION = (
    "Alternate lines flicker at 25 to 30 Hz on an interlaced tube. Photosensitive viewers should not "
    "look at this chart; everyone else: look briefly, from a distance, in a lit room, and stop at the first "
    "discomfort."
)
ON_CHART = (
    "CAUTION: ALTERNATE LINES FLICKER AT 25 TO 30 Hz",
    "ON AN INTERLACED TUBE. PHOTOSENSITIVE VIEWERS:",
    "DO NOT LOOK. OTHERS: BRIEFLY, IN A LIT ROOM.",
)
PAPER, DARK, BRIGHT, INK, AMBER = 0.10, 0.10, 0.75, 0.85, (0.90, 0.62, 0.0)
TINY = "Thin strokes flicker first"


def flicker_chart(mode: str, *, aspect: str | None = None) -> Chart:
    """Draw the flicker chart.

    Parameters:  mode : a name of `scalesim.core.mode`; aspect : "16:9", "4:3", or None for the mode's own
    Returns:     a Chart; its truth has `caution`, `gratings` with `grating_area` (share of the chart's
                 area), `lines`, `slope`, `ring` and `texts`
    Raises:      ParameterError for an unknown mode or aspect
    """
    sheet = blank_sheet(mode, aspect, PAPER)
    dot = sheet.dot_lines
    left, right = sheet.area.left + 0.09 * sheet.samples, sheet.area.right - 0.09 * sheet.samples
    y = round(0.08 * sheet.lines / dot) * dot
    # What the rows below do not need goes to the gratings, to the gaps and to the last rows.
    spare = int((sheet.lines - 2 * y) // dot) - _ROWS
    tall, gap, loose = 34 + spare // 3, (spare // 6) * dot, spare // 12
    _centred(sheet, f"FLICKER  {sheet.mode.name}  {sheet.aspect}", y, INK)
    for k, words in enumerate(ON_CHART):
        _centred(sheet, words, y + (12 + 9 * k) * dot, AMBER)
    y += 42 * dot + gap
    gratings = _gratings(sheet, y, left, right, tall)
    y += (24 + tall) * dot + gap
    # Of the area, not of the raster: a chain may fill the tube with it.
    share = sum(_extent(grating["bar"]) for grating in gratings) / (sheet.lines * sheet.samples)
    third = (right - left) / 3
    truth: dict[str, Any] = {
        "chart": "flicker",
        **sheet.facts(),
        "caution": CAUTION,
        "dark": DARK,
        "bright": BRIGHT,
        "gratings": gratings,
        "grating_area": round(share, 6),
        "grating_area_limit": AREA_LIMIT,
        "lines": _thin_lines(sheet, y, left, left + 1.25 * third, 11 + loose),
        "ring": _ring(sheet, y, left + 1.68 * third),
        "texts": _texts(sheet, y, left + 2.08 * third, 1 + loose),
        "slope": _slope(sheet, y + (46 + 4 * loose) * dot, left, left + 1.25 * third),
    }
    title = (
        f"Flicker: see which gratings, lines and letters are steady on an interlaced tube. CAUTION: {CAUTION}"
    )
    return Chart("flicker", sheet.mode.name, "", title, sheet.frame, truth)


_ROWS = 42 + 58 + 60
"""Dots that heading, gratings and the last rows need without spare room."""


def _gratings(sheet: Sheet, top: int, left: float, right: float, tall: int) -> list[dict[str, Any]]:
    """Draw one patch of lines per bar height, each labelled below."""
    dot, pitch = sheet.dot_lines, (right - left) / len(BAR_LINES)
    _centred(sheet, "LINES BRIGHT, LINES DARK", top, INK)
    top += 10 * dot
    drawn = []
    for k, bar in enumerate(BAR_LINES):
        start, stop = round(left + (k + 0.08) * pitch), round(left + (k + 0.92) * pitch)
        count = max(2, round(tall * dot / (2 * bar)))
        for cycle in range(count):
            first = top + 2 * bar * cycle
            sheet.fill(Box(first, first + bar, start, stop), BRIGHT)
        words = f"{bar} + {bar}"
        sheet.text(words, top + (tall + 4) * dot, (start + stop - sheet.text_samples(words)) / 2, INK)
        box = Box(top, top + 2 * bar * count, start, stop).to_dict()
        drawn.append({"bright_lines": bar, "dark_lines": bar, "period_lines": 2 * bar, "bar": box})
    return drawn


def _extent(box: dict[str, float]) -> float:
    return (box["bottom"] - box["top"]) * (box["right"] - box["left"])


def _thin_lines(sheet: Sheet, top: float, left: float, right: float, pitch: int) -> list[dict[str, Any]]:
    """Draw level lines of 1 and 2 frame lines; of those of 1, one per field."""
    dot = sheet.dot_lines
    drawn = []
    for k, (thick, parity) in enumerate(((1, 0), (1, 1), (2, 0), (2, 1))):
        words = f"{thick} LINE{'S' if thick > 1 else ''}, {'ODD' if parity else 'EVEN'}"
        label = sheet.text(words, top + pitch * k * dot, left, INK)
        first = 2 * ceil((label.top + 3 * dot) / 2) + parity
        start = left + sheet.text_samples("2 LINES, EVEN") + 4 * sheet.dot_samples
        box = Box(first, first + thick, round(start), round(right))
        sheet.fill(box, INK)
        drawn.append({"thickness_lines": thick, "first_line_parity": parity, **box.to_dict()})
    return drawn


def _slope(sheet: Sheet, top: float, left: float, right: float) -> dict[str, Any]:
    """Draw a line 1 frame line thick that falls slowly, so that its steps crawl."""
    fall = 6 * sheet.dot_lines
    start, stop = round(left), round(right)
    for x in range(start, stop):
        y = top + fall * (x - start) / (stop - start)
        sheet.fill(Box(y, y + 1, x, x + 1), INK)
    words = "SLOPE"
    sheet.text(words, top + 5 * sheet.dot_lines, left, INK)
    return {"thickness_lines": 1, "fall_lines": fall, "top": tidy(top), "left": start, "right": stop}


def _ring(sheet: Sheet, top: float, x: float) -> dict[str, Any]:
    """Draw a ring one frame line thick."""
    dot = sheet.dot_lines
    radius = 22 * dot
    y = top + radius + dot
    sheet.circle(y, x, radius, 1.0, INK)
    words = "RING, 1 LINE"
    sheet.text(words, y + radius + 4 * dot, x - sheet.text_samples(words) / 2, INK)
    return {"line": tidy(y), "sample": tidy(x), "radius_lines": radius, "thickness_lines": 1}


def _texts(sheet: Sheet, top: float, left: float, gap: int) -> list[dict[str, Any]]:
    """Set the same words with strokes of 1, 2 and 3 frame lines, each named above in letters to be read."""
    y, drawn = round(top), []
    for stroke in (1, 2, 3):
        name = f"TEXT, STROKE {stroke}"
        y = round(sheet.text(name, y, left, INK).bottom) + sheet.dot_lines
        wide = max(1, round(stroke / float(sheet.sample_aspect)))
        words, room = TINY, sheet.area.right - 0.05 * sheet.samples - left
        while text_mask(words).shape[1] * wide > room and " " in words:
            words = words.rsplit(" ", 1)[0]
        ink = text_mask(words).repeat(stroke, 0).repeat(wide, 1)
        box = sheet.stamp(np.asarray(ink), y, round(left), INK)
        y = round(box.bottom) + gap * sheet.dot_lines
        drawn.append({"words": words, "stroke_lines": stroke, **box.to_dict()})
    return drawn


def _centred(sheet: Sheet, words: str, y: float, tone: float | tuple[float, float, float]) -> None:
    x = (sheet.area.left + sheet.area.right - sheet.text_samples(words)) / 2
    sheet.text(words, y, x, tone)
