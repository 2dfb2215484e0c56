"""One scene of the club on the page: its verdict, the source, and a close look after two of its chains."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from scalesim.core.encoding import code_to_light, light_to_code
from scalesim.core.raster import visible_slices
from scalesim.demo.bench import Scene
from scalesim.draw.overview import overview
from scalesim.jobs.demo.verdict import verdict
from scalesim.jobs.demo.words import COLUMNS, OVERVIEW_CHAINS, OVERVIEW_SCENE
from scalesim.jobs.predict.crop import cut, place_on_screen
from scalesim.jobs.predict.prediction import Prediction
from scalesim.metrics import key_of
from scalesim.result import Part, Picture, Table

LOOK, WIDE = (180, 300), (180, 400)
"""Dots of a close look, lines and samples: one beside the words, and one of the overview or a tube."""


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
    one, other = (result.predictions[key] for key in scene.ends)
    names = (one.chain.name, other.chain.name)
    said = verdict(names, (one.metrics, other.metrics), scene.weighs)
    # a woven frame is two moments, no picture to set beside others; one source stands in the overview already
    alone = one.source.raster.period == 2 or scene.key == OVERVIEW_SCENE
    size = WIDE if alone else LOOK
    looks = [_look_of(result, key, result.predictions[key], size) for key in scene.ends]
    shown = looks if alone else [_source(result), *looks]
    text = (said, scene.about)
    return Part(scene.title, text, (*shown, _table(result)), scene.key, scene.mode, layout="beside")


def scene_overview(result: SceneResult) -> NDArray:
    """Return the labelled close looks of a scene that show most at a glance, uint8."""
    panels = [("The source, 720p", source_look(result, WIDE))]
    panels += [(label, look(result, result.predictions[key], WIDE)) for key, label in OVERVIEW_CHAINS.items()]
    return overview(panels)


def look(result: SceneResult, prediction: Prediction, size: tuple[int, int] = LOOK) -> NDArray:
    """Return the scene's close look after a chain, at the tube's shape."""
    seen, (height, width) = _as_tall(prediction, tallest(result)), result.frame.shape[:2]
    down, across = result.scene.look
    return cut(seen, *place_on_screen(prediction, down * height, across * width, seen.shape), size)


def tallest(result: SceneResult) -> int:
    """Return the dot rows of the taller one of the scene's two ends, which both are looked at."""
    return max(len(result.predictions[key].seen) for key in result.scene.ends)


def _as_tall(prediction: Prediction, rows: int) -> NDArray:
    """Return the seen picture so many dot rows tall, where its lines have whole rows then; else as it is."""
    seen, raster = prediction.seen, prediction.raster
    window, _ = visible_slices(raster, *prediction.landed.shape[:2])
    lines = window.stop - window.start
    if rows == len(seen) or rows % lines:
        return seen
    width = round(seen.shape[1] * rows / len(seen))
    columns = ((np.arange(width) + 0.5) * seen.shape[1] / width).astype(np.int64)
    return np.repeat(seen[:: len(seen) // lines][:, columns], rows // lines, axis=0)


def source_look(result: SceneResult, size: tuple[int, int] = LOOK) -> NDArray:
    """Return the same part of the source as large as the looks are, each dot the mean light it covers."""
    seen = result.predictions[result.scene.ends[0]].seen
    shape = (tallest(result), round(seen.shape[1] * tallest(result) / len(seen)))
    down, across = (share * size for share, size in zip(result.scene.look, shape, strict=False))
    top = int(np.clip(down - size[0] / 2, 0, shape[0] - size[0]))
    left = int(np.clip(across - size[1] / 2, 0, shape[1] - size[1]))
    light = code_to_light(result.frame)
    for axis, first, count in ((0, top, size[0]), (1, left, size[1])):
        edges = (first + np.arange(count + 1)) * (light.shape[axis] / shape[axis])
        light = _means(light, axis, edges)
    return light_to_code(light).astype(np.float32)


def _means(values: NDArray, axis: int, edges: NDArray) -> NDArray:
    """Return the means of values over what lies between the edges, along an axis, edges at integers."""
    moved = np.moveaxis(values, axis, 0).astype(np.float64)
    running = np.concatenate([np.zeros_like(moved[:1]), np.cumsum(moved, axis=0)])
    whole = np.minimum(edges.astype(int), len(moved) - 1)
    part = (edges - whole).reshape(-1, *(1,) * (moved.ndim - 1))
    at = running[whole] + part * moved[whole]
    return np.moveaxis(np.diff(at, axis=0) / np.diff(edges).reshape(-1, *(1,) * (moved.ndim - 1)), 0, axis)


def _source(result: SceneResult) -> Picture:
    scene = result.scene
    height, width = result.frame.shape[:2]
    return Picture(
        f"{scene.key}/source-look",
        source_look(result),
        "the source",
        f"{scene.title}: a part of the source frame",
        f"{width}x{height}",
        shown=f"{scene.key}/source",
    )


def _look_of(result: SceneResult, key: str, prediction: Prediction, size: tuple[int, int]) -> Picture:
    scene = result.scene
    return Picture(
        f"{scene.key}/{key}-look",
        look(result, prediction, size),
        prediction.chain.name,
        f"{scene.title} after {prediction.chain.name}: the same part as the tube shows it",
        "" if prediction.mode_out == "custom" else prediction.mode_out,
        shown=f"{scene.key}/{key}-seen",
    )


def _table(result: SceneResult) -> Table:
    rows = tuple(
        (
            prediction.chain.name,
            *(_cell(prediction.metrics, key) for key in COLUMNS),
            prediction.chain.text,
        )
        for prediction in result.predictions.values()
    )
    count = len(result.predictions)
    return Table(
        f"All {count} chains of this frame in figures; less is better in every column but SSIM",
        ("chain", *(key_of(key).head for key in COLUMNS), "its boxes"),
        rows,
        ("left", *("right",) * len(COLUMNS), "left"),
        head=0,
        folded=True,
    )


def _cell(metrics: Mapping[str, float | None], key: str) -> str:
    value = metrics.get(key)
    return "\u2013" if value is None else key_of(key).number(value)[0]
