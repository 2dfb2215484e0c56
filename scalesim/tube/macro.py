"""A close look at the glass: a few dozen scan lines, many dots each, with the lines' numbers beside them.

On request every field has a colour of its own, so that it can be seen which field drew what and where
it landed. The two colours are orange and sky blue of a palette made for colour-blind readers (M. Okabe
and K. Ito, "Color Universal Design", 2008; the codes are given from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scalesim.core.encoding import code_to_light, luma
from scalesim.core.raster import Raster
from scalesim.draw.letters import CAPITAL_LINES, text_width, write
from scalesim.errors import ParameterError
from scalesim.tube.beam import line_places
from scalesim.tube.cut import Cut, shown_window
from scalesim.tube.screen import Screen

FIELD_COLOURS = np.array([[230, 159, 0], [86, 180, 233]], dtype=np.float32) / 255
_PAPER = np.float32(0.12)
_INK = np.full(3, 0.8, dtype=np.float32)
_TICK = 6


def macro(
    screen: Screen,
    pictures: Sequence[NDArray],
    *,
    first_line: int,
    lines: int = 24,
    dots: int = 24,
    first_sample: float | None = None,
    width: int = 960,
    coloured: bool = False,
    exposure: float | Literal["unclipped"] | None = None,
) -> NDArray:
    """Return a close look at some scan lines with a ruler of field-line numbers on the left.

    Parameters:
        screen : the screen the picture is seen on; its shape and sharpness hold here too
        pictures : of one cycle, in the order of time, as `Screen.period` takes them
        first_line : number of the field line at the top, from 0; lines : field-line pitches shown
        dots : dot rows of a pitch; width : dots across, without the ruler
        first_sample : sample at the left edge; None puts the picture's middle in the middle
        coloured : each field's own light in a colour of its own, with a legend above; else the mean light
            of the cycle
        exposure : gain to white; None takes the screen's, or "unclipped" when coloured, because what
            clips is white and no longer says which field it is
    Returns: (rows, samples, 3) float32 code values 0..1 in the screen's encoding
    Raises: ParameterError for lines the raster does not have, dots out of range, or colours asked for
        other than two fields; ShapeError when a picture is not of the raster
    """
    _check(screen.raster, pictures, first_line, lines, dots, width, coloured)
    gain = exposure or ("unclipped" if coloured else screen.exposure)
    close = close_screen(
        screen,
        first_line=first_line,
        lines=lines,
        dots=dots,
        first_sample=first_sample,
        width=width,
        exposure=gain,
    )
    phases = range(screen.raster.period)
    colours = FIELD_COLOURS if coloured else np.broadcast_to(_INK, (len(phases), 3))
    light = _field_colours(close, pictures) if coloured else close.period(pictures)
    places = [(line_places(screen.raster, phase) - first_line) * dots for phase in phases]
    picture = np.hstack([_ruler(places, lines * dots, dots, colours), close.code(light)])
    return np.vstack([_legend(picture.shape[1], dots, screen.raster), picture]) if coloured else picture


def close_screen(
    screen: Screen,
    *,
    first_line: int,
    lines: int = 24,
    dots: int = 24,
    first_sample: float | None = None,
    width: int = 960,
    exposure: float | Literal["unclipped"] = 1.0,
) -> Screen:
    """Return the screen of a close look at another, keys as those of `macro`."""
    raster, window = screen.raster, shown_window(screen.raster, screen.display)
    glass_height = (window.bottom - window.top) * raster.lines * dots
    per_dot = (window.right - window.left) * raster.samples / (glass_height * float(screen.tube))
    middle = (window.left + window.right) / 2 * raster.samples
    left = middle - per_dot * width / 2 if first_sample is None else float(first_sample)
    return Screen(
        raster,
        screen.display,
        tube=screen.tube,
        encoding=screen.encoding,
        exposure=exposure,
        cut=Cut((first_line, first_line + lines), (left, left + per_dot * width), lines * dots, width),
    )


def _field_colours(close: Screen, pictures: Sequence[NDArray]) -> NDArray:
    """Return each field's luminance in its colour, both added, in light."""
    total = np.zeros((close.height, close.width, 3), dtype=np.float32)
    for phase, colour in enumerate(code_to_light(FIELD_COLOURS)):
        total += luma(close.field(pictures[phase], phase))[..., None] * colour
    return total


def _ruler(places: list[NDArray], height: int, dots: int, colours: NDArray) -> NDArray:
    """Return the ruler: a column of ticks and numbers for each field, at the middles of its lines."""
    zoom = _zoom(dots)
    column = text_width("000", scale=zoom) + _TICK + 2 * zoom + 4
    ruler = np.full((height, column * len(places), 3), _PAPER, dtype=np.float32)
    every = next(step for step in (1, 2, 5, 10, 20, 50) if step * dots >= CAPITAL_LINES * zoom + 3)
    for k, middles in enumerate(places):
        right = column * (k + 1)
        for line, middle in enumerate(middles):
            if not 0 <= middle < height:
                continue
            numbered = line % every == 0
            ruler[int(middle), right - (_TICK if numbered else _TICK // 2) : right] = colours[k]
            if numbered:
                tall, wide = CAPITAL_LINES * zoom, text_width(str(line), scale=zoom)
                write(
                    ruler,
                    str(line),
                    round(middle - tall / 2),
                    right - _TICK - 4 - wide,
                    colours[k],
                    scale=zoom,
                )
    return ruler


def _legend(width: int, dots: int, raster: Raster) -> NDArray:
    """Return the strip above the picture that says which colour is which field."""
    zoom = _zoom(dots)
    names = ["TOP FIELD" if field.parity == 0 else "BOTTOM FIELD" for field in raster.fields]
    tall, wide = CAPITAL_LINES * zoom, text_width(max(names, key=len), scale=zoom)
    strip = np.full((tall + 8 * zoom, width, 3), _PAPER, dtype=np.float32)
    for k, (name, colour) in enumerate(zip(names, FIELD_COLOURS, strict=True)):
        left = 4 * zoom + k * (wide + 24 * zoom)
        strip[4 * zoom : 4 * zoom + tall, left : left + tall] = colour
        write(strip, name, 4 * zoom, left + tall + 4 * zoom, colour, scale=zoom)
    return strip


def _zoom(dots: int) -> int:
    return 2 if dots >= 17 else 1


def _check(
    raster: Raster,
    pictures: Sequence[NDArray],
    first_line: int,
    lines: int,
    dots: int,
    width: int,
    coloured: bool,
) -> None:
    for key, value, most in (
        ("first_line", first_line, raster.lines - 1),
        ("lines", lines, raster.lines),
        ("dots", dots, 128),
        ("width", width, 4096),
    ):
        least = 0 if key == "first_line" else 1
        if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
            raise ParameterError(
                f"macro: {key} is {value!r}; it must be a whole number of {least} to {most} "
                f"(the raster has {raster.lines} lines a picture)"
            )
    if coloured and (raster.period != 2 or len(pictures) != 2):
        raise ParameterError(
            f"macro: coloured is on with {len(pictures)} pictures of {raster.describe()}; it takes the two "
            "fields of a pair (leave it off to see the mean light)"
        )
