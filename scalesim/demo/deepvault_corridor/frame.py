"""'Deepvault: Lamps under Sill Nine', an invented first-person exploration, as one 1080p frame.

A seed store far underground, cast ray by ray: panels, louvres, rivets, a lit grate and hazard stripes seen
at grazing angles, light fog, warm and cold lamps, a round door at the end; in front the held lantern, a
crosshair one line thick, a map of one-line strokes and small text. It tests what a 1080 to 240 reduction
does to fine texture that is periodic along both axes, and to strokes of one line.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.demo.deepvault_corridor import light as deepvault_light
from scalesim.demo.deepvault_corridor import props as deepvault_props
from scalesim.demo.deepvault_corridor.cast import FOCUS, LAMPS, project
from scalesim.draw import letters as pixelfont
from scalesim.draw import painting, shapes
from scalesim.draw.pen import Pen
from scalesim.draw.shapes import Plane, colour

LINES, SAMPLES = 1080, 1920


def draw() -> NDArray[np.uint8]:
    """Return the frame, uint8 (1080, 1920, 3), 8-bit code values; the same on every call."""
    target = deepvault_light.render(LINES, SAMPLES)
    _air(target)
    deepvault_props.vines(target)
    deepvault_props.drone(target)
    _vignette(target)
    deepvault_props.tool(target)
    _panels(target)
    frame = shapes.to_bytes(target)
    _words(frame)
    _map(frame)
    _crosshair(frame)
    return frame


def _air(target: Plane) -> None:
    """Add the shine of the lamps in the hazy air and their cones."""
    for middle, tone, strength in reversed(LAMPS[1:]):
        x, y = project(0, 3.2, middle)
        size = FOCUS / middle
        painting.glow(target, x, y, size * 1.4, tone, 0.11 * strength)
        cone = shapes.polygon(
            [
                project(-0.3, 3.2, middle),
                project(0.3, 3.2, middle),
                project(1.0, 0.3, middle),
                project(-1.0, 0.3, middle),
            ]
        )
        painting.soft_shadow(target, cone, tone, blur=size * 0.13, opacity=0.035 * strength)
    painting.glow(target, *project(0, 1.62, 16), 190, colour("58c87a"), 0.2)
    for x in (-1.75, 1.75):
        painting.glow(target, *project(x, 2.2, 16.4), 70, colour("ff3a20"), 0.8)


def _vignette(target: Plane) -> None:
    ys = ((np.arange(LINES, dtype=np.float32) + 0.5) / LINES * 2 - 1)[:, None] ** 2
    xs = ((np.arange(SAMPLES, dtype=np.float32) + 0.5) / SAMPLES * 2 - 1)[None] ** 2
    target *= (1 - np.float32(0.42) * np.clip(xs * 0.75 + ys * 0.5 - 0.15, 0, 1))[..., None]


def _panels(target: Plane) -> None:
    pen = Pen(target, ink="7fe8d8", width=1)
    pen.box(48.5, 46.5, 420.5, 118.5, "04100f", opacity=0.55, ink="2c8078")
    pen.box(48.5, 936.5, 388.5, 1032.5, "04100f", opacity=0.55, ink="2c8078")
    pen.box(1560.5, 46.5, 1872.5, 286.5, "04100f", opacity=0.6, ink="2c8078")
    for row, (share, tone) in enumerate(((0.87, "5fe8d0"), (0.62, "f2b04a"))):
        y = 958 + 36 * row
        pen.box(150, y - 1, 372, y + 15, "0c2624", width=1, ink="2c8078")
        for k in range(int(share * 27)):
            pen.box(154 + 8 * k, y + 3, 159 + 8 * k, y + 11, tone, width=0)


def _words(frame: NDArray[np.uint8]) -> None:
    teal, amber, pale = (120, 240, 222), (242, 176, 74), (226, 244, 236)
    pixelfont.write(frame, "SILL 9 / SEED STORE", 58, 64, teal, scale=2)
    pixelfont.write(frame, "Bring the last sprout to the round door", 99, 64, pale, scale=1)
    pixelfont.write(frame, "DEPTH 1140 m", 84, 64, amber, scale=1)
    pixelfont.write(frame, "AIR", 958, 64, teal, scale=2)
    pixelfont.write(frame, "87", 958, 112, pale, scale=2)
    pixelfont.write(frame, "LAMP", 994, 64, amber, scale=2)
    pixelfont.write(frame, "62", 994, 122, pale, scale=2)
    pixelfont.write(frame, "POD: it smells of rain in there.", 1000, 770, pale, scale=2, shadow=(0, 0, 0))


def _map(frame: NDArray[np.uint8]) -> None:
    """Draw the map: rooms as one-line outlines, a dotted way, ourselves as an arrow."""
    teal, dim = (110, 232, 214), (44, 128, 120)
    for top, left, bottom, right in (
        (70, 1690, 110, 1742),
        (110, 1704, 230, 1728),
        (140, 1742, 182, 1810),
        (150, 1728, 162, 1742),
        (190, 1604, 250, 1680),
        (206, 1680, 216, 1704),
        (120, 1620, 160, 1660),
        (230, 1698, 262, 1734),
    ):
        frame[top, left : right + 1] = frame[bottom, left : right + 1] = teal
        frame[top : bottom + 1, left] = frame[top : bottom + 1, right] = teal
    for left in range(1572, 1864, 16):
        frame[58:276:16, left] = dim
    frame[112:226:6, 1716] = frame[113:226:6, 1716] = (242, 176, 74)
    for k in range(9):
        frame[214 + k, 1716 - k // 2 : 1717 + k // 2] = (255, 255, 255)
    pixelfont.write(frame, "N", 52, 1713, teal)
    pixelfont.write(frame, "1:400", 270, 1830, dim)


def _crosshair(frame: NDArray[np.uint8]) -> None:
    line, sample, tone = 540, 960, (214, 255, 246)
    frame[line, sample - 20 : sample - 6] = frame[line, sample + 7 : sample + 21] = tone
    frame[line - 20 : line - 6, sample] = frame[line + 7 : line + 21, sample] = tone
    frame[line, sample] = tone
