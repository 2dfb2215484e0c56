"""A photo of the geometry chart says where the picture lies, in the words that place it in other photos.

The camera is OpenCV's (`tests/pinhole.py`): where it puts the picture's corners is what is compared with.
"""

from __future__ import annotations

import re

import cv2
import numpy as np

from scalesim.charts.geometry import geometry_chart
from scalesim.core.encoding import luma
from scalesim.core.photo import Photo
from scalesim.jobs.glass.glass import glass
from scalesim.jobs.glass.options import view_of_corners
from tests.pinhole import Pinhole

CORNERS = np.array([[0.0, 0], [1, 0], [1, 1], [0, 1]])


def test_the_chart_gives_the_corners_for_other_photos() -> None:
    """Within a pixel of where OpenCV projects them; what is printed is what --corners reads."""
    camera = Pinhole(lens=0.0)
    shown = luma(geometry_chart("720p").frame).astype(np.float32)
    light = camera.photo(cv2.resize(shown, (960, 240), interpolation=cv2.INTER_AREA) ** 2.4)
    codes = (255 * np.clip(light / light.max(), 0, 1) ** (1 / 2.2)).astype(np.uint8)
    found = glass([Photo(np.repeat(codes[..., None], 3, axis=2))], chart="720p")
    (said,) = [note for note in found.remarks() if "--corners" in note]
    assert said.startswith("The picture was found by discs of the geometry chart (n = 9 places")
    match = re.search(r'--corners "([\d., -]+)"', said)
    assert match is not None
    given = view_of_corners(match[1], codes.shape)
    assert np.abs(given.to_photo(CORNERS) - camera.to_photo(CORNERS)).max() < 1.5
