"""A frame of the invented game "Pellow and the Moss Tower": low-resolution art shown three times enlarged.

Drawn: an evening leap from the mossy bank to the tower, over the pool below its waterfall. Native size
320 x 240, shown 960 x 720 between plain bars in 1280 x 720. It tests whether a chain gives back the
original dots: outlines and bars of haze one dot thick, ordered dithering in the sky, brick courses,
one-dot water glints, small text and meters. The art is repeated exactly, so taking each third line and
sample at the right phase restores it without loss.
"""

from __future__ import annotations

import numpy as np

from scalesim.demo.moss_tower import sprites as moss_sprites
from scalesim.demo.moss_tower.backdrop import LINES, SAMPLES, backdrop
from scalesim.demo.moss_tower.masonry import MOSS, block, tower
from scalesim.demo.moss_tower.water import pool, waterfall
from scalesim.draw.letters import text_width, write
from scalesim.draw.pixelart import Frame, bayer, boxed, enlarged, foliage, grid, paint, rgb, speckle, stamp

TIMES = 3
_BAR = "0b0914"
_INK = moss_sprites.INK


def draw() -> Frame:
    """Return the frame, uint8 (720, 1280, 3): the native art times three, pillar-boxed."""
    return boxed(enlarged(draw_native(), TIMES), LINES * TIMES, 1280, _BAR)


def draw_native() -> Frame:
    """Return the art as it was drawn, uint8 (240, 320, 3)."""
    frame = backdrop()
    tower(frame)
    pool(frame)
    waterfall(frame)
    _bank(frame)
    _bridge(frame)
    _platforms(frame)
    _actors(frame)
    _foreground(frame)
    _meters(frame)
    return frame


def _bank(frame: Frame) -> None:
    """Lay the ground at the left: a high step against the border and a lower one at the pool."""
    heap = [
        (178, 12, 12, 12),
        (170, 2, 12, 11),
        (182, 24, 9, 10),
        (166, 10, 8, 9),
        (177, 20, 8, 8),
        (184, 34, 6, 7),
    ]
    foliage(frame, heap, MOSS[1:6], 91, outline="0f2440")
    block(frame, 188, LINES + 2, -4, 104, 21)
    block(frame, 204, LINES + 2, 104, 132, 31)
    _flowers(frame)


def _flowers(frame: Frame) -> None:
    """Dot small flowers on the moss, each a cross of five dots."""
    places = ((180, 66, "ff8670"), (182, 71, "fff4d8"), (180, 99, "ff8670"), (196, 124, "fff4d8"))
    for line, sample, code in (*places, (195, 117, "ff8670"), (143, 192, "ff8670"), (118, 291, "fff4d8")):
        frame[line : line + 6, sample] = MOSS[3]
        for dy, dx in ((-1, 0), (1, 0), (0, -1), (0, 1)):
            frame[line + dy, sample + dx] = rgb(code)
        frame[line, sample] = rgb("f2b53f")


def _bridge(frame: Frame) -> None:
    """Hang the broken rope bridge between bank and tower: thin slanted ropes, one-line planks."""
    left, right = 128, 212
    for sample in range(left, right):
        sag = 12 * (1 - ((sample - 170) / 42) ** 2)
        deck, rope = int(197 + 0.75 * sag), int(182 + sag)
        place = (sample - left) % 6
        if place == 3:
            frame[rope:deck, sample] = rgb("74402c")
        frame[rope, sample] = rgb("d89a5c")
        frame[rope + 1, sample] = rgb("56283a")
        # Two planks are gone; only the lower rope runs on.
        if place == 5 or 158 <= sample < 172:
            frame[deck + 1, sample] = rgb("56283a")
            continue
        frame[deck - 1 : deck + 4, sample] = rgb(_INK)
        frame[deck, sample] = rgb("e5a868")
        frame[deck + 1, sample] = rgb("a8653a")
        frame[deck + 2, sample] = rgb("74402c")
    for sample in (left, right - 4):
        frame[178:202, sample - 1 : sample + 5] = rgb(_INK)
        frame[179:202, sample : sample + 4] = rgb("74402c")
        frame[179:202, sample] = rgb("d89a5c")
        frame[179:202, sample + 1] = rgb("a8653a")


