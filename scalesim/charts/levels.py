"""The levels chart: does black stay black, white stay unclipped, and where on the oscilloscope is white?

Everything is drawn in whole 8-bit codes, so that a file of the chart carries exactly what `truth` says.
With *full* range, 0 is black and 255 white, and nothing lies below black. With *limited* range, 16 is
black and 235 white (ITU-R BT.601, BT.709), the file holds those codes as they are, and the codes outside
are there to be looked for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor
from typing import Any

import numpy as np

from scalesim.charts._base import Chart
from scalesim.draw.sheet import Box, Sheet, Tone, blank_sheet, spread
from scalesim.errors import ParameterError, nearest

SCOPE_SECONDS = Fraction(2, 1_000_000)
"""Least width of the flat white patch: enough to settle on an oscilloscope (common practice)."""

NEAR_BLACK = (0, 1, 2, 3, 4, 6, 8, 10, 12)  # percent
NEAR_WHITE = (88, 90, 92, 94, 96, 97, 98, 99, 100)
COLOURS = {"white": (1, 1, 1), "red": (1, 0, 0), "green": (0, 1, 0), "blue": (0, 0, 1)}
MARGIN = 0.07  # of either dimension, on each side, which a tube may hide


@dataclass(frozen=True)
class Coding:
    """The 8-bit codes of a range: of black and white, and those the chart shows round black."""

    name: str
    black: int
    white: int
    fine: tuple[int, ...]
    near_white: tuple[int, ...]
    pluge: tuple[int, int, int]

    def code(self, percent: float) -> int:
        """Return the nearest code, halves up."""
        return floor(self.black + (self.white - self.black) * percent / 100 + 0.5)

    def percent(self, code: int) -> float:
        """Return 100 (code - black) / (white - black)."""
        return 100 * (code - self.black) / (self.white - self.black)


def _full(percents: Sequence[int]) -> tuple[int, ...]:
    return tuple(floor(2.55 * p + 0.5) for p in percents)


CODINGS = {
    # 5 of full range is what 20 of limited range comes to; 12 has no code there, so black stands for it.
    "full": Coding("full", 0, 255, tuple(range(9)), _full(NEAR_WHITE), (0, 0, 5)),
    # Darker, black, lighter: 12, 16 and 20 of 8 bits, ITU-R BT.814-4 table 3.
    "limited": Coding(
        "limited", 16, 235, tuple(range(12, 21)), (213, 219, 224, 228, 231, 235, 239, 245, 254), (12, 16, 20)
    ),
}


def levels_chart(mode: str, *, aspect: str | None = None, value_range: str = "full") -> Chart:
    """Draw the levels chart.

    Parameters:
        mode : a name of `scalesim.core.mode`
        aspect : "16:9", "4:3", or None for the mode's own
        value_range : "full" or "limited": which codes the file holds
    Returns: a Chart. Its truth lists `patches`: group, the 8-bit codes R, G, B, percent between black and
        white, and the edges of the rectangle; and `ramp`, from the first to the last code
    Raises: ParameterError for an unknown mode, aspect or range
    """
    if value_range not in CODINGS:
        raise ParameterError(f"range: {value_range!r} is not known; {nearest(str(value_range), CODINGS)}")
    coding = CODINGS[value_range]
    board = _Board(blank_sheet(mode, aspect, coding.black / 255, around=coding.black / 255), coding)
    board.draw()
    sheet = board.sheet
    below = (
        f"codes {coding.fine[0]} to 15 are below black"
        if coding.black
        else "full-range codes have nothing below black: the darker PLUGE bar is black"
    )
    truth: dict[str, Any] = {
        "chart": "levels",
        **sheet.facts(),
        "range": coding.name,
        "black_code": coding.black,
        "white_code": coding.white,
        "below_black": below,
        "patches": board.patches,
        "ramp": board.ramp,
        "scope": board.scope,
    }
    title = (
        f"Levels, {coding.name} range (black {coding.black}, white {coding.white}): see which steps near "
        f"black and near white can still be told apart; {below}"
    )
    return Chart("levels", sheet.mode.name, "", title, sheet.frame, truth)


class _Board:
    """Rows of patches, laid out from the top down."""

    def __init__(self, sheet: Sheet, coding: Coding) -> None:
        self.sheet, self.coding = sheet, coding
        self.patches: list[dict[str, Any]] = []
        self.ramp: dict[str, Any] = {}
        self.scope: dict[str, Any] = {}
        self.dot = sheet.dot_lines
        inset = ceil(MARGIN * sheet.samples)
        self.left, self.right = int(sheet.area.left) + inset, int(sheet.area.right) - inset
        self.y = round(MARGIN * sheet.lines / self.dot) * self.dot
        # What a smaller dot (288, 576 lines) leaves over goes to the heights of the six patches.
        rows = floor((sheet.lines - 2 * self.y) / self.dot)
        self.patch = max(9, min(20, (rows - 130) // 6)) * self.dot

    def draw(self) -> None:
        """Draw every row, in order."""
        sheet, coding = self.sheet, self.coding
        self._say(f"LEVELS  {sheet.mode.name}  {sheet.aspect}  {coding.name.upper()} RANGE", 0.7)
        self._black_row()
        codes = [coding.code(p) for p in NEAR_BLACK]
        self._steps("near-black", "NEAR BLACK: CODE, PERCENT", codes, self.right)
        self._steps("near-white", "NEAR WHITE: CODE, PERCENT", list(coding.near_white), self.right)
        self._draw_ramp()
        self._colour_rows()

    # --- rows ---

    def _black_row(self) -> None:
        """The one-code steps, and beside them the group to set black by."""
        wide = self.right - self.left
        split = self.left + round(wide * 0.68)
        top = self.y
        self._steps("one-code", "ONE-CODE STEPS AT BLACK", list(self.coding.fine), split)
        bottom, self.y = self.y, top
        self._pluge(split + 8 * self.sheet.dot_samples, top)
        self.y = bottom

    def _steps(self, group: str, caption: str, codes: list[int], right: int) -> None:
        """A row of touching patches, each with its code and percentage below."""
        self._say(caption)
        bottom = self.y + self.patch
        for code, (start, stop) in zip(codes, spread(self.left, right, len(codes)), strict=True):
            self._patch(group, (code, code, code), Box(self.y, bottom, start, stop))
            middle = (start + stop) / 2
            self._centred(str(code), bottom + 2 * self.dot, middle)
            self._centred(_short(self.coding.percent(code)), bottom + 10 * self.dot, middle)
        self.y = bottom + 23 * self.dot

    def _pluge(self, left: int, top: int) -> None:
        """Bars a little darker and a little lighter than black, on black."""
        darker, black, lighter = self.coding.pluge
        self._say_at("SET BLACK", top, left)
        y, bottom = top + 10 * self.dot, top + 10 * self.dot + self.patch
        cells = list(spread(left, self.right, 5))
        for k, code in ((1, darker), (2, black), (3, lighter)):
            if k != 2:
                self._patch("pluge", (code,) * 3, Box(y, bottom, *cells[k]))
            missing = k == 1 and darker == black  # a range with nothing below black
            middle = (cells[k][0] + cells[k][1]) / 2
            self._centred("-" if missing else str(code), bottom + 2 * self.dot, middle)
            words = "-" if missing else _short(self.coding.percent(code))
            self._centred(words, bottom + 10 * self.dot, middle)

    def _draw_ramp(self) -> None:
        """Every code from black to white along a line, with marks at quarters."""
        black, white = self.coding.black, self.coding.white
        bottom, wide = self.y + self.patch, self.right - self.left
        codes = np.floor(black + (white - black) * np.arange(wide) / (wide - 1) + 0.5)
        self.sheet.frame[self.y : bottom, self.left : self.right] = (codes / 255)[None, :, None]
        self.ramp = {
            "from_code": black,
            "to_code": white,
            "code": "floor(from_code + (to_code - from_code) x / (width - 1) + 1/2), x samples from left",
            **Box(self.y, bottom, self.left, self.right).to_dict(),
        }
        for percent in (0, 25, 50, 75, 100):
            words = str(self.coding.code(percent)) + (" RAMP" if percent == 0 else "")
            x = self.left + (wide - self.sheet.text_samples(words)) * percent / 100
            self.sheet.text(words, bottom + 2 * self.dot, x, _GREY)
        self.y = bottom + 12 * self.dot

    def _colour_rows(self) -> None:
        """White and the primaries at 100 and 75 %, the white at 100 % wide enough for an oscilloscope."""
        scope = ceil(SCOPE_SECONDS * self.sheet.mode.clock_hz)
        indent = self.left + self.sheet.text_samples("100%") + 3 * self.sheet.dot_samples
        white = indent + max(scope, round(0.36 * (self.right - indent)))
        places = [(indent, white), *spread(white, self.right, 3)]
        for percent in (100, 75):
            code = self.coding.code(percent)
            bottom = self.y + self.patch
            middle = self.y + (self.patch - 7 * self.dot) / 2
            self._say_at(f"{percent}%", middle, self.left)
            for (name, on), (start, stop) in zip(COLOURS.items(), places, strict=True):
                codes = tuple(code if part else self.coding.black for part in on)
                self._patch(f"{name} {percent}", codes, Box(self.y, bottom, start, stop), percent)
            self.y = bottom
        code = self.coding.code(100)
        names = [f"WHITE {code} / {self.coding.code(75)}", "RED", "GREEN", "BLUE"]
        for words, (start, stop) in zip(names, places, strict=True):
            self._centred(words, self.y + 2 * self.dot, (start + stop) / 2)
        self.scope = {
            "patch": "white 100",
            "microseconds": round(float((white - indent) / self.sheet.mode.clock_hz) * 1e6, 3),
            "least_microseconds": float(SCOPE_SECONDS * 1_000_000),
        }

    # --- pieces ---

    def _patch(self, group: str, codes: tuple[int, ...], box: Box, percent: float | None = None) -> None:
        tone: Tone = (codes[0] / 255, codes[1] / 255, codes[2] / 255)
        self.sheet.fill(box, tone)
        share = self.coding.percent(codes[0]) if percent is None else percent
        self.patches.append(
            {"group": group, "codes": list(codes), "percent": round(share, 3), **box.to_dict()}
        )

    def _say(self, words: str, tone: float | None = None) -> None:
        self._say_at(words, self.y, self.left, tone)
        self.y += 10 * self.dot

    def _say_at(self, words: str, y: float, x: float, tone: float | None = None) -> None:
        self.sheet.text(words, y, x, tone or _GREY)

    def _centred(self, words: str, y: float, x: float) -> None:
        self.sheet.text(words, y, x - self.sheet.text_samples(words) / 2, _GREY)


_GREY = 0.5
"""Of the words: bright enough to read, too dark to drown the steps near black."""


def _short(percent: float) -> str:
    """Return a percentage in as few figures as tell it."""
    return f"{percent:.0f}" if abs(percent - round(percent)) < 0.05 else f"{percent:.1f}"
