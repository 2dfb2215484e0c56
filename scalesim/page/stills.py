"""Pictures of a figure with its words in them: stills for a video edit, and the picture for a link.

Of a still there are two sizes, of which the larger is the smaller with every dot doubled but its letters and
marks drawn afresh. All content lies inside the middle 90 % of height and width: the safe title area of
SMPTE ST 2046-1:2009.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from scalesim.draw.lettering import INK, PAPER, QUIET, font, write_line, write_lines
from scalesim.draw.marks import CASING, FAULT, draw_stroke, strokes_of
from scalesim.draw.views import cut
from scalesim.figure import Figure, Window
from scalesim.page.arranged import Arranged, Ground, Place, arranged, shows_all
from scalesim.texts import capital

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageDraw import ImageDraw

SIZES = ((1920, 1080), (3840, 2160))
CARD = (1200, 630)
"""Width and height of the picture for a link, the usual ones."""
SAFE = 0.9

_STILL = Ground(*SIZES[0], (96, 54), 36, 24, 24, caption=True)
_CARD = Ground(*CARD, (36, 30), 42, 24, 18, caption=False)


def still_picture(figure: Figure, size: tuple[int, int]) -> NDArray:
    """Return a figure as a still, (height, width, 3) uint8.

    Parameters:  size : (width, height), one of `SIZES`
    """
    return _drawn(figure, _STILL, size[0] // SIZES[0][0])


def card_picture(figure: Figure) -> NDArray:
    """Return a figure as the picture that a link to its page shows, (630, 1200, 3) uint8."""
    return _drawn(figure, _CARD, 1)


def _drawn(figure: Figure, sheet: Ground, times: int) -> NDArray:
    from PIL import Image, ImageDraw

    drawn = Image.new("RGB", (sheet.width * times, sheet.height * times), PAPER)
    pen = ImageDraw.Draw(drawn)
    left, top = sheet.margin
    wide = sheet.width - 2 * left
    write_lines(
        pen,
        (left * times, top * times),
        figure.title,
        sheet.title * times,
        INK,
        (wide * times, 2),
    )
    laid = arranged(figure, sheet)
    for number in range(len(figure.views)):
        _view(drawn, pen, figure, number, laid, sheet, times)
    if sheet.caption:
        _foot(drawn, pen, figure, laid.window, sheet, times)
    return np.asarray(drawn)


def _view(
    drawn: Image,
    pen: ImageDraw,
    figure: Figure,
    number: int,
    laid: Arranged,
    sheet: Ground,
    times: int,
) -> None:
    """Draw one view in its cell, its marks, and what is said of it below."""
    from PIL import Image

    view, cell, window, zoom = figure.views[number], laid.cells[number], laid.window, laid.zoom
    dots = cut(view, window, zoom).repeat(times, axis=0).repeat(times, axis=1)
    left, top = cell[0], cell[1]
    drawn.paste(Image.fromarray(dots), (left * times, top * times))
    for stroke in strokes_of(view, window, zoom):
        draw_stroke(pen, stroke, (left, top), times)
    below = top + dots.shape[0] // times + round(0.3 * sheet.label)
    letter = "abcd"[number]
    pen.text((left * times, below * times), letter, FAULT, font(sheet.label * times))
    at = left + round(1.1 * sheet.label)
    write_line(
        pen, (at * times, below * times), view.label, sheet.label * times, INK, (cell[2] - at + left) * times
    )
    if sheet.caption:
        small = round(0.75 * sheet.label)
        below += round(1.4 * sheet.label)
        drawn_as = zoom.words(view)
        room = cell[2] * times, laid.lines - bool(drawn_as)
        write_lines(pen, (left * times, below * times), view.said, small * times, INK, room)
        below += round(1.4 * small)
        write_line(pen, (left * times, below * times), drawn_as, small * times, QUIET, cell[2] * times)


def _foot(drawn: Image, pen: ImageDraw, figure: Figure, window: Window, sheet: Ground, times: int) -> None:
    """Draw the locator, and beside it the caption, how it was made and, as there is room, what marks mean."""
    left, top = sheet.margin
    begin = sheet.height - top - sheet.foot + 12
    room = sheet.width - 2 * left
    at = left
    located = locator(figure, window, (sheet.foot - 12) * times)
    if located is not None:
        from PIL import Image

        small, frame = located
        drawn.paste(Image.fromarray(small), (left * times, begin * times))
        x, y, width, height = frame
        box = (left * times + x, begin * times + y, left * times + x + width, begin * times + y + height)
        pen.rectangle(box, outline=CASING, width=3 * times)
        pen.rectangle(
            tuple(each + times * d for each, d in zip(box, (1, 1, -1, -1), strict=True)),
            outline=FAULT,
            width=times,
        )
        at += small.shape[1] // times + 20
    part = "" if shows_all(figure, window) or figure.told is None else figure.told(window)
    caption = " ".join(filter(None, (figure.caption, part)))
    lines = write_lines(
        pen, (at * times, begin * times), caption, 19 * times, INK, ((room - at + left) * times, 3)
    )
    last = begin + round(1.3 * 19 * lines) + 6
    said = " ".join(filter(None, (figure.foot, figure.mark_words and f"{capital(figure.mark_words)}.")))
    fit = max(1, int((begin + sheet.foot - 12 - last) / (1.3 * 17)))
    write_lines(pen, (at * times, last * times), said, 17 * times, QUIET, ((room - at + left) * times, fit))


def locator(figure: Figure, window: Window, tall: int) -> tuple[NDArray, Place] | None:
    """Return the whole ground `tall` dots high, and the window's frame on it; None without a ground."""
    if figure.ground is None:
        return None
    ground = figure.ground() if callable(figure.ground) else figure.ground
    lines, samples = ground.shape[:2]
    small = _shrunk(ground, tall, max(1, round(tall * samples * figure.shape / lines)))
    top, left, height, width = window
    down, across = small.shape[0] / lines, small.shape[1] / samples
    return small, (
        round(left * across),
        round(top * down),
        max(4, round(width * across)),
        max(4, round(height * down)),
    )


def _shrunk(picture: NDArray, tall: int, wide: int) -> NDArray:
    """Return a picture at a smaller size, by areas."""
    from PIL import Image

    found: NDArray = np.asarray(Image.fromarray(picture).resize((wide, tall), Image.Resampling.BOX))
    return found
