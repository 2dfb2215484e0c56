"""Thirty-five frames to judge measures on: 3-D scenes, drawn frames and photographs.

A measure of sharpness or of outlines has constants, and constants can be chosen so that a handful of
frames come out well. So the frames are in two halves by a fixed rule (within a kind, every other one
in the order listed here): **constants are chosen on `CHOSEN_ON` alone**; `HELD_BACK` is for checking
them, and nothing may be changed because of what it shows without saying so beside the check.

- "scene": 3-D scenes of a general-purpose engine's sample models by its software renderer (panda3d
  1.10.16 from PyPI; `external/make_scene3d.py`), without anti-aliasing: fine textures, hard outlines.
  Rendered once for all tests of a session; a test that asks for one is skipped without the engine.
- "drawn": the demonstration's frames, among them art three and two lines to the dot.
- "photo": scikit-image's pictures (0.26.0 from PyPI, those inside the wheel) at their own resolution,
  cut or put on black to a raster a console sends. Softer than any game.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, partial
from importlib import import_module
from pathlib import Path
from typing import Any, Literal

import numpy as np
import pytest
from numpy.typing import NDArray

Array = NDArray[Any]
RASTERS = {"480p": (480, 640), "720p": (720, 1280), "1080p": (1080, 1920)}


@dataclass(frozen=True)
class Frame:
    """A frame's name, kind, mode as `predict` takes it, and what loads it.

    `load` gives (lines, samples, 3) float32 code values 0..1, read-only and the same array every
    time; fields are woven.
    """

    name: str
    kind: Literal["scene", "drawn", "photo"]
    mode: str
    load: Callable[[], Array]


SCENES = {
    "meadow": "720p",
    "grove": "720p",
    "heights": "720p",
    "herd": "720p",
    "crates": "720p",
    "close": "720p",
    "kettles": "720p",
    "desk": "720p",
    "faces": "1080p",
    "river": "1080p",
    "path": "480p",
    "far": "480p",
    "yard": "720p",
    "statue": "720p",
}
DRAWN = {
    "moss_tower": "720p",
    "kettle_crew": "720p",
    "deepvault_corridor": "1080p",
    "ninth_lock_menu": "480p",
    "pocket_orchard": "480p",
    "marrow_fens": "576p",
    "comet_rally": "1080i",
}
PHOTOS = {
    "retina": "720p",
    "hubble_deep_field": "720p",
    "astronaut": "480p",
    "camera": "480p",
    "brick": "480p",
    "grass": "480p",
    "gravel": "480p",
    "moon": "480p",
    "immunohistochemistry": "480p",
    "stereo_motorcycle": "480p",
    "coffee": "480p",
    "rocket": "480p",
    "logo": "480p",
    "coins": "480p",
}


@cache
def _rendered() -> dict[str, Array]:
    """Return all 3-D scenes, one run of the engine per raster under a time limit."""
    found: dict[str, Array] = {}
    program = Path(__file__).with_name("external") / "make_scene3d.py"
    with tempfile.TemporaryDirectory() as folder:
        for mode, (lines, samples) in RASTERS.items():
            names = [name for name, of in SCENES.items() if of == mode]
            out = Path(folder) / f"{mode}.npz"
            command = [sys.executable, str(program), str(lines), str(samples), str(out), *names]
            subprocess.run(command, check=True, timeout=120, capture_output=True, cwd=folder)
            with np.load(out) as frames:
                found |= {name: frames[name] for name in names}
    return found


def _scene(name: str) -> Array:
    pytest.importorskip("panda3d", reason="panda3d, the general-purpose 3-D engine, is not installed")
    return _rendered()[name]


def _drawn(name: str) -> Array:
    drawn: Array = import_module(f"scalesim.demo.{name}.frame").draw()
    return drawn


def _photo(name: str, mode: str) -> Array:
    from skimage import data

    picture = getattr(data, name)()
    picture = picture[0] if isinstance(picture, tuple) else picture
    picture = picture[..., None].repeat(3, axis=2) if picture.ndim == 2 else picture[..., :3]
    return fitted(picture, *RASTERS[mode])


def fitted(picture: Array, lines: int, samples: int) -> Array:
    """Return the middle of a picture on a raster, black around it where it is smaller."""
    for axis, size in enumerate((lines, samples)):
        spare = max(0, picture.shape[axis] - size) // 2
        picture = picture.take(range(spare, spare + min(size, picture.shape[axis])), axis=axis)
    above, left = (lines - picture.shape[0]) // 2, (samples - picture.shape[1]) // 2
    frame = np.zeros((lines, samples, 3), picture.dtype)
    frame[above : above + picture.shape[0], left : left + picture.shape[1]] = picture
    return frame


@cache
def _load(make: Callable[[], Array]) -> Array:
    frame = np.asarray(make())
    frame = frame.astype(np.float32) / np.float32(255) if frame.dtype == np.uint8 else frame
    frame = frame.astype(np.float32)
    frame.flags.writeable = False
    return frame


def _frames() -> dict[str, Frame]:
    members = [
        *(Frame(n, "scene", m, partial(_load, partial(_scene, n))) for n, m in SCENES.items()),
        *(Frame(n, "drawn", m, partial(_load, partial(_drawn, n))) for n, m in DRAWN.items()),
        *(Frame(n, "photo", m, partial(_load, partial(_photo, n, m))) for n, m in PHOTOS.items()),
    ]
    return {frame.name: frame for frame in members}


FRAMES = _frames()
"""Every frame by its name."""


def _every_other(first: int) -> tuple[str, ...]:
    kinds = (SCENES, DRAWN, PHOTOS)
    return tuple(name for kind in kinds for name in tuple(kind)[first::2])


CHOSEN_ON = _every_other(0)
"""Names of the frames that constants may be chosen on."""
HELD_BACK = _every_other(1)
"""Names of the frames that constants are only checked on."""
