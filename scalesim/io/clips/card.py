"""The caution that goes before a clip with dangerous flashes: one still card, words on a dark ground."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from math import ceil
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from scalesim.draw.lettering import INK, PAPER, QUIET, font

if TYPE_CHECKING:
    from PIL.ImageDraw import ImageDraw

SECONDS = 6
"""Long enough to read it and look away."""

TITLE = "Caution: flashing pictures"
ADVICE = (
    "The clip that follows flashes. It can trigger seizures in people with photosensitive epilepsy. "
    "Do not watch it if you or your family have had seizures; stop at once if you feel unwell. "
    "Warn everybody you show it to. Broadcasters and web sites have rules of their own: follow them."
)


def card_pictures(
    sentences: Sequence[str], size: tuple[int, int], rate: Fraction, seconds: float = SECONDS
) -> Iterator[NDArray]:
    """Yield the card as often as it takes to fill `seconds` at `rate` pictures a second.

    Parameters:  sentences : what was measured; size : (lines, samples)
    Yields:      (lines, samples, 3) uint8
    """
    picture = caution_card(sentences, size)
    for _ in range(ceil(seconds * rate)):
        yield picture


def caution_card(sentences: Sequence[str], size: tuple[int, int]) -> NDArray:
    """Return the card, (lines, samples, 3) uint8: the caution, then what was measured.

    The letters take the largest size at which all of it stays inside the middle 90 % of the picture.
    """
    from PIL import Image, ImageDraw

    lines, samples = size
    sheet = Image.new("RGB", (samples, lines), PAPER)
    pen = ImageDraw.Draw(sheet)
    room = (round(0.9 * samples), round(0.9 * lines))
    blocks = [(TITLE, 1.6, INK), (ADVICE, 1.0, INK), (" ".join(sentences), 0.8, QUIET)]
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
