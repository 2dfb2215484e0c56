"""The demonstration: every scene of the club through its chains."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from typing import Any

from numpy.typing import NDArray

from scalesim.demo.bench import (
    CLUB,
    SCENES,
    chain_files,
    display_files,
)
from scalesim.demo.evening import lag_csv
from scalesim.jobs.demo.article import ARTICLE, ARTICLE_TITLE, WRITTEN, article_text
from scalesim.jobs.demo.filmed import Film
from scalesim.jobs.demo.scenes import SceneResult, scene_overview, scene_part, scene_pictures
from scalesim.jobs.demo.steps import (
    LAG_LOG,
    compare_scenes,
    draw_scene,
    film_scene,
    identify_box,
    lag_evening,
    land_fields,
    photo_of_tube,
    run_scene,
    trace_record,
    tune_scenes,
)
from scalesim.jobs.demo.tear import tear_evening
from scalesim.jobs.demo.tube import SCENE as TUBE_SCENE
from scalesim.jobs.demo.tube import tube_part
from scalesim.jobs.demo.verdict import verdict
from scalesim.jobs.demo.words import (
    ABOUT_LAB,
    ABOUT_LOOKS,
    CLOSING,
    OPENING,
    OVERVIEW_SCENE,
    OVERVIEW_WEIGHS,
)
from scalesim.result import File, Links, Part, Picture, Result, Table


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
