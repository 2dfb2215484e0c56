"""A simulated photo of the club's tube, and which of two boxes explains it.

The photo is drawn by this package's own screen and seen by a plain camera (perspective and noise), so
it shows what an answer looks like and proves nothing: the tests use another camera.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.core.clip import Clip
from scalesim.core.photo import Photo
from scalesim.jobs.glass.glass import glass
from scalesim.jobs.predict.predict import predict
from scalesim.result import Result
from scalesim.signal.rectify.sampled import sampled
from scalesim.signal.rectify.view import View, fit_view
from scalesim.tube.display import display_named
from scalesim.tube.screen import Screen

NAME = "simulated photo"
SCENE = "moss_tower"
DISPLAY = "studio-36cm-800"
BOXES = ("the new box: line-average lines=480, interlace", "the old box: line-drop lines=240 phase=1")
"""The first is what is photographed."""

_ROWS, _COLUMNS = 1560, 2080
_CORNERS = ((150.0, 96.0), (1950.0, 130.0), (1926.0, 1480.0), (122.0, 1446.0))
"""Where the picture's corners fall in the photo: a camera that stood a little off."""


def photograph(source: Clip, advance: Callable[[str], None] = lambda _: None) -> Result:
    """Return what a simulated photo of a frame on the tube tells about the box."""
    advance("reading a simulated photo")
    chains = [Chain(text) for text in BOXES]
    photo = Photo(simulated_photo(source, chains[0]), NAME)
    return glass([photo], source=source, chain=chains, display=display_named(DISPLAY), shutter="1/30")


def simulated_photo(source: Clip, chain: Chain) -> NDArray[np.uint8]:
    """Return a photo, (rows, columns, 3) sRGB codes, of both fields of a chain's picture on the tube."""
    seen = predict(source, chain, metrics=[])
    screen = Screen(seen.raster, display_named(DISPLAY), height=1440)
    light = screen.period(seen.cycle)
    uv = camera().to_picture(_pixels())
    hidden = screen.display.overscan_percent / 200
    shown = (uv - hidden) / (1 - 2 * hidden) * light.shape[1::-1] - 0.5
    photo = np.nan_to_num(sampled(light, shown)).reshape(_ROWS, _COLUMNS, 3)
    photo *= 0.5
    random = np.random.RandomState(2)
    photo += 0.01 * np.sqrt(photo + 0.01) * random.standard_normal(photo.shape)
    code = np.clip(photo, 0, 1)
    code = np.where(code <= 0.0031308, 12.92 * code, 1.055 * code ** (1 / 2.4) - 0.055)
    return np.floor(255 * code + 0.5).astype(np.uint8)


def camera() -> View:
    """Return where the picture lies in the photo."""
    places = np.array([[0.0, 0], [1, 0], [1, 1], [0, 1]])
    return fit_view(places, np.array(_CORNERS), (_ROWS, _COLUMNS), terms=0)


def _pixels() -> NDArray[np.float64]:
    rows, columns = np.indices((_ROWS, _COLUMNS))
    return np.stack([columns.ravel(), rows.ravel()], axis=1).astype(np.float64)
