"""'Marrow Fens: A Parish on Stilts', an invented slanted-view town builder, as one 576-line frame (50 Hz).

4:3 in 720 samples. A parish of stilt houses among canals and reed beds at dusk: tile edges and roof lines
rising one line in two samples, handrails and sail lattices one sample thin, ordered dither on the water,
a menu of small icons, a map and small text. It tests the 576 to 288 and 240 line paths, where thin
slanted lines break into steps and small text loses its bars.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.demo.marrow_fens import town
from scalesim.demo.marrow_fens.boards import boards
from scalesim.demo.marrow_fens.map import BOATS, HOUSES, MILL, kind
from scalesim.demo.marrow_fens.town import HALF_HIGH, HALF_WIDE, ORIGIN, Site
from scalesim.draw import letters as pixelfont
from scalesim.draw import painting, shapes, texture
from scalesim.draw.pen import Pen
from scalesim.draw.shapes import Plane, colour

LINES, SAMPLES = 576, 720
_BAYER = np.array([[0, 8, 2, 10], [12, 4, 14, 6], [3, 11, 1, 9], [15, 7, 13, 5]], np.float32) / 16
_SPAN = range(-21, 22)


def draw() -> NDArray[np.uint8]:
    """Return the frame, uint8 (576, 720, 3), 8-bit code values; the same on every call."""
    target = shapes.canvas(LINES, SAMPLES)
    _water(target)
    # Back to front; the tiles under the boards at top and bottom are left out.
    seen = ((i, j) for i in _SPAN for j in _SPAN if abs(i - j) < 17 and -20 < i + j < 24)
    order = sorted(seen, key=lambda p: (p[0] + p[1], p[0]))
    for i, j in order:
        _ground(target, i, j)
    for i, j in order:
        _stand(target, i, j)
    _mist(target)
    _choice(target)
    boards(target)
    frame = shapes.to_bytes(target)
    _words(frame)
    return frame


def _water(target: Plane) -> None:
    """Fill the canvas with dithered water, lighter where the evening sky lies on it."""
    ys, xs = np.arange(LINES, dtype=np.float32)[:, None], np.arange(SAMPLES, dtype=np.float32)[None]
    sheen = 0.5 + 0.9 * (texture.cloudy(xs / 170, ys / 60, 3, 3) - 0.5) + 0.3 * (1 - ys / LINES)
    steps = (
        np.floor(np.clip(sheen, 0, 0.999) * 5 + np.tile(_BAYER, (LINES // 4, SAMPLES // 4)) - 0.5)
        .clip(0, 4)
        .astype(int)
    )
    tones = np.array([colour(c) for c in ("17324a", "1d4257", "265567", "326a78", "4a8288")], np.float32)
    target[:] = tones[steps]
    random = np.random.RandomState(2)
    for _ in range(420):
        y, x, n = random.randint(LINES), random.randint(SAMPLES), random.randint(4, 15)
        target[y, x : x + n] = target[y, x : x + n] * 0.7 + np.float32(0.3) * np.array(
            colour("a8d8cc"), np.float32
        )


_TONES = {
    "grass": ("7a9a4c", "86a654", "6f9148"),
    "reeds": ("6c7f48", "75884c", "647844"),
    "path": ("c39a66", "b88e5c", "cda470"),
    "peat": ("4f3833", "573e36", "49332f"),
    "berries": ("5f7d48", "66864c", "587544"),
    "bridge": ("000000",) * 3,
}


def _ground(target: Plane, i: int, j: int) -> None:
    lies = kind(i, j)
    if lies in ("water", "bridge"):
        return
    site = Site(target, i, j)
    x, y = site.at(0, 0, 0)
    bank = "4b3a3c"
    for side, near in (((-0.5, 0.5), (i, j + 1)), ((0.5, -0.5), (i + 1, j))):
        if kind(*near) in ("water", "bridge"):
            u, v = side
            corner = (0.5, 0.5)
            site.face(
                [(u, v, 0), (*corner, 0), (*corner, -6), (u, v, -6)], bank if u < 0 else "382c38", width=0
            )
            site.rule((u, v, -7), (*corner, -7), "9cc8bc", 1)
    tone = _TONES[lies][int(texture.lattice(np.array([i]), np.array([j]), 1)[0] * 2.99)]
    _tile(target, int(x), int(y), np.array(colour(tone), np.float32))
    random = np.random.RandomState((i * 53 + j * 131) % 9973)
    if lies == "path":
        for k in range(-2, 3):
            if i == 0:
                site.rule((-0.48, k * 0.2, 0), (0.48, k * 0.2, 0), "8f6a48")
            else:
                site.rule((k * 0.2, -0.48, 0), (k * 0.2, 0.48, 0), "8f6a48")
    elif lies == "peat":
        for k in range(5):
            site.rule((-0.48, -0.4 + 0.2 * k, 0), (0.48, -0.4 + 0.2 * k, 0), "2c2026" if k % 2 else "7a5a46")
    elif lies == "berries":
        for k in range(4):
            site.rule((-0.48, -0.36 + 0.25 * k, 0), (0.48, -0.36 + 0.25 * k, 0), "3f5f44", 2)
            for u in range(6):
                px, py = site.at(-0.42 + 0.16 * u, -0.36 + 0.25 * k, 2)
                target[int(py) : int(py) + 2, int(px) : int(px) + 2] = colour("e05048")
    else:
        for _ in range(5):
            px, py = site.at(random.uniform(-0.4, 0.4), random.uniform(-0.4, 0.4), 0)
            if 4 <= py < LINES and 0 <= px < SAMPLES:
                target[int(py) - random.randint(2, 4) : int(py), int(px)] = colour(
                    ("a8c068", "5f8244")[random.randint(2)]
                )


def _tile(target: Plane, x: int, y: int, tone: Plane) -> None:
    """Fill one diamond of 48 x 24 with hard edges: each line four samples wider than the last."""
    for r in range(2 * HALF_HIGH):
        line, half = y - HALF_HIGH + r, 2 * (min(r, 2 * HALF_HIGH - 1 - r) + 1)
        if 0 <= line < LINES:
            target[line, max(x - half, 0) : max(x + half, 0)] = tone


def _stand(target: Plane, i: int, j: int) -> None:
    """Draw what stands on a tile."""
    site, lies = Site(target, i, j), kind(i, j)
    seed = (i * 71 + j * 37) % 9973
    chance = float(texture.lattice(np.array([i]), np.array([j]), 6)[0])
    if (i, j) in HOUSES:
        roof, smoke = HOUSES[i, j]
        town.house(
            site, roof, smoke=smoke, wall=("ead9b4", "d8e0d0", "f0d0b0")[seed % 3], tall=17 + 4 * (seed % 2)
        )
    elif (i, j) == MILL:
        town.windmill(site)
    elif (i, j) in BOATS:
        town.punt(site, mirror=BOATS[i, j])
    elif lies == "bridge":
        _bridge(site)
    elif lies == "reeds":
        town.reeds(site, seed)
    elif lies == "grass" and chance > 0.84:
        town.willow(site, 0.4 + 0.6 * chance, seed)
    elif lies == "grass" and chance < 0.14:
        town.reeds(site, seed, thick=6)
    elif lies == "path" and (i + 3 * j) % 5 == 0:
        _lantern(site)
    elif lies == "peat" and chance > 0.75:
        for k in range(3):
            town.block(
                site, (-0.3 + 0.2 * k, -0.14 + 0.2 * k), (-0.2, 0.2), (0, 7), "8a6450", "6a4a40", "49332f"
            )


def _bridge(site: Site) -> None:
    for v in (-0.4, 0.4):
        for u in (-0.3, 0.34):
            site.rule((u, v, -8), (u, v, 4), "3a2c2c", 3)
    town.rail(site, (-0.36, -0.5), (-0.36, 0.5), 4)
    town.block(site, (-0.36, 0.36), (-0.5, 0.5), (1, 4), "c39a66", "8a6240", "5a3c30")
    for k in range(6):
        v = -0.5 + k / 6
        site.rule((-0.35, v, 4), (0.35, v, 4), "7a5438")
    town.rail(site, (0.36, -0.5), (0.36, 0.5), 4)


def _lantern(site: Site) -> None:
    pen = site.pen.to(-14, 0)
    pen.line("0,2 0,-22", width=1.6)
    pen.box(-3, -29, 3, -21, "fff0b0", width=1, radius=1)
    pen.poly("-5,-29 0,-33 5,-29", "3a2c2c", width=1)
    painting.glow(site.target, *pen.at((0, -24)), 40, colour("ffae48"), 0.42)


def _mist(target: Plane) -> None:
    """Lay bands of evening mist and a warm light from the left over the map, and a few marsh lights."""
    for x, y, wide, high, share in (
        (120, 120, 210, 16, 0.3),
        (560, 96, 190, 14, 0.3),
        (640, 330, 150, 12, 0.22),
        (90, 372, 150, 11, 0.22),
        (330, 70, 200, 12, 0.25),
    ):
        painting.soft_shadow(
            target, shapes.ellipse(x, y, wide, high), colour("d4dcec"), blur=34, opacity=share
        )
    xs, ys = (
        np.arange(SAMPLES, dtype=np.float32)[None, :, None] / SAMPLES,
        np.arange(LINES, dtype=np.float32)[:, None, None] / LINES,
    )
    far = np.clip(0.42 - ys, 0, 1)
    target += far * (np.array(colour("b9a4c8"), np.float32) - target)
    target *= (
        np.array((1.10, 1.0, 0.93), np.float32) * (1 - xs * 0.5)
        + np.array((0.86, 0.92, 1.06), np.float32) * xs * 0.5
    )
    for x, y in ((34, 262), (52, 274), (250, 392), (583, 424), (300, 424), (700, 380)):
        painting.glow(target, x, y, 22, colour("60ffc0"), 0.55)
        painting.paint(target, shapes.circle(x, y, 2), colour("eafff2"))


def _choice(target: Plane) -> None:
    """Mark the chosen plot: a white diamond of one-line strokes, the ghost of a house, a label."""
    site = Site(target, 5, 2)
    for k, tone in ((0.5, "ffffff"), (1.5, "ffe28a")):
        corners = [(-k, -k, 0), (k, -k, 0), (k, k, 0), (-k, k, 0)]
        for n in range(4):
            site.rule(corners[n], corners[(n + 1) % 4], tone, 1.0)
    for n in range(-1, 3):
        site.rule((n - 0.5, -1.5, 0), (n - 0.5, 1.5, 0), "ffe28a", 0.5)
        site.rule((-1.5, n - 0.5, 0), (1.5, n - 0.5, 0), "ffe28a", 0.5)
    ghost = target.copy()
    town.house(Site(ghost, 5, 2), town.THATCH)
    target += np.float32(0.62) * (ghost - target)
    x, y = site.at(0, 0, 66)
    Pen(target, x, y, ink="f0c870", width=1).box(-70.5, -25.5, 70.5, 0.5, "14202e", opacity=0.85)


def _words(frame: NDArray[np.uint8]) -> None:
    cream, gold, pale, red = (246, 232, 204), (255, 214, 114), (160, 190, 206), (240, 120, 96)
    for x, name, count in (
        (36, "Eels", "214"),
        (138, "Peat", "88"),
        (240, "Reed", "340"),
        (342, "Folk", "61/64"),
    ):
        pixelfont.write(frame, name, 5, x, pale)
        pixelfont.write(frame, count, 15, x, cream)
    pixelfont.write(frame, "MARROW FENS", 7, 440, gold, scale=2)
    pixelfont.write(frame, "Week 31", 5, 650, cream)
    pixelfont.write(frame, "Rain due", 15, 650, pale)
    site = Site(np.zeros((1, 1, 3), np.float32), 5, 2).at(0, 0, 66)
    left, top = int(site[0]) - 66, int(site[1]) - 22
    pixelfont.write(frame, "Eel smokery", top, left, gold)
    pixelfont.write(frame, "needs 2 more hands", top + 10, left, cream)
    pixelfont.write(frame, "EEL SMOKERY", 481, 20, gold, scale=2)
    for k, (text, tone) in enumerate(
        (
            ("Cost   40 peat, 12 reed", cream),
            ("Yields  6 eels a week", cream),
            ("Smoke drifts east", pale),
            ("Two folk short!", red),
        )
    ):
        pixelfont.write(frame, text, 502 + 12 * k, 20, tone)
    pixelfont.write(frame, "Parish of 61 souls", 555, 20, pale)


assert ORIGIN[0] % HALF_WIDE == 0  # tiles then start on whole samples at both borders
