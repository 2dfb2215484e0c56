"""The demonstration: every scene of the club through its chains."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.core.clip import Clip, still_clip
from scalesim.demo.bench import COMPARED_CHAINS, COMPARED_SCENES, SCENES, Scene, chain_files
from scalesim.jobs.compare import Comparison, compare
from scalesim.jobs.predict import Prediction, predict
from scalesim.jobs.rows import FrameSource


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
