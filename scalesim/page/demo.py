"""The demonstration's page: which pictures stand where, and what is said of them."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from scalesim.demo.bench import CLUB
from scalesim.io.pictures.write import write_png
from scalesim.jobs.demo.demo import Demonstration, SceneResult
from scalesim.jobs.predict.predict import Prediction
from scalesim.metrics import METRICS, key_of
from scalesim.page.crop import CROP, cut, place_on_screen
from scalesim.page.demo_tube import SCENE as TUBE_SCENE
from scalesim.page.demo_tube import tube_section
from scalesim.page.overview import overview
from scalesim.page.simple import Figure, Section, render_page
from scalesim.result import Table

OVERVIEW_SCENE = "kettle_crew"
OVERVIEW_CHAINS = {
    "drop-720p": "240p, lines dropped 3:1",
    "average": "240p, lines averaged",
    "interlaced-filtered": "480i, lines filtered 1/2/1",
}

_COLUMNS = (
    "edge_spread_lines",
    "line_doubling",
    "lost_lines",
    "flicker_percent",
    "flicker_area",
    "cropped_percent",
    "ssim",
)

OPENING = (
    f"The {CLUB} is invented, and so are its games, its boxes and everybody in it. Its members want to "
    "see new games on old televisions: tubes that draw 240 lines, or twice that by turns. Between the "
    "console and the tube stands a chain of boxes, and every chain does something else to the "
    "picture.",
    "Each close look below is cut from the predicted picture at the shape of a 4:3 tube, one dot of "
    "the page for one of the prediction, with the lines drawn as they land and no beam or glow added. "
    "Follow a picture to see it whole. Wide frames fill the 4:3 tube, and so look taller, unless a "
    "chain letterboxes them.",
    "Two fields that interlace are shown with their lines in turn; two fields that share one set of "
    "lines are shown as their mean in light. Nothing on this page flickers. One section shows the glass "
    "itself: beam, gaps between lines, and the sharpness of two kinds of tube.",
)

MORE = (
    ("comparison/index.html", "Six of these chains compared and ranked on two frames"),
    ("tuning/index.html", "Where the picture should sit: a tuning of two frames"),
    ("identified/index.html", "What a box does: identified from a simulated capture of the kernel chart"),
)

CLOSING = (
    "What is modelled: the lines and samples each box keeps, mixes or drops, its rounding, where the "
    "fields land, what the tube hides; on the tube, its beam and sharpness. What is not: geometry and "
    "glass, noise and lag. A prediction is a model; look at the real thing before you "
    "spend money.",
    "How to read the numbers: an edge 0.8 scan lines tall is as sharp as a progressive picture can be, "
    "0.4 an interlaced one. A split outline sits on one scan line more than it needs. Flicker is the "
    "change of light between two fields. SSIM is likeness to an ideal scaling and knows nothing of "
    "flicker, so it decides nothing alone.",
    "Alternate lines of light and dark flicker at 25 to 30 Hz on an interlaced display, which can harm "
    "people with photosensitive epilepsy. A tube holds lethal voltages when off: leave its inside to "
    "trained people, and follow the display's manual for input levels.",
)


def write_demo_page(demonstration: Demonstration, folder: Path) -> dict[str, str]:
    """Write frames, pictures and the page into a folder; return name -> file name.

    Each scene's pictures go to a folder of its own: `source.png`, and per chain `<chain>.png` (the
    raster), `<chain>-seen.png` and `<chain>-look.png`.
    """
    sections, files = [], {}
    for result in demonstration.scenes:
        place = folder / result.scene.key
        place.mkdir()
        files.update(_write_pictures(result, folder))
        sections.append(_section(result))
        if result.scene.key == TUBE_SCENE:
            section, own = tube_section(result, folder)
            sections.append(section)
            files.update(own)
    write_png(folder / "overview.png", _overview(demonstration) / np.float32(255))
    page = render_page(f"An evening at the {CLUB}", OPENING, tuple(sections), CLOSING, MORE)
    (folder / "index.html").write_text(page, encoding="utf-8")
    return {"page": "index.html", "overview": "overview.png", **files}


def _overview(demonstration: Demonstration) -> NDArray:
    """Return the labelled close looks of the scene and chains that show most at a glance."""
    result = next(r for r in demonstration.scenes if r.scene.key == OVERVIEW_SCENE)
    panels = [("The source, 720p", _source_look(result))]
    panels += [(label, _look(result, result.predictions[key])) for key, label in OVERVIEW_CHAINS.items()]
    return overview(panels)


def _look(result: SceneResult, prediction: Prediction) -> NDArray:
    seen, (height, width) = prediction.seen, result.frame.shape[:2]
    down, across = result.scene.look
    return cut(seen, *place_on_screen(prediction, down * height, across * width, seen.shape))


def _write_pictures(result: SceneResult, folder: Path) -> dict[str, str]:
    scene = result.scene
    pictures = {"source": result.frame, "source-look": _source_look(result)}
    for key, prediction in result.predictions.items():
        pictures |= {key: prediction.woven, f"{key}-seen": prediction.seen}
        pictures[f"{key}-look"] = _look(result, prediction)
    files = {}
    for name, values in pictures.items():
        files[f"{scene.key}/{name}"] = f"{scene.key}/{name}.png"
        write_png(folder / scene.key / f"{name}.png", values)
    return files


def _source_look(result: SceneResult) -> NDArray:
    """Return the part of the source that the first chain's close look shows, one dot for one sample."""
    frame, first = result.frame, next(iter(result.predictions.values()))
    dots = first.seen.shape
    share = (CROP[0] / dots[0], CROP[1] / dots[1])
    lines, samples = (round(part * size) for part, size in zip(share, frame.shape, strict=False))
    look = result.scene.look
    return cut(frame, look[0] * frame.shape[0], look[1] * frame.shape[1], (lines, samples))


