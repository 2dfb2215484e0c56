"""A menu of the invented game "Ninth Lock Meridian", drawn sharp at 480 lines.

Drawn: the cargo list of a sailing barge over the estuary it lies in. Nothing is enlarged: rules, icons,
chart lines and most letters are one line or one sample thick, which is the case in which bringing 480
lines down to 240 loses most, or flickers most when they are shown as two fields.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.demo.ninth_lock_menu.backdrop import LINES, SAMPLES, backdrop
from scalesim.demo.ninth_lock_menu.icons import ICON_SIZE, icon_mask
from scalesim.draw.letters import text_width, write
from scalesim.draw.pixelart import Frame, grid, paint, rgb, segment

Colour = tuple[int, int, int]
_BRASS, _DIM, _PALE = rgb("d8b46c"), rgb("5c6f88"), rgb("e8ecdc")
_SOFT, _FAINT, _NIGHT = rgb("9fb2bc"), rgb("22365a"), rgb("070c1e")
_LEFT, _RIGHT = 36, 684
_TABLE_TOP, _ROW, _TABLE_RIGHT = 112, 23, 396
_COLUMNS = (274, 324, _TABLE_RIGHT - 12)  # where the figures end
_SELECTED = 4
_ITEMS = (
    ("rope", "Tarred rope, coil", "4", "18", "12"),
    ("lamp", "Clear lamp oil", "9", "36", "27"),
    ("fish", "Smoked eel", "24", "30", "60"),
    ("chest", "Hill-leaf tea, chest", "2", "44", "310"),
    ("clock", "Pilot's spare clock", "1", "6", "145"),
    ("bell", "Bell of the Ada Finch", "1", "52", "?"),
    ("letter", "Sealed letter, Lock 4", "3", "0", "-"),
    ("sack", "Grey salt, sack", "12", "240", "72"),
    ("plank", "Oak plank, nine foot", "16", "512", "208"),
    ("jar", "Marsh honey", "7", "14", "49"),
    ("key", "Windlass key", "2", "8", "5"),
    ("coal", "Gritmoor coal", "30", "840", "96"),
)


def draw() -> Frame:
    """Return the frame, uint8 (480, 720, 3)."""
    frame = backdrop()
    _heading(frame)
    _panel(frame, _TABLE_TOP - 17, _LEFT, _TABLE_TOP + _ROW * len(_ITEMS) + 22, _TABLE_RIGHT)
    _chart_lines(frame)
    _table(frame)
    _detail(frame)
    _footing(frame)
    return frame


def _centred(frame: Frame, text: str, line: int, sample: int, colour: Colour) -> None:
    """Write text with its middle at `sample`."""
    write(frame, text, line, sample - text_width(text) // 2, colour)


def _flush_right(frame: Frame, text: str, line: int, sample: int, colour: Colour) -> None:
    """Write text that ends before `sample`."""
    write(frame, text, line, sample - text_width(text), colour)


def _panel(frame: Frame, top: int, left: int, bottom: int, right: int) -> None:
    """Dim the picture under a panel and rule its edge, with small notched corners."""
    under = frame[top:bottom, left:right].astype(np.uint16)
    frame[top:bottom, left:right] = ((under + 4 * np.array(rgb("0a1430"), dtype=np.uint16)) // 5).astype(
        np.uint8
    )
    for line in (top, bottom - 1):
        frame[line, left + 4 : right - 4] = _DIM
    for sample in (left, right - 1):
        frame[top + 4 : bottom - 4, sample] = _DIM
    for line, dy in ((top, 1), (bottom - 1, -1)):
        for sample, dx in ((left, 1), (right - 1, -1)):
            segment(frame, (line + 4 * dy, sample), (line, sample + 4 * dx), _BRASS)
            frame[line + 3 * dy, sample + 3 * dx] = _BRASS


def _heading(frame: Frame) -> None:
    """Set the title, the row of tabs and the rules that hold them."""
    write(frame, "NINTH LOCK", 26, _LEFT, _PALE, scale=3, shadow=_NIGHT)
    for place, letter in enumerate("MERIDIAN"):
        write(frame, letter, 40, 232 + 14 * place, _BRASS, shadow=_NIGHT)
    frame[36, 232:336] = _BRASS
    frame[58, _LEFT:_RIGHT] = _BRASS
    frame[60, _LEFT:_RIGHT] = rgb("6a5a48")
    sample = _LEFT + 6
    for place, tab in enumerate(("Cargo", "Crew", "Charts", "Lock log", "Letters", "Harbour")):
        wide = text_width(tab)
        write(frame, tab, 70, sample, _PALE if place == 0 else _SOFT, shadow=_NIGHT)
        if place == 0:
            frame[81, sample - 4 : sample + wide + 4] = _BRASS
            frame[82, sample - 2 : sample + wide + 2] = _BRASS
        segment(frame, (82, sample + wide + 8), (66, sample + wide + 16), _DIM)
        sample += wide + 26
    _flush_right(frame, "Flood tide   Lamp 3/4   11 Sallow, 04:12", 70, _RIGHT, _SOFT)


def _chart_lines(frame: Frame) -> None:
    """Draw a faint compass net below the table: circles and rays one dot thick."""
    y, x = grid(LINES, SAMPLES)
    inside = (y > _TABLE_TOP - 12) & (y < _TABLE_TOP + _ROW * len(_ITEMS) + 20)
    inside &= (x > _LEFT + 2) & (x < _TABLE_RIGHT - 3)
    line, sample = 246.0, 218.0
    net = np.zeros((LINES, SAMPLES, 3), dtype=np.uint8)
    for radius in (40, 78, 80, 128, 176):
        paint(net, np.abs(np.hypot(y - line, x - sample) - radius) < 0.5, (1, 1, 1))
    for down, across in ((0, 1), (1, 0), (1, 1), (1, -1), (1, 2), (2, 1), (1, -2), (2, -1)):
        reach = 176 / np.hypot(down, across)
        start = (line - reach * down, sample - reach * across)
        segment(net, start, (line + reach * down, sample + reach * across), (1, 1, 1))
    paint(frame, inside & (net[..., 0] > 0), rgb("16294a"))


def _table(frame: Frame) -> None:
    """Rule the table and fill it; the selected line carries a lit bar."""
    write(frame, "Item", _TABLE_TOP - 11, _LEFT + 32, _BRASS)
    for column, title in zip(_COLUMNS, ("Qty", "Lb", "Worth"), strict=True):
        _flush_right(frame, title, _TABLE_TOP - 11, column, _BRASS)
    bottom = _TABLE_TOP + _ROW * len(_ITEMS)
    for sample in (240, 286, 336):
        frame[_TABLE_TOP + 4 : bottom, sample] = _FAINT
    for place, item in enumerate(_ITEMS):
        top = _TABLE_TOP + _ROW * place
        frame[top + _ROW, _LEFT + 8 : _TABLE_RIGHT - 8] = _FAINT
        if place == _SELECTED:
            _bar(frame, top + 1, top + _ROW)
        _row(frame, top, item, chosen=place == _SELECTED)
    frame[_TABLE_TOP, _LEFT + 8 : _TABLE_RIGHT - 8] = _BRASS
    frame[bottom, _LEFT + 8 : _TABLE_RIGHT - 8] = _BRASS
    write(frame, "Hold 1800 of 2400 lb", bottom + 8, _LEFT + 10, _SOFT)
    _flush_right(frame, "Purse 1 264", bottom + 8, _TABLE_RIGHT - 8, _BRASS)


def _bar(frame: Frame, top: int, bottom: int) -> None:
    """Light the selected line: a wash that fades to the right inside a brass frame."""
    wide = _TABLE_RIGHT - _LEFT - 12
    fade = np.linspace(1.0, 0.25, wide)[None, :, None]
    wash = np.array(rgb("2f7a80"), dtype=np.float64) * fade + np.array(rgb("0a1430")) * (1 - fade)
    frame[top:bottom, _LEFT + 6 : _TABLE_RIGHT - 6] = wash.astype(np.uint8)
    for line in (top, bottom - 1):
        frame[line, _LEFT + 6 : _TABLE_RIGHT - 6] = _BRASS
    for sample in (_LEFT + 6, _TABLE_RIGHT - 7):
        frame[top:bottom, sample] = _BRASS
    for step in range(5):
        frame[top + 6 + step : bottom - 6 - step, _LEFT - 8 + step] = _BRASS


def _row(frame: Frame, top: int, item: tuple[str, str, str, str, str], *, chosen: bool) -> None:
    """Write one item with its icon."""
    icon, name, *figures = item
    ink = rgb("ffffff") if chosen else _PALE
    _icon(frame, icon_mask(icon), top + 6, _LEFT + 12, _BRASS if not chosen else rgb("ffe9a8"))
    write(frame, name, top + 8, _LEFT + 32, ink)
    for end, text in zip(_COLUMNS, figures, strict=True):
        _flush_right(frame, text, top + 8, end, ink if chosen else _SOFT)


def _icon(frame: Frame, mask: NDArray[np.bool_], line: int, sample: int, colour: Colour) -> None:
    """Draw an icon in strokes one dot thick."""
    frame[line : line + ICON_SIZE, sample : sample + ICON_SIZE][mask] = colour


def _detail(frame: Frame) -> None:
    """Describe the selected item and draw the tide of the day below it."""
    top, left, bottom, right = 310, 416, 410, _RIGHT
    _panel(frame, top, left, bottom, right)
    write(frame, "Pilot's spare clock", top + 9, left + 10, _PALE, scale=1)
    _flush_right(frame, "Rare", top + 9, right - 10, rgb("8fd4c0"))
    frame[top + 20, left + 10 : right - 10] = _BRASS
    for row, text in enumerate(
        ("Keeps the time of a harbour no chart", "still shows. Gains four minutes a day.")
    ):
        write(frame, text, top + 26 + 11 * row, left + 10, _SOFT)
    _tide(frame, top + 52, left + 10, bottom - 12, right - 10)


def _tide(frame: Frame, top: int, left: int, bottom: int, right: int) -> None:
    """Plot the height of water over a day as a curve one dot thick, with ticks and hours."""
    frame[bottom - 8, left:right] = _DIM
    wide = right - left
    hours = np.arange(wide) / wide * 24
    height = 0.5 - 0.42 * np.cos((hours - 4.2) * 2 * np.pi / 12.4 + np.pi) * (1 - hours / 90)
    lines = np.rint(bottom - 11 - height * (bottom - top - 14)).astype(np.intp)
    for step in range(wide):
        fill = np.arange(lines[step] + 2, bottom - 8)
        frame[fill[(fill + step) % 2 == 0], left + step] = rgb("1f4a68")
    for step in range(1, wide):
        segment(
            frame, (int(lines[step - 1]), left + step - 1), (int(lines[step]), left + step), rgb("8fd4c0")
        )
    for hour in range(0, 24, 3):
        sample = left + hour * wide // 24
        frame[bottom - 8 : bottom - 5, sample] = _SOFT
        write(frame, str(hour), bottom - 3, sample + 2, _SOFT)
    now = left + int(4.2 * wide / 24)
    frame[top : bottom - 8 : 2, now] = _BRASS


def _footing(frame: Frame) -> None:
    """Close the page with a rule and the hints for the keys."""
    frame[428, _LEFT:_RIGHT] = _BRASS
    sample = _LEFT
    for key, text in (("I", "Inspect"), ("S", "Stow below"), ("W", "Sort by worth"), ("L", "Leave")):
        frame[438:451, sample : sample + 13] = _NIGHT
        for edge in (438, 450):
            frame[edge, sample + 2 : sample + 11] = _BRASS
        for side in (sample, sample + 12):
            frame[440:449, side] = _BRASS
        frame[[439, 439, 449, 449], [sample + 1, sample + 11, sample + 1, sample + 11]] = _BRASS
        _centred(frame, key, 441, sample + 7, _PALE)
        write(frame, text, 441, sample + 18, _PALE, shadow=_NIGHT)
        sample += text_width(text) + 36
    _flush_right(frame, "Barge Sorrel Anne, off Lock 9", 441, _RIGHT, _SOFT)
