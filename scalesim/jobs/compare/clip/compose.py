"""The pictures of a comparison clip: panels and words on one ground, and the moving line of a wipe."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from scalesim.draw.captions import Caption, captioned
from scalesim.draw.lettering import INK, PAPER, QUIET
from scalesim.jobs.compare.clip.layout import Box, Layout, Places
from scalesim.jobs.compare.clip.panel import Dots
from scalesim.jobs.compare.clip.part import Part

SWEEP_S = 4
"""Seconds in which the line of a wipe crosses the picture, of the clip as it is written."""


def in_step(streams: Sequence[Iterator[Dots]], rate: Fraction) -> Iterator[list[NDArray[np.uint8]]]:
    """Yield what all panels show, picture by picture of a rate, until the first of them ends.

    It begins when all have a picture. A panel of fewer pictures a second holds each until its next is due.
    """
    now = [next(stream, None) for stream in streams]
    later = [next(stream, None) for stream in streams]
    shown = [dots for dots in now if dots is not None]
    if len(shown) < len(now):
        return
    begin, index = max(dots.time for dots in shown), 0
    while True:
        time = begin + index / rate
        for k, stream in enumerate(streams):
            while (due := later[k]) is not None and due.time <= time:
                shown[k], later[k] = due, next(stream, None)
        yield [dots.codes for dots in shown]
        index += 1
        if any(_ended(dots, due, begin + index / rate) for dots, due in zip(shown, later, strict=True)):
            return


def _ended(dots: Dots, due: Dots | None, time: Fraction) -> bool:
    return due is None and time > dots.time


def composed(
    pictures: Iterator[list[NDArray[np.uint8]]],
    places: Places,
    part: Part,
    layout: Layout,
    captions: Sequence[str],
    foot: str,
    rate: Fraction,
    times: int = 1,
    sweeps: Fraction = Fraction(0),
) -> Iterator[NDArray[np.uint8]]:
    """Yield the frames of the clip, each so many times; a wipe begins after so many of its sweeps."""
    boxes = boxes_of(places, part)
    ground = grounds(places, boxes, captions, foot, layout)
    index = 0
    for panels in pictures:
        if layout != "wipe":
            frame = ground(0).copy()
            for box, codes in zip(boxes, panels, strict=True):
                frame[box.top : box.bottom, box.left : box.right] = codes
        for _ in range(times):
            if layout == "wipe":
                frame = _wiped(ground, boxes[0], panels, sweeps + index / (rate * SWEEP_S), places)
            yield frame
            index += 1


def boxes_of(places: Places, part: Part) -> list[Box]:
    """Return where the pictures stand, in the middle of their rooms."""
    return [room.within((part.box.height, part.box.width)) for room in places.rooms]


def _wiped(
    ground: Callable[[int], NDArray[np.uint8]],
    box: Box,
    panels: Sequence[NDArray[np.uint8]],
    sweeps: Fraction,
    places: Places,
) -> NDArray[np.uint8]:
    """Return a frame of which the part left of the line shows the next panel, the rest the one before."""
    number = int(sweeps)
    at = round((sweeps - number) * box.width)
    frame = ground(number % len(panels)).copy()
    inside = frame[box.top : box.bottom, box.left : box.right]
    inside[:] = panels[number % len(panels)]
    inside[:, :at] = panels[(number + 1) % len(panels)][:, :at]
    half = places.size[0] // 1080
    if at:  # dark beside light, so that it is seen on either
        inside[:, max(at - 2 * half, 0) : at + 2 * half] = PAPER
        inside[:, max(at - half, 0) : at + half] = INK
    return frame


def grounds(
    places: Places, boxes: Sequence[Box], captions: Sequence[str], foot: str, layout: Layout
) -> Callable[[int], NDArray[np.uint8]]:
    """Return what gives the ground with its words; under a wipe it takes the number of the sweep."""

    @lru_cache(maxsize=len(captions))
    def ground(number: int) -> NDArray[np.uint8]:
        count, wiped = len(captions), layout == "wipe"
        said = [captions[(number + 1) % count], captions[number]] if wiped else captions
        words = []
        for k, (room, text) in enumerate(zip(places.captions, said, strict=True)):
            box = room.below(boxes[k], places.letters // 4)
            at_right = wiped and k == 1
            words.append(Caption(text, box.top, box.left, box.width, places.letters, at_right=at_right))
        end = places.foot
        words.append(Caption(foot, end.top, end.left, end.width, places.foot_letters, QUIET))
        return captioned(places.size, words)

    return ground