def _section(result: SceneResult) -> Section:
    scene = result.scene
    height, width = result.frame.shape[:2]
    shown = _source_look(result).shape
    source = Figure(
        "the source",
        f"{scene.key}/source-look.png",
        f"{scene.key}/source.png",
        f"{scene.title}: a part of the source frame",
        f"{width}x{height}, the same part, one dot for one sample, before any box.",
        size=(shown[1], shown[0]),
    )
    figures = [source, *(_figure(result, key, p) for key, p in result.predictions.items())]
    return Section(scene.key, scene.title, scene.mode, (scene.about,), tuple(figures), _table(result))


def _figure(result: SceneResult, key: str, prediction: Prediction) -> Figure:
    scene = result.scene
    found = ((key_of(name), prediction.metrics.get(name)) for name in METRICS)
    said = ", ".join(filter(None, (key.caption(value) for key, value in found if value is not None)))
    mode = "" if prediction.mode_out == "custom" else f"{prediction.mode_out}. "
    return Figure(
        prediction.chain.name,
        f"{scene.key}/{key}-look.png",
        f"{scene.key}/{key}-seen.png",
        f"{scene.title} after {prediction.chain.name}: the same part as the tube shows it",
        f"{mode}{said[:1].upper()}{said[1:]}.",
        prediction.chain.text,
    )


def _table(result: SceneResult) -> Table:
    rows = tuple(
        (prediction.chain.name, *(_cell(prediction.metrics, key) for key in _COLUMNS))
        for prediction in result.predictions.values()
    )
    return Table(
        "All chains of this frame; lower is better in every column but the last",
        ("chain", *(key_of(key).head for key in _COLUMNS)),
        rows,
        ("left", *("right",) * len(_COLUMNS)),
    )


def _cell(metrics: Mapping[str, float | None], key: str) -> str:
    value = metrics.get(key)
    return "–" if value is None else key_of(key).number(value)[0]
