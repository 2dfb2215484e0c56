"""One scene of the club on the page: its frame, and a close look after each of its chains."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial

from numpy.typing import NDArray

from scalesim.demo.bench import Scene
from scalesim.draw.overview import overview
from scalesim.jobs.demo.words import COLUMNS, OVERVIEW_CHAINS
from scalesim.jobs.predict.crop import CROP, cut, place_on_screen
from scalesim.jobs.predict.prediction import Prediction
from scalesim.metrics import METRICS, key_of
from scalesim.result import Part, Picture, Table


@dataclass(frozen=True, eq=False)
class SceneResult:
    """A scene, its frame (float32 code values) and its predictions by chain key."""

    scene: Scene
    frame: NDArray
    predictions: dict[str, Prediction]


def scene_pictures(result: SceneResult) -> dict[str, Callable[[], NDArray]]:
    """Return name -> what makes it: the frame, each chain's raster, and the same at the tube's shape."""
    key = result.scene.key
    found: dict[str, Callable[[], NDArray]] = {f"{key}/source": lambda: result.frame}
    for chain, prediction in result.predictions.items():
        found[f"{key}/{chain}"] = partial(getattr, prediction, "woven")
        found[f"{key}/{chain}-seen"] = partial(getattr, prediction, "seen")
    return found


def scene_part(result: SceneResult) -> Part:
    """Return the scene's part of the page."""
    scene = result.scene
    height, width = result.frame.shape[:2]
    source = Picture(
        f"{scene.key}/source-look",
        source_look(result),
        "the source",
        f"{scene.title}: a part of the source frame",
        f"{width}x{height}, the same part, one dot for one sample, before any box.",
        shown=f"{scene.key}/source",
    )
    looks = [_look_of(result, key, prediction) for key, prediction in result.predictions.items()]
    return Part(
        scene.title, (scene.about,), (source, *looks, _table(result)), scene.key, scene.mode, layout="grid"
    )


def scene_overview(result: SceneResult) -> NDArray:
    """Return the labelled close looks of a scene that show most at a glance, uint8."""
    panels = [("The source, 720p", source_look(result))]
    panels += [(label, look(result, result.predictions[key])) for key, label in OVERVIEW_CHAINS.items()]
    return overview(panels)


def look(result: SceneResult, prediction: Prediction) -> NDArray:
    """Return the scene's close look after a chain, at the tube's shape."""
    seen, (height, width) = prediction.seen, result.frame.shape[:2]
    down, across = result.scene.look
    return cut(seen, *place_on_screen(prediction, down * height, across * width, seen.shape))


def source_look(result: SceneResult) -> NDArray:
    """Return the part of the source that the first chain's close look shows, one dot for one sample."""
    frame, first = result.frame, next(iter(result.predictions.values()))
    dots = first.seen.shape
    share = (CROP[0] / dots[0], CROP[1] / dots[1])
    lines, samples = (round(part * size) for part, size in zip(share, frame.shape, strict=False))
    at = result.scene.look
    return cut(frame, at[0] * frame.shape[0], at[1] * frame.shape[1], (lines, samples))


def _look_of(result: SceneResult, key: str, prediction: Prediction) -> Picture:
    scene = result.scene
    found = ((key_of(name), prediction.metrics.get(name)) for name in METRICS)
    said = ", ".join(filter(None, (key.caption(value) for key, value in found if value is not None)))
    mode = "" if prediction.mode_out == "custom" else f"{prediction.mode_out}. "
    return Picture(
        f"{scene.key}/{key}-look",
        look(result, prediction),
        prediction.chain.name,
        f"{scene.title} after {prediction.chain.name}: the same part as the tube shows it",
        f"{mode}{said[:1].upper()}{said[1:]}.",
        shown=f"{scene.key}/{key}-seen",
        code=prediction.chain.text,
    )


def _table(result: SceneResult) -> Table:
    rows = tuple(
        (prediction.chain.name, *(_cell(prediction.metrics, key) for key in COLUMNS))
        for prediction in result.predictions.values()
    )
    return Table(
        "All chains of this frame; lower is better in every column but the last",
        ("chain", *(key_of(key).head for key in COLUMNS)),
        rows,
        ("left", *("right",) * len(COLUMNS)),
        head=0,
    )


def _cell(metrics: Mapping[str, float | None], key: str) -> str:
    value = metrics.get(key)
    return "\u2013" if value is None else key_of(key).number(value)[0]