def _platforms(frame: Frame) -> None:
    """Hang the floating block and set two ledges on the tower."""
    _roots(frame, 168, 161, 197)
    block(frame, 150, 168, 158, 198, 33)
    block(frame, 126, 140, 284, SAMPLES + 4, 35)
    block(frame, 184, 198, 290, SAMPLES + 4, 37)


def _roots(frame: Frame, line: int, left: int, right: int) -> None:
    """Let roots dangle below a floating block."""
    lengths = speckle(1, SAMPLES, 36)[0]
    for sample in range(left, right, 4):
        length = int(4 + 12 * lengths[sample])
        frame[line : line + length, sample] = rgb("0f2440")
        frame[line : line + length - 2, sample + 1] = rgb("37934f")


def _halo(frame: Frame, line: int, sample: int, reach: int) -> None:
    """Dither a warm glow around a lamp, thinning outwards."""
    y, x = grid(LINES, SAMPLES)
    near = 1 - np.hypot(y - line, x - sample) / reach
    paint(frame, (near > 0) & (bayer(LINES, SAMPLES) < 0.7 * near), rgb("a8c487"))


def _actors(frame: Frame) -> None:
    """Place the hero, the foes and the treasure."""
    _halo(frame, 173, 82, 15)
    stamp(frame, moss_sprites.lantern(), 165, 76)
    stamp(frame, moss_sprites.sign(), 190, 106)
    stamp(frame, moss_sprites.snail(), 172, 34)
    stamp(frame, moss_sprites.moth(), 96, 194)
    stamp(frame, moss_sprites.burr(), 169, 300)
    stamp(frame, moss_sprites.gem(), 108, 298)
    for line, sample in ((156, 95), (136, 99), (104, 168), (116, 178), (131, 184)):
        stamp(frame, moss_sprites.acorn(), line, sample)
        _sparkle(frame, line - 1, sample + 11, 2)
    stamp(frame, moss_sprites.hero(), 86, 104)
    for line, start, end in ((112, 84, 99), (119, 90, 106), (104, 92, 108)):
        frame[line, start:end] = rgb("fff4d8")


def _sparkle(frame: Frame, line: int, sample: int, reach: int) -> None:
    """Draw a four-pointed spark, one dot thick."""
    frame[line - reach : line + reach + 1, sample] = rgb("fff3c4")
    frame[line, sample - reach : sample + reach + 1] = rgb("fff3c4")


def _foreground(frame: Frame) -> None:
    """Frame the picture with dark blades of reed in the lower corners."""
    left = ((-2, 14, 186), (4, -6, 170), (8, 40, 204), (16, 62, 220), (0, 26, 214), (22, 30, 196))
    right = ((322, 300, 190), (316, 330, 176), (310, 276, 210), (300, 256, 226), (318, 290, 216))
    for root, tip, top in (*left, *right):
        _blade(frame, root, tip, top)


def _blade(frame: Frame, root: int, tip: int, top: int) -> None:
    """Draw one bending, tapering blade from below the frame to (top, tip), lit along one edge."""
    y, x = grid(LINES, SAMPLES)
    rise = np.clip((LINES + 8 - y) / (LINES + 8 - top), 0, 1)
    centre = root + (tip - root) * rise**1.8
    half = 4.6 * np.sqrt(1 - rise)
    blade = (y >= top) & (np.abs(x - centre) <= half)
    paint(frame, blade, rgb("0a1024"))
    edge = blade & (x < centre - half + 1.2)
    paint(frame, edge, rgb("1c6a50"))


def _meters(frame: Frame) -> None:
    """Write the meters along the top."""
    cream, gold, ink = rgb("fff4d8"), rgb("ffd766"), rgb(_INK)
    stamp(frame, moss_sprites.hero_face(), 6, 6)
    write(frame, "PELLOW", 7, 36, cream, shadow=ink)
    for unit in range(6):
        stamp(frame, moss_sprites.leaf(full=unit < 4), 15, 35 + 9 * unit)
    stamp(frame, moss_sprites.acorn(), 8, 108)
    write(frame, "x037", 12, 121, gold, shadow=ink)
    for line, label, value in ((7, "FLOOR", "3-2"), (16, "TIME", "214")):
        write(frame, label, line, 214, cream, shadow=ink)
        write(frame, value, line, 312 - text_width(value), gold, shadow=ink)
