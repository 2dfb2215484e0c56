"""What the demonstration is made of: scenes through chains, and one result of every other job."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.charts.kernel import kernel_chart
from scalesim.charts.sync import Bench, sync_chart
from scalesim.core.clip import Clip, still_clip
from scalesim.core.lag_table import LagTable
from scalesim.demo.bench import (
    COMPARED_CHAINS,
    COMPARED_SCENES,
    SCENES,
    Scene,
    chain_files,
    display_files,
)
from scalesim.demo.evening import BOXES, lag_csv
from scalesim.jobs.compare.compare import compare
from scalesim.jobs.compare.comparison import Comparison
from scalesim.jobs.demo.filmed import SCENE as FILMED_SCENE
from scalesim.jobs.demo.filmed import Film, Filmed, film_chains
from scalesim.jobs.demo.photo import SCENE as PHOTO_SCENE
from scalesim.jobs.demo.photo import photograph
from scalesim.jobs.demo.scenes import SceneResult
from scalesim.jobs.demo.words import (
    COLUMNS,
    OVERVIEW_WEIGHS,
)
from scalesim.jobs.frames import FrameSource
from scalesim.jobs.identify.identification import Identification
from scalesim.jobs.identify.identify import identify
from scalesim.jobs.lag.answer import Lagged
from scalesim.jobs.lag.lag import lag
from scalesim.jobs.landing.answer import Landings
from scalesim.jobs.landing.landing import landing
from scalesim.jobs.predict.predict import predict
from scalesim.jobs.trace.trace import trace
from scalesim.jobs.tune.tune import tune
from scalesim.jobs.tune.tuning import Tuning
from scalesim.result import Result
from scalesim.tube.display import Display

TUNED_CHAIN = "position lines=0, line-average lines=480, line-drop lines=240"
CHART_MODE = "720p60"
LAG_LOG = "lag.csv"
GREY_BOX = "line-average lines=480, flicker-filter, interlace"


def draw_scene(scene: Scene) -> NDArray:
    """Return a scene's frame, (lines, samples, 3) float32 code values that are exact 8-bit codes."""
    return scene.draw().astype(np.float32) / np.float32(255)


def demo_chains() -> dict[str, Chain]:
    """Return the package's chains by key."""
    return {key: Chain.from_toml(text) for key, text in chain_files().items()}


def count_of_steps() -> int:
    """Return how many times all of these report progress."""
    scenes = sum(1 + len(scene.chains) for scene in SCENES)
    return scenes + len(COMPARED_SCENES) * len(COMPARED_CHAINS) + _STEPS_AT_END


def compare_scenes(advance: Callable[[str], None] = lambda _: None) -> Comparison:
    """Return the chains of `COMPARED` over the scenes they suit: what the demonstration ends with."""
    chains = {chain.name: chain for key, chain in demo_chains().items() if key in COMPARED_CHAINS}
    scenes = {scene.key: scene for scene in SCENES}
    frames = [FrameSource(f"{key}.png", partial(_clip_of, scenes[key])) for key in COMPARED_SCENES]
    return compare(chains, frames, advance=advance)


def tune_scenes(advance: Callable[[str], None] = lambda _: None) -> Tuning:
    """Return where two frames should sit before lines are averaged to 480 and every other one dropped."""
    advance("tuning two frames")
    scenes = {scene.key: scene for scene in SCENES}
    frames = [FrameSource(f"{key}.png", partial(_clip_of, scenes[key])) for key in COMPARED_SCENES]
    return tune(TUNED_CHAIN, frames, vary={"position.lines": (-4, 4, 1 / 4)})


def identify_box(advance: Callable[[str], None] = lambda _: None) -> Identification:
    """Return what the club's grey box does, from a capture that is simulated: four frames with noise."""
    advance("identifying a box")
    random = np.random.RandomState(1)
    played = still_clip(kernel_chart(CHART_MODE).frame, mode=CHART_MODE)
    made = predict(played, GREY_BOX, metrics=[]).woven
    frames = [
        np.clip(0.02 + 0.95 * made + random.normal(0, 3 / 255, made.shape), 0, 1).astype(np.float32)
        for _ in range(4)
    ]
    return identify(frames, CHART_MODE)


def trace_record(advance: Callable[[str], None] = lambda _: None) -> Result:
    """Return what a simulated record of the club's sources tells: interlaced, and a fifth over its level."""
    advance("reading a trace")
    bench = Bench(gain=1.2, hum_mv=60, noise_mv=8, bits=8)
    return trace([sync_chart("480i", mhz=10.0, bench=bench).trace])


SEEN = "hall set=one/cold,bench monitor=two"
"""What members saw of the new box."""


def land_fields(advance: Callable[[str], None] = lambda _: None) -> Landings:
    """Return where the club's sets land the fields of the new box, and what explains what members saw."""
    advance("landing fields")
    sets = [Display.from_toml(text) for text in display_files().values()]
    return landing(display=sets, sync="start=line-start", seen=SEEN)


def lag_evening(advance: Callable[[str], None] = lambda _: None) -> Lagged:
    """Return what the club's log of lag tells: no lag, a constant one, and one that drifts and wraps."""
    advance("reading a log of lag")
    rows = [row.split(",") for row in lag_csv().splitlines()[1:]]
    table = LagTable(
        LAG_LOG,
        np.array([float(lag) for _, _, lag in rows]),
        times=np.array([float(time) for time, _, _ in rows]),
        labels=np.array([BOXES.index(box) for _, box, _ in rows]),
        names=BOXES,
    )
    return lag([table], rate="59.94", total=True)


def photo_of_tube(advance: Callable[[str], None] = lambda _: None) -> Result:
    """Return which of two boxes explains a photo of the tube that is simulated."""
    return photograph(_clip_of({scene.key: scene for scene in SCENES}[PHOTO_SCENE]), advance)


def film_scene(film: Film, advance: Callable[[str], None] = lambda _: None) -> Filmed:
    """Return two chains as a scene scrolls, in a clip that is written when it is saved."""
    advance("filming two chains")
    return film_chains(_clip_of({scene.key: scene for scene in SCENES}[FILMED_SCENE]), demo_chains(), film)


_STEPS_AT_END = 8
"""How many times `tune_scenes` and the seven after it report progress."""


def _clip_of(scene: Scene) -> Clip:
    return still_clip(draw_scene(scene), mode=scene.mode, name=f"{scene.key}.png")


def measured(scene: Scene) -> tuple[str, ...]:
    """Return the measures that a scene's table and its verdict tell: no others are taken."""
    return tuple(dict.fromkeys((*COLUMNS, *scene.weighs, *OVERVIEW_WEIGHS)))


def run_scene(scene: Scene, advance: Callable[[str], None] = lambda _: None) -> SceneResult:
    """Draw a scene and predict it through its chains; `advance` is called with what is next."""
    advance(f"drawing {scene.title}")
    clip = _clip_of(scene)
    assert clip.frame is not None
    chains = demo_chains()
    predictions = {}
    for key in scene.chains:
        advance(f"{scene.title}: {chains[key].name}")
        predictions[key] = predict(clip, chains[key], metrics=measured(scene))
    return SceneResult(scene, clip.frame, predictions)
