"""The geometry chart: how much the tube hides at each edge, and whether shapes come out true.

Along every edge lie two stepped rulers (see `rulers`). Between them: the safe areas, a grid of squares,
five circles, and the discs that a photo is straightened by, all true on a screen of the chart's shape.
"""

from __future__ import annotations

from math import floor
from typing import Any

from scalesim.charts._base import Chart
from scalesim.charts.geometry_marks import draw_marks
from scalesim.draw.rulers import (
    INK,
    PLATE,
    SIDES,
    Ruler,
    draw_rulers,
    into,
    lay_rulers,
    ruler_depth,
)
from scalesim.draw.sheet import Box, Sheet, blank_sheet, tidy

PAPER, GRID = 0.11, 0.27
SAFE_AREAS = (  # percent of both dimensions, use, source, tone, dots drawn and left out
    (93, "safe action", "SMPTE ST 2046-1:2009", (0.34, 0.71, 0.91), (1, 0)),
    (90, "safe title; safe action of tube-era practice", "SMPTE ST 2046-1:2009", (0.90, 0.62, 0.0), (8, 4)),
    (80, "safe title of tube-era practice", "common practice; SMPTE RP 27.3", (0.80, 0.47, 0.65), (3, 3)),
)
LEGEND = {93: "93% ACTION", 90: "90% TITLE, TUBE ACTION", 80: "80% TUBE TITLE"}


def geometry_chart(mode: str, *, aspect: str | None = None) -> Chart:
    """Draw the geometry chart.

    Parameters:  mode : a name of `scalesim.core.mode`; aspect : "16:9", "4:3", or None for the mode's own
    Returns:     a Chart; its truth has `rulers`, `circles`, `safe_areas`, `grid`, `cross` and `marks` (discs
        that a photo of the tube is straightened by)
    Raises:      ParameterError for an unknown mode or aspect
    """
    sheet = blank_sheet(mode, aspect, PAPER)
    rulers = {side: lay_rulers(sheet, side) for side in SIDES}
    truth: dict[str, Any] = {
        "chart": "geometry",
        **sheet.facts(),
        "read": "at each edge the first number that can be seen whole, at left and right together with its "
        "arrow; it counts from the edge of the area. To within a step: less "
        "one step for each step of the wedge that still shows before that number",
        "grid": _draw_grid(sheet),
        "border": _draw_border(sheet),
        "circles": _draw_circles(sheet, rulers),
        "safe_areas": [_draw_safe_area(sheet, *area) for area in SAFE_AREAS],
        "cross": _draw_cross(sheet),
        "rulers": {side: draw_rulers(sheet, pair) for side, pair in rulers.items()},
    }
    truth["marks"] = draw_marks(sheet, truth["circles"], ruler_depth(sheet, rulers["left"][0]))
    _draw_words(sheet)
    title = (
        "Geometry: at each edge of the tube read the first number you can see whole "
        f"({'frame lines' if sheet.mode.interlaced else 'lines'} at top and bottom, samples at left and "
        "right, where its arrow must show too); check that circles are round and squares square"
    )
    return Chart("geometry", sheet.mode.name, "", title, sheet.frame, truth)


def _centre(sheet: Sheet) -> tuple[float, float]:
    area = sheet.area
    return (area.top + area.bottom) / 2, (area.left + area.right) / 2


def _bar(centre: float, thickness: int) -> tuple[int, int]:
    """Return the whole lines or samples of a bar about `centre`; half a one above it if it must be."""
    first = floor(centre - thickness / 2)
    return first, first + thickness


def _draw_grid(sheet: Sheet) -> dict[str, Any]:
    """Draw a grid of squares, true on the screen, out from the centre."""
    lines, samples = _square(sheet)
    y, x = _centre(sheet)
    rows = _rungs(y, lines, sheet.area.top, sheet.area.bottom)
    columns = _rungs(x, samples, sheet.area.left, sheet.area.right)
    thick, broad = sheet.dot_lines, max(1, round(sheet.dot_lines / float(sheet.sample_aspect)))
    for row in rows:
        first, last = _bar(row, thick)
        sheet.fill(Box(first, last, sheet.area.left, sheet.area.right), GRID)
    for column in columns:
        first, last = _bar(column, broad)
        sheet.fill(Box(sheet.area.top, sheet.area.bottom, first, last), GRID)
    return {
        "lines_apart": lines,
        "samples_apart": samples,
        "line_thickness": thick,
        "sample_thickness": broad,
        "at_lines": [_bar(row, thick)[0] for row in rows],
        "at_samples": [_bar(column, broad)[0] for column in columns],
    }


def _square(sheet: Sheet) -> tuple[int, int]:
    """Return the lines and samples of a square about 1/20 of the picture high, both whole."""
    high, wide = sheet.sample_aspect.numerator, sheet.sample_aspect.denominator
    times = max(1, round(sheet.lines / 20 / high))
    return high * times, wide * times


def _rungs(centre: float, apart: int, start: float, stop: float) -> list[float]:
    count = int((stop - start) / 2 / apart - 1e-9)
    return [centre + apart * k for k in range(-count, count + 1)]


def _draw_border(sheet: Sheet) -> dict[str, float]:
    """Outline the very edge of the area, one dot thick."""
    for side, along in (
        ("top", (sheet.area.left, sheet.area.right)),
        ("bottom", (sheet.area.left, sheet.area.right)),
        ("left", (sheet.area.top, sheet.area.bottom)),
        ("right", (sheet.area.top, sheet.area.bottom)),
    ):
        thick = sheet.dot_lines if side in ("top", "bottom") else sheet.dot_samples
        sheet.fill(into(sheet, side, along, (0, thick)), INK)
    return {"lines": sheet.dot_lines, "samples": sheet.dot_samples}


def _draw_circles(sheet: Sheet, rulers: dict[str, list[Ruler]]) -> list[dict[str, Any]]:
    """Draw a large circle in the middle and one in each corner, within the 93 % frame."""
    aspect, area = float(sheet.sample_aspect), sheet.area
    (y, x), dot = _centre(sheet), sheet.dot_lines
    deep, wide = ruler_depth(sheet, rulers["top"][0]), ruler_depth(sheet, rulers["left"][0])
    large = min(sheet.lines / 2 - deep, (sheet.samples / 2 - wide) * aspect) - 3 * dot
    rim, brim = 0.035 * sheet.lines + dot, 0.035 * sheet.samples + dot / aspect
    high = rulers["left"][0].start - 2 * dot - area.top - rim
    broad = (rulers["top"][0].start - 2 * sheet.dot_samples - area.left - brim) * aspect
    small = min(high, broad) / 2 - dot
    places = [("centre", y, x, large)]
    for down, up in (("top", area.top + rim + small), ("bottom", area.bottom - rim - small)):
        for over, left in (
            ("left", area.left + brim + small / aspect),
            ("right", area.right - brim - small / aspect),
        ):
            places.append((f"{down}-{over}", up, left, small))
    for _, up, left, radius in places:
        sheet.circle(up, left, radius, 1.5 * dot, INK)
    return [
        {
            "name": name,
            "line": tidy(up),
            "sample": tidy(left),
            "radius_lines": tidy(radius),
            "radius_samples": tidy(radius / aspect),
            "thickness_lines": 1.5 * dot,
        }
        for name, up, left, radius in places
    ]


