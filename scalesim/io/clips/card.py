"""The caution that goes before a clip with dangerous flashes: one still card, words on a dark ground."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from scalesim.draw.lettering import INK, PAPER, QUIET, font

if TYPE_CHECKING:
    from PIL.ImageDraw import ImageDraw

LEAST_S, MOST_S = 3.0, 6.0
"""Seconds of the card: at least as long as its short words take to read, at most as long as all of them.

At four words a second (common practice for captions, no published source) the title and `SHORT` take 3 s.
"""

TITLE = "Caution: flashing pictures"
ADVICE = (
    "The clip that follows flashes. It can trigger seizures in people with photosensitive epilepsy. "
    "Do not watch it if you or your family have had seizures; stop at once if you feel unwell. "
    "Warn everybody you show it to. Broadcasters and web sites have rules of their own: follow them."
)
SHORT = "It can trigger seizures. Look away now if flashes harm you."


def card_seconds(clip_s: float) -> float:
    """Return how long the card stands before a clip of so many seconds: as long as the clip, 3 to 6 s."""
    return min(MOST_S, max(LEAST_S, clip_s))


def caution_card(sentences: Sequence[str], size: tuple[int, int], *, short: bool = False) -> NDArray:
    """Return the card, (lines, samples, 3) uint8: the caution, then what was measured.

    A `short` card is read in 3 s: the title and one line, no figures.

    The letters take the largest size at which all of it stays inside the middle 90 % of the picture.
    """
    from PIL import Image, ImageDraw

    lines, samples = size
    sheet = Image.new("RGB", (samples, lines), PAPER)
    pen = ImageDraw.Draw(sheet)
    room = (round(0.9 * samples), round(0.9 * lines))
    blocks = [(TITLE, 1.6, INK), (ADVICE, 1.0, INK), (" ".join(sentences), 0.8, QUIET)]
    if short:
        blocks = [(TITLE, 1.6, INK), (SHORT, 1.2, INK)]
    letters, laid = next(
        (em, laid)
        for em in range(max(6, lines // 16), 4, -1)
        if (laid := _laid(pen, blocks, em, room[0]))[-1][0] <= room[1] or em == 5
    )
    for top, text, times, colour in laid[:-1]:
        place = (round(0.05 * samples), round(0.05 * lines) + top)
        pen.text(place, text, colour, font(max(5, round(letters * times))))
    return np.asarray(sheet)


def _laid(
    pen: ImageDraw, blocks: list[tuple[str, float, tuple[int, int, int]]], em: int, width: int
) -> list[tuple[int, str, float, tuple[int, int, int]]]:
    """Return (top, text, size, colour) of every line of text, and last the end of it all."""
    laid, top = [], 0
    for text, times, colour in blocks:
        for line in _wrapped(pen, text, max(5, round(em * times)), width):
            laid.append((top, line, times, colour))
            top += ceil(1.35 * em * times)
        top += em // 2
    return [*laid, (top, "", 1.0, PAPER)]


def _wrapped(pen: ImageDraw, text: str, em: int, width: int) -> list[str]:
    letters, lines = font(em), [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and pen.textlength(longer, letters) > width:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines
