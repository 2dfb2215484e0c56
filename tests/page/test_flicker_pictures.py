"""The flicker map with its scale, and the plot of a flicker study."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace

import numpy as np

from scalesim.core.clip import still_clip
from scalesim.core.raster import TOP_FIRST, Raster
from scalesim.draw.flicker_picture import flicker_picture
from scalesim.jobs.predict.flicker_study import flicker_study
from scalesim.jobs.predict.predict import predict
from scalesim.metrics.flicker.percent import SHARP_FLICKER, flicker_map
from scalesim.page.plots.draw import plot_svg

RASTER = Raster(48, 64, fields=TOP_FIRST)


def test_places_that_flicker_are_bright() -> None:
    """One white line in one field of black flickers by 100 %: the bright end of the scale; the rest by 0.

    The map begins at frame line 1, where the bottom field does, so line 10 of the top field is its row 19.
    """
    top, bottom = (np.zeros((48, 64, 3), np.float32) for _ in range(2))
    top[10] = 1.0
    picture = flicker_picture(flicker_map((top, bottom), RASTER), float(RASTER.aspect), SHARP_FLICKER)
    tall = round(960 / 95)
    assert picture[19 * tall + 1, 100].min() > 150
    assert picture[60 * tall, 100].max() < 10


def test_only_a_picture_that_alternates_has_a_map() -> None:
    clip = still_clip(np.random.RandomState(0).rand(96, 120, 3).astype(np.float32), mode="custom")
    steady, turns = (
        replace(predict(clip, text, metrics=[]), views=("flicker",))
        for text in ("line-average lines=48", "interlace")
    )
    assert not steady.kept_pictures and "no flicker" in steady.remarks()[-1]
    assert [*turns.kept_pictures] == ["flicker"] and not turns.remarks()


def test_the_plot_has_a_mark_for_every_row() -> None:
    frame = np.random.RandomState(0).rand(96, 120, 3).astype(np.float32)
    study = flicker_study(still_clip(frame, mode="custom"), None, ["1", "1/2/1", "paired"])
    (found,) = study.figures()
    plot = plot_svg(found)
    ET.fromstring(plot)
    for words in ("taps of the flicker filter", "line pairs", "1/2/1", "none", "flicker, mean", "% of white"):
        assert words in plot
    known = sum(
        row.metrics[key] is not None for row in study.rows for key in ("flicker_percent", "edge_spread_lines")
    )
    marks = plot.count("<use ")
    assert marks >= known > 0
    fewer = plot_svg(flicker_study(still_clip(frame, mode="custom"), None, ["1"]).figures()[0])
    assert fewer.count("<use ") < marks
