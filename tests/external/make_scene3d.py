"""Render a 3-D scene with panda3d's software renderer and write the frame to a file.

``python make_scene3d.py LINES SAMPLES OUT.npy``: uint8 (lines, samples, 3), 8-bit code values. A
program of its own, so that the test can end it after a time limit and the engine never lives in the
tests' process. Models: the engine's own samples (environment, panda, teapot, box, smiley).
"""

from __future__ import annotations

import sys

import numpy as np
from numpy.typing import NDArray


def render(lines: int, samples: int) -> NDArray[np.uint8]:
    """Return one frame of the scene, without anti-aliasing, as a game engine leaves it."""
    from direct.showbase.ShowBase import ShowBase
    from panda3d.core import loadPrcFileData

    settings = f"load-display p3tinydisplay\nwindow-type offscreen\nwin-size {samples} {lines}\n"
    settings += "audio-library-name null\nnotify-level error\n"
    loadPrcFileData("", settings)
    base = ShowBase()
    place = [
        ("environment", (-8, 42, 0), 0.25),
        ("panda", (-3, 8, 0), 0.3),
        ("panda", (6, 22, 0), 0.4),
        ("teapot", (3, 4, 0.5), 0.6),
        ("box", (-6, 12, 0), 3.0),
        ("smiley", (0, 14, 4), 1.0),
    ]
    for name, position, scale in place:
        model = base.loader.loadModel(f"models/{name}")
        model.setPos(*position)
        model.setScale(scale)
        model.reparentTo(base.render)
    base.disableMouse()
    base.camera.setPos(0, -16, 4)
    base.camera.lookAt(0, 10, 2.5)
    for _ in range(2):
        base.graphicsEngine.renderFrame()
    texture = base.win.getScreenshot()
    values = np.frombuffer(texture.getRamImageAs("RGB"), np.uint8).reshape(lines, samples, 3)
    return values[::-1].copy()


if __name__ == "__main__":
    np.save(sys.argv[3], render(int(sys.argv[1]), int(sys.argv[2])))
