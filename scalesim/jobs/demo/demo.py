"""The demonstration: every scene of the club through its chains."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.charts.kernel import kernel_chart
from scalesim.core.clip import Clip, still_clip
from scalesim.demo.bench import COMPARED_CHAINS, COMPARED_SCENES, SCENES, Scene, chain_files
from scalesim.jobs.compare.compare import Comparison, compare
from scalesim.jobs.frames import FrameSource
from scalesim.jobs.identify.check import IdentifyCheck, check_identification
from scalesim.jobs.identify.identification import Identification
from scalesim.jobs.identify.identify import identify
from scalesim.jobs.predict.predict import Prediction, predict
from scalesim.jobs.tune.tune import tune
from scalesim.jobs.tune.tuning import Tuning

TUNED_CHAIN = "position lines=0, line-average lines=480, line-drop lines=240"
CHART_MODE = "720p60"
GREY_BOX = "line-average lines=480, flicker-filter, interlace"


@dataclass(frozen=True, eq=False)
class SceneResult:
    """A scene, its frame (float32 code values) and its predictions by chain key."""

    scene: Scene
    frame: NDArray
    predictions: dict[str, Prediction]


@dataclass(frozen=True, eq=False)
class Demonstration:
    """Every scene with its predictions."""

    scenes: tuple[SceneResult, ...]

    kind = "demo"

    def to_dict(self) -> dict[str, Any]:
        """Return the scores: scene -> chain -> metrics and reasons."""
        return {"scenes": {result.scene.key: _scores(result) for result in self.scenes}}


def _scores(result: SceneResult) -> dict[str, Any]:
    return {
        key: {"chain": str(p.chain), "mode_out": p.mode_out, "metrics": dict(p.metrics), "why": dict(p.why)}
        for key, p in result.predictions.items()
    }


def draw_scene(scene: Scene) -> NDArray:
    """Return a scene's frame, (lines, samples, 3) float32 code values that are exact 8-bit codes."""
    return scene.draw().astype(np.float32) / np.float32(255)


def demo_chains() -> dict[str, Chain]:
    """Return the package's chains by key."""
    return {key: Chain.from_toml(text) for key, text in chain_files().items()}


def steps_in_demo() -> int:
    """Return how many times `run_scene` reports progress over all scenes."""
    return sum(1 + len(scene.chains) for scene in SCENES)


def compare_scenes(advance: Callable[[str], None] = lambda _: None) -> Comparison:
    """Return the chains of `COMPARED` over the scenes they suit: what the demonstration ends with."""
    chains = {chain.name: chain for key, chain in demo_chains().items() if key in COMPARED_CHAINS}
    scenes = {scene.key: scene for scene in SCENES}
    frames = [FrameSource(f"{key}.png", partial(_clip_of, scenes[key])) for key in COMPARED_SCENES]
    return compare(chains, frames, advance=advance)


def tune_scenes(advance: Callable[[str], None] = lambda _: None) -> tuple[Tuning, list[FrameSource]]:
    """Return where two frames should sit before lines are averaged to 480 and every other one dropped."""
    advance("tuning two frames")
    scenes = {scene.key: scene for scene in SCENES}
    frames = [FrameSource(f"{key}.png", partial(_clip_of, scenes[key])) for key in COMPARED_SCENES]
    return tune(TUNED_CHAIN, frames, vary={"position.lines": (-4, 4, 1 / 4)}), frames


def identify_box(advance: Callable[[str], None] = lambda _: None) -> tuple[Identification, IdentifyCheck]:
    """Return what the club's grey box does, from a capture that is simulated: four frames with noise."""
    advance("identifying a box")
    random = np.random.RandomState(1)
    played = still_clip(kernel_chart(CHART_MODE).frame, mode=CHART_MODE)
    made = predict(played, GREY_BOX, metrics=[]).woven
    frames = [
        np.clip(0.02 + 0.95 * made + random.normal(0, 3 / 255, made.shape), 0, 1).astype(np.float32)
        for _ in range(4)
    ]
    found = identify(frames, CHART_MODE)
    return found, check_identification(found, frames)


STEPS_AT_END = 2
"""How many times `tune_scenes` and `identify_box` report progress."""


def steps_in_comparison() -> int:
    """Return how many times comparing, and writing it down, report progress."""
    return 2 * len(COMPARED_SCENES) * len(COMPARED_CHAINS)


def _clip_of(scene: Scene) -> Clip:
    return still_clip(draw_scene(scene), mode=scene.mode, name=f"{scene.key}.png")


def run_scene(scene: Scene, advance: Callable[[str], None] = lambda _: None) -> SceneResult:
    """Draw a scene and predict it through its chains; `advance` is called with what is next."""
    advance(f"drawing {scene.title}")
    clip = _clip_of(scene)
    assert clip.frame is not None
    chains = demo_chains()
    predictions = {}
    for key in scene.chains:
        advance(f"{scene.title}: {chains[key].name}")
        predictions[key] = predict(clip, chains[key])
    return SceneResult(scene, clip.frame, predictions)
