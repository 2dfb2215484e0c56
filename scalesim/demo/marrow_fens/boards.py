"""The boards of `marrow_fens`: counters, the menu of icons and the small map."""

from __future__ import annotations

import numpy as np

from scalesim.demo.marrow_fens.map import HOUSES, kind
from scalesim.draw.pen import Pen
from scalesim.draw.shapes import Plane, colour


def boards(target: Plane) -> None:
    pen = Pen(target, ink="0d141f", width=1)
    pen.box(-2, -2, 722, 27.5, "1c2a3a", ink="d9a54e")
    pen.box(-2, 463.5, 722, 580, "1c2a3a", ink="d9a54e")
    pen.line("0,466.5 720,466.5", "4a3a34", width=1, smooth=False)
    for x, tone, dark in (
        (14, "7fb0c8", "46708c"),
        (116, "8a6450", "5a3c34"),
        (218, "d9b458", "a3783a"),
        (320, "e0a878", "a86a50"),
    ):
        pen.oval(x + 5, 13, 8, 6, tone, shade=dark, shift=(-2, -3))
        pen.dot(x + 2, 12, 1.2, "101820", width=0)
    for row in range(2):
        for col in range(6):
            _icon(pen.to(240 + 44 * col, 474 + 48 * row), 6 * row + col)
    pen.box(13.5, 475.5, 225.5, 565.5, "24374a", ink="4f6a80")
    _small_map(target)


def _icon(pen: Pen, number: int) -> None:
    chosen = number == 1
    pen.box(
        0.5, 0.5, 39.5, 43.5, "3d5870" if chosen else "263a4e", ink="ffe28a" if chosen else "4f6a80", radius=2
    )
    middle = pen.to(20, 24, scale=0.62)
    lit = ("d9a54e", "cf6048", "6d86a8", "8aa257")[number % 4]
    if number < 4:
        middle.poly("-22,-4 0,-26 22,-4", lit, shade="5a3c30", shift=(-14, -4), width=1.2)
        middle.box(-16, -4, 16, 18, "ead9b4", shade="b59a86", shift=(-14, 0), width=1.2)
        middle.box(-5, 4, 5, 18, "5a3c30", width=1)
    elif number == 4:
        middle.poly("-10,18 -6,-14 6,-14 10,18", "e8dcc0", width=1.2)
        for turn in (0.5, 2.07, 3.64, 5.21):
            middle.line(
                [(0, -12), (22 * float(np.cos(turn)), -12 + 22 * float(np.sin(turn)))],
                "f4ead2",
                width=2.5,
                smooth=False,
            )
    elif number == 5:
        middle.blob("-24,4 -12,14 12,14 24,4 0,8", "7a4f38", width=1.2)
        middle.line("0,8 0,-24", "c98f5a", width=2)
        middle.poly("3,-22 20,2 3,2", "f4ead2", width=1.2)
    elif number in (6, 7):
        for k in range(5):
            middle.line(
                [(-22, -14 + 8 * k), (22, -14 + 8 * k)],
                "c39a66" if number == 6 else "e05048",
                width=2,
                smooth=False,
            )
        middle.line("-12,-18 -12,22", "5a3c30", width=1)
        middle.line("12,-18 12,22", "5a3c30", width=1)
    elif number in (8, 9):
        for k in range(-2, 3):
            middle.line(
                [(k * 7, 18), (k * 7 + 2, -16 + 4 * abs(k))], "d8b458" if number == 8 else "7f9f45", width=2
            )
    elif number == 10:
        middle.dot(0, 0, 15, "fff0b0", shade="e0a850", width=1.2)
        middle.line("0,0 0,-10", width=1.4)
        middle.line("0,0 7,4", width=1.4)
    else:
        middle.line("-14,-14 14,14", "e05048", width=4, smooth=False)
        middle.line("14,-14 -14,14", "e05048", width=4, smooth=False)


def _small_map(target: Plane) -> None:
    """Draw the parish in small, two samples a tile, in a frame with the visible part marked."""
    top, left = 474, 520
    target[top : top + 92, left : left + 188] = colour("14283a")
    tones = {
        "water": "2c6478",
        "grass": "7a9a4c",
        "reeds": "a89a50",
        "path": "e0c08a",
        "bridge": "e0c08a",
        "peat": "5f443a",
        "berries": "b05048",
    }
    for i in range(-22, 23):
        for j in range(-22, 23):
            y, x = top + 46 + (i + j), left + 94 + 2 * (i - j)
            if top + 1 <= y < top + 90 and left + 1 <= x < left + 185:
                tone = "fff0d0" if (i, j) in HOUSES else tones[kind(i, j)]
                target[y : y + 2, x : x + 3] = colour(tone)
    for line in (top, top + 91):
        target[line, left : left + 188] = colour("d9a54e")
    for sample in (left, left + 187):
        target[top : top + 92, sample] = colour("d9a54e")
    for line in (top + 26, top + 64):
        target[line, left + 62 : left + 127] = 1
    for sample in (left + 62, left + 126):
        target[top + 26 : top + 65, sample] = 1
