"""Render 3-D scenes with panda3d's software renderer and write the frames to a file.

``python make_scene3d.py LINES SAMPLES OUT.npz NAME…``: per name uint8 (lines, samples, 3), 8-bit code
values. A program of its own, so that a test can end it after a time limit and the engine never lives
in the tests' process. Models: the engine's own samples (environment, panda, teapot, box, smiley …).
"""

from __future__ import annotations

import sys

import numpy as np
from numpy.typing import NDArray

Place = tuple[str, tuple[float, float, float], float, float]
"""A model, where it stands (right, away, up), its size and how far it is turned, in degrees."""
View = tuple[tuple[float, float, float], tuple[float, float, float]]
"""Where the camera stands and what it looks at."""

GROUND: Place = ("environment", (-8, 42, 0), 0.25, 0)
SCENES: dict[str, tuple[View, list[Place]]] = {
    "meadow": (
        ((0, -16, 4), (0, 10, 2.5)),
        [
            GROUND,
            ("panda", (-3, 8, 0), 0.3, 0),
            ("panda", (6, 22, 0), 0.4, 0),
            ("teapot", (3, 4, 0.5), 0.6, 0),
            ("box", (-6, 12, 0), 3.0, 0),
            ("smiley", (0, 14, 4), 1.0, 0),
        ],
    ),
    "grove": (((6, -30, 3), (-4, 20, 4)), [GROUND, ("panda", (1, 2, 0), 0.35, 40)]),
    "heights": (((-30, -20, 30), (0, 30, 0)), [GROUND, ("teapot", (-6, 12, 1), 1.5, 20)]),
    "herd": (
        ((0, -14, 6), (0, 10, 1)),
        [GROUND, *[("panda", (4.0 * (k % 4) - 6, 5.0 * (k // 4), 0), 0.3, 37.0 * k) for k in range(12)]],
    ),
    "crates": (
        ((5, -12, 5), (0, 6, 1.5)),
        [
            GROUND,
            *[("box", (3.0 * (k % 5) - 7, 3.0 * (k // 5), 1.3 * (k % 2)), 1.6, 23.0 * k) for k in range(15)],
        ],
    ),
    "close": (((1.5, -7, 3.2), (-0.5, 0, 2.6)), [GROUND, ("panda", (0, 0, 0), 0.5, 25)]),
    "kettles": (
        ((0, -11, 4.5), (0, 3, 0.8)),
        [
            ("ripple", (0, 20, 4), 8.0, 0),
            *[("teapot", (3.6 * (k % 3) - 3.6, 4.0 * (k // 3), 0), 0.8, 50.0 * k) for k in range(9)],
        ],
    ),
    "desk": (
        ((0.5, -9, 4), (0, 0, 0)),
        [GROUND, ("shuttle_controls", (-1, 0, 0), 2.0, 0), ("jack", (2, 1, 1), 1.0, 30)],
    ),
    "faces": (
        ((0, -16, 2), (0, 0, 2)),
        [
            GROUND,
            *[
                (
                    ("smiley", "frowney")[k % 2],
                    (2.8 * (k % 6) - 7, 2.5 * (k // 6), 1 + 1.4 * (k // 6)),
                    1.0,
                    31.0 * k,
                )
                for k in range(18)
            ],
        ],
    ),
    "river": (((-12, 10, 2), (20, 60, 3)), [GROUND, ("smiley", (2, 30, 3), 1.2, 0)]),
    "path": (
        ((10, 60, 6), (-10, 0, 0)),
        [GROUND, ("panda", (4, 40, 0), 0.4, 160), ("box", (-2, 32, 0), 3.0, 33)],
    ),
    "far": (((0, -90, 14), (0, 40, 6)), [GROUND, ("panda", (-10, -40, 0), 0.6, 15)]),
    "yard": (
        ((-9, -14, 8), (2, 8, 1)),
        [
            GROUND,
            ("box", (0, 4, 0), 4.0, 12),
            ("box", (5, 9, 0), 3.0, 50),
            ("teapot", (-3, 0, 1), 0.7, 70),
            ("panda", (3, 0, 0), 0.25, 10),
        ],
    ),
    "statue": (
        ((-7, -10, 9), (0, 2, 4)),
        [GROUND, ("panda", (0, 2, 0), 0.7, 300), ("jack", (3, 3, 2), 1.5, 0)],
    ),
}


def render(lines: int, samples: int, names: list[str]) -> dict[str, NDArray[np.uint8]]:
    """Return one frame of each scene, without anti-aliasing, as a game engine leaves it."""
    from direct.showbase.ShowBase import ShowBase
    from panda3d.core import loadPrcFileData

    settings = f"load-display p3tinydisplay\nwindow-type offscreen\nwin-size {samples} {lines}\n"
    settings += "audio-library-name null\nnotify-level error\n"
    loadPrcFileData("", settings)
    base = ShowBase()
    base.disableMouse()
    frames = {}
    for name in names:
        (stands, looks), places = SCENES[name]
        root = base.render.attachNewNode(name)
        for model, position, scale, turned in places:
            placed = base.loader.loadModel(f"models/{model}")
            placed.setPos(*position)
            placed.setScale(scale)
            placed.setH(turned)
            placed.reparentTo(root)
        base.camera.setPos(*stands)
        base.camera.lookAt(*looks)
        for _ in range(2):
            base.graphicsEngine.renderFrame()
        texture = base.win.getScreenshot()
        values = np.frombuffer(texture.getRamImageAs("RGB"), np.uint8).reshape(lines, samples, 3)
        frames[name] = values[::-1].copy()
        root.removeNode()
    return frames


if __name__ == "__main__":
    np.savez(sys.argv[3], **render(int(sys.argv[1]), int(sys.argv[2]), sys.argv[4:]))
