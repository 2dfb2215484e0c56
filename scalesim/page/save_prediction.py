"""Saving a prediction: the pictures of the views that were asked for, and the study of its flicker."""

from __future__ import annotations

import json
from pathlib import Path

from scalesim.errors import NotMeasurable
from scalesim.io.pictures.write import write_png
from scalesim.io.save import save_pictures
from scalesim.jobs.predict.flicker_study import FlickerStudy
from scalesim.jobs.predict.predict import Prediction
from scalesim.page.flicker_map import flicker_picture
from scalesim.page.plots.flicker import flicker_plot

VIEWS = {
    "raster": ("field-top", "field-bottom", "woven"),
    "seen": (),
    "screen": ("screen-photo", "screen-macro"),
    "fields": ("screen-top", "screen-bottom", "screen-first", "screen-second", "screen-difference"),
    "flicker": (),
}
"""A view and the pictures that come with it."""


def save_views(result: Prediction, folder: Path, views: list[str]) -> tuple[dict[str, str], list[str]]:
    """Write the pictures of some views; return name -> file name, and why a picture is missing."""
    names = {name for view in views for name in (view, *VIEWS[view])}
    files, said = save_pictures(result, folder, names), []
    if "flicker" in views:
        try:
            codes = flicker_picture(result.cycle, result.raster)
        except NotMeasurable as reason:
            said.append(f"no flicker map: {reason}")
        else:
            files["flicker"] = "flicker.png"
            write_png(folder / files["flicker"], codes / 255)
    return files, said


def save_study(study: FlickerStudy, folder: Path) -> dict[str, str]:
    """Write the plot and the rows of a flicker study; return name -> file name."""
    files = {"flicker-study": "flicker-study.svg", "flicker-study-rows": "flicker-study.json"}
    (folder / files["flicker-study"]).write_text(flicker_plot(study), encoding="utf-8")
    text = json.dumps(study.to_dict(), indent=2, ensure_ascii=False, allow_nan=False)
    (folder / files["flicker-study-rows"]).write_text(text + "\n", encoding="utf-8")
    return files
