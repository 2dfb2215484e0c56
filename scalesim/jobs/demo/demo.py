"""The demonstration: every scene of the club through its chains."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.charts.kernel import kernel_chart
from scalesim.charts.sync import Bench, sync_chart
from scalesim.core.clip import Clip, still_clip
from scalesim.core.lag_table import LagTable
from scalesim.demo.bench import (
    CLUB,
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
from scalesim.jobs.demo.article import ARTICLE, ARTICLE_TITLE, WRITTEN, article_text
from scalesim.jobs.demo.filmed import SCENE as FILMED_SCENE
from scalesim.jobs.demo.filmed import Film, Filmed, film_chains
from scalesim.jobs.demo.photo import SCENE as PHOTO_SCENE
from scalesim.jobs.demo.photo import photograph
from scalesim.jobs.demo.scenes import SceneResult, scene_overview, scene_part, scene_pictures
from scalesim.jobs.demo.tear import tear_evening
from scalesim.jobs.demo.tube import SCENE as TUBE_SCENE
from scalesim.jobs.demo.tube import tube_part
from scalesim.jobs.demo.verdict import verdict
from scalesim.jobs.demo.words import (
    ABOUT_LAB,
    ABOUT_LOOKS,
    CLOSING,
    COLUMNS,
    OPENING,
    OVERVIEW_SCENE,
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
from scalesim.result import File, Links, Part, Picture, Result, Table
from scalesim.tube.display import Display

TUNED_CHAIN = "position lines=0, line-average lines=480, line-drop lines=240"
CHART_MODE = "720p60"
LAG_LOG = "lag.csv"
GREY_BOX = "line-average lines=480, flicker-filter, interlace"


@dataclass(frozen=True, eq=False)
class Demonstration(Result):
    """Every scene with its predictions, and the results that it ends with; a `Result`.

    Parameters:  more : (folder, words, result) of a comparison, a tuning, a box, a trace, a log of lag,
    a photo and a clip;
    written : makes the write-up that places them, of the folder they lie in; None for none
    """

    scenes: tuple[SceneResult, ...]
    more: tuple[tuple[str, str, Result], ...] = ()
    written: Callable[[str], Result] | None = None

    kind = "demo"
    title = f"An evening at the {CLUB}"
    foot = CLOSING

    def sentences(self) -> list[str]:
        """Return what the page is about."""
        return list(OPENING)

    def table(self) -> Table:
        """Return which scene went through which chains."""
        rows = tuple(
            (result.scene.title, result.scene.mode, str(len(result.predictions))) for result in self.scenes
        )
        return Table("Scenes", ("scene", "mode", "chains"), rows, ("left", "left", "right"))

    @property
    def kept_pictures(self) -> dict[str, Callable[[], NDArray]]:
        """Every frame and every raster, in a folder for each scene; and the overview."""
        found: dict[str, Callable[[], NDArray]] = {}
        for result in self.scenes:
            found |= scene_pictures(result)
            if result.scene.key == OVERVIEW_SCENE:
                found["overview"] = partial(scene_overview, result)
        return found

    def parts(self) -> Iterable[Part]:
        """Yield the overview with the results, a part a scene, and the tubes after the one they show."""
        yield self._overview()
        for result in self.scenes:
            yield scene_part(result)
            if result.scene.key == TUBE_SCENE:
                yield tube_part(result)

    def _overview(self) -> Part:
        """Return what shows most at a glance, beside links to the results."""
        result = next(each for each in self.scenes if each.scene.key == OVERVIEW_SCENE)
        drop, average = (result.predictions[key] for key in ("drop-720p", "average"))
        names = (drop.chain.name, average.chain.name)
        said = verdict(names, (drop.metrics, average.metrics), OVERVIEW_WEIGHS)
        picture = Picture(
            "overview",
            partial(scene_overview, result),
            "",
            f"{result.scene.title}: one part of the source, with lines dropped, averaged, and as two fields",
            f"{result.scene.title}: the same part before and after three chains.",
        )
        title = "One frame, three chains, three pictures"
        results = [(f"{folder}/index.html", child.title) for folder, _, child in self.more]
        if self.written is not None:
            results.append(("written/index.html", ARTICLE_TITLE))
        found = (Links("On pages of their own:", tuple(results)),) if results else ()
        return Part(title, (said, ABOUT_LOOKS, ABOUT_LAB), (picture, *found), "overview", layout="beside")

    def children(self) -> Iterable[tuple[str, str, Result | Callable[[str], Result]]]:
        """Yield what it ends with, each with a page of its own, and the write-up that places them."""
        yield from self.more
        if self.written is not None:
            yield "written", WRITTEN, self.written

    def files(self) -> dict[str, File]:
        """Return the article that the write-up is made from, and the log of lag."""
        article = {"article": File(ARTICLE, article_text())} if self.written is not None else {}
        return article | {"lag_log": File(LAG_LOG, lag_csv())}

    def to_dict(self) -> dict[str, Any]:
        """Return the scores: scene -> chain -> metrics and reasons."""
        return {"scenes": {result.scene.key: _scores(result) for result in self.scenes}}


@dataclass(frozen=True, eq=False)
class Drawn(Result):
    """The drawn frames and the chain files alone; a `Result`."""

    kind = "demo"
    title = f"Frames and chains of the {CLUB}"

    def sentences(self) -> list[str]:
        """Return what there is."""
        chains, displays = len(chain_files()), len(display_files())
        return [f"{len(SCENES)} frames, {chains} chain files and {displays} displays."]

    def table(self) -> Table:
        """Return the frames."""
        rows = tuple((scene.title, scene.mode) for scene in SCENES)
        return Table("Frames", ("scene", "mode"), rows)

    @property
    def kept_pictures(self) -> dict[str, Callable[[], NDArray]]:
        """The frames."""
        return {scene.key: partial(draw_scene, scene) for scene in SCENES}

    def picture_file(self, name: str) -> str:
        """Return the place of a frame."""
        return f"frames/{name}.png"

    def parts(self) -> Iterable[Part]:
        """Return the list of frames."""
        return (Part("Frames", items=(self.table(),)),)

    def files(self) -> dict[str, File]:
        """Return the chain files."""
        chains = {key: File(f"chains/{key}.toml", text) for key, text in chain_files().items()}
        displays = {key: File(f"displays/{key}.toml", text) for key, text in display_files().items()}
        return chains | displays

    def to_dict(self) -> dict[str, Any]:
        """Return no scores: nothing was predicted."""
        return {"scenes": {}}


def demonstrate(
    advance: Callable[[str], None] = lambda _: None,
    *,
    written: Callable[[str], Result] | None = None,
    film: Film | None = None,
) -> Demonstration:
    """Return the whole demonstration.

    Parameters:  written : makes its write-up, of the folder it is saved in; film : writes its clip
    """
    scenes = tuple(run_scene(scene, advance) for scene in SCENES)
    more: tuple[tuple[str, str, Result], ...] = (
        ("comparison", "A comparison", compare_scenes(advance)),
        ("tuning", "A tuning of two frames", tune_scenes(advance)),
        ("identified", "A box identified from a simulated capture", identify_box(advance)),
        ("traced", "Sync and levels from a simulated oscilloscope", trace_record(advance)),
        ("landed", "Why one box gives two pictures on the club's sets", land_fields(advance)),
        ("lag", "An evening's lag of three boxes", lag_evening(advance)),
        ("motion", "A simulated box that tears, told by the counter chart", tear_evening(advance)),
        ("photographed", "A simulated photo of the tube, and which box explains it", photo_of_tube(advance)),
    )
    if film is not None:
        more = (*more, ("filmed", "A clip", film_scene(film, advance)))
    return Demonstration(scenes, more, written)


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


STEPS_AT_END = 8
"""How many times `tune_scenes` and the seven after it report progress."""


def steps_in_comparison() -> int:
    """Return how many times comparing reports progress."""
    return len(COMPARED_SCENES) * len(COMPARED_CHAINS)


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
