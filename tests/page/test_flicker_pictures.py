"""The flicker map with its scale, and the plot of a flicker study."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import numpy as np
import pytest

from scalesim.core.clip import still_clip
from scalesim.core.raster import TOP_FIRST, Raster
from scalesim.errors import NotMeasurable
from scalesim.jobs.predict.flicker_study import flicker_study
from scalesim.page.flicker_map import flicker_picture
from scalesim.page.plots.flicker import flicker_plot

RASTER = Raster(48, 64, fields=TOP_FIRST)


def test_places_that_flicker_are_bright() -> None:
    """One white line in one field of black flickers by 100 %: the bright end of the scale; the rest by 0.

    The map begins at frame line 1, where the bottom field does, so line 10 of the top field is its row 19.
    """
    top, bottom = (np.zeros((48, 64, 3), np.float32) for _ in range(2))
    top[10] = 1.0
    picture = flicker_picture((top, bottom), RASTER)
    tall = round(960 / 95)
    assert picture[19 * tall + 1, 100].min() > 150
    assert picture[60 * tall, 100].max() < 10


def test_a_steady_picture_has_no_map() -> None:
    with pytest.raises(NotMeasurable, match="no flicker"):
        flicker_picture((np.zeros((48, 64, 3), np.float32),), Raster(48, 64))


def test_the_plot_has_a_mark_for_every_row() -> None:
    frame = np.random.RandomState(0).rand(96, 120, 3).astype(np.float32)
    study = flicker_study(still_clip(frame, mode="custom"), None, ["1", "1/2/1", "paired"])
    plot = flicker_plot(study)
    ET.fromstring(plot)
    for words in ("taps of the flicker filter", "line pairs", "1/2/1", "none", "flicker, mean, % of white"):
        assert words in plot
    known = sum(
        row.metrics[key] is not None for row in study.rows for key in ("flicker_percent", "edge_spread_lines")
    )
    marks = plot.count("<use ")
    assert marks >= known > 0
    fewer = flicker_plot(flicker_study(still_clip(frame, mode="custom"), None, ["1"]))
    assert fewer.count("<use ") < marks