def _draw_safe_area(
    sheet: Sheet,
    percent: int,
    use: str,
    source: str,
    tone: tuple[float, float, float],
    dash: tuple[int, int],
) -> dict[str, Any]:
    """Draw the outline of `percent` of both dimensions, centred on its true edge."""
    y, x = _centre(sheet)
    high, wide = sheet.lines * percent / 100, sheet.samples * percent / 100
    box = Box(y - high / 2, y + high / 2, x - wide / 2, x + wide / 2)
    thick, broad = sheet.dot_lines, sheet.dot_samples
    for start, stop in _dashes(box.left, box.right, dash, broad):
        for edge in (box.top, box.bottom):
            sheet.fill(Box(edge - thick / 2, edge + thick / 2, start, stop), tone)
    for start, stop in _dashes(box.top, box.bottom, dash, thick):
        for edge in (box.left, box.right):
            sheet.fill(Box(start, stop, edge - broad / 2, edge + broad / 2), tone)
    size = {"lines": tidy(high), "samples": tidy(wide)}
    return {"percent": percent, "use": use, "source": source, **size, **box.to_dict()}


def _dashes(start: float, stop: float, dash: tuple[int, int], dot: int) -> list[tuple[float, float]]:
    """Return the drawn pieces of start..stop, `dash` dots drawn and left out in turn."""
    drawn, left_out = dash[0] * dot, dash[1] * dot
    if not left_out:
        return [(start - dot / 2, stop + dot / 2)]
    count = int((stop - start) // (drawn + left_out)) + 1
    pieces = [(start + k * (drawn + left_out), start + k * (drawn + left_out) + drawn) for k in range(count)]
    return [(a, min(b, stop)) for a, b in pieces]


def _draw_cross(sheet: Sheet) -> dict[str, Any]:
    """Mark the centre."""
    y, x = _centre(sheet)
    arm, reach = 9 * sheet.dot_lines, 9 * sheet.dot_lines / float(sheet.sample_aspect)
    rows, columns = _bar(y, sheet.dot_lines), _bar(x, sheet.dot_samples)
    sheet.fill(Box(*rows, round(x - reach), round(x + reach)), INK)
    sheet.fill(Box(round(y - arm), round(y + arm), *columns), INK)
    return {"line": tidy(y), "sample": tidy(x), "lines": list(rows), "samples": list(columns)}


def _draw_words(sheet: Sheet) -> None:
    """Say in the middle what to read, and which frame is which."""
    y, x = _centre(sheet)
    dot, row = sheet.dot_lines, 10 * sheet.dot_lines
    above = (
        f"GEOMETRY  {sheet.mode.name}  {sheet.aspect}",
        "READ AT EACH EDGE",
        "THE FIRST WHOLE NUMBER,",
        "AT THE SIDES WITH ARROW",
    )
    for k, words in enumerate(above):
        _plated(sheet, words, y - 52 * dot + k * row, x, INK if k == 0 else 0.75)
    lines, samples = _square(sheet)
    _plated(sheet, f"GRID {lines} LINES {samples} SAMPLES", y + 46 * dot, x, 0.75)
    for k, (percent, _, _, tone, dash) in enumerate(SAFE_AREAS):
        top = y + 16 * dot + k * row
        box = _plated(sheet, LEGEND[percent], top, x + 10 * sheet.dot_samples, 0.85)
        end = box.left - 3 * sheet.dot_samples
        begin = end - 18 * sheet.dot_samples
        sheet.fill(Box(top - dot, top + 8 * dot, begin - sheet.dot_samples, box.left), PLATE)
        for start, stop in _dashes(begin, end, dash, sheet.dot_samples):
            sheet.fill(Box(top + 3 * dot, top + 4 * dot, start, min(stop, end)), tone)


def _plated(sheet: Sheet, words: str, top: float, x: float, tone: float) -> Box:
    """Write words centred on x on a dark plate; return the box of the text."""
    wide, dot = sheet.text_samples(words), sheet.dot_samples
    left = round(x - wide / 2)
    sheet.fill(
        Box(top - sheet.dot_lines, top + 8 * sheet.dot_lines, left - 2 * dot, left + wide + 2 * dot), PLATE
    )
    return sheet.text(words, top, left, tone)
