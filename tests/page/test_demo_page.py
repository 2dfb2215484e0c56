"""The demonstration's page in a browser: its height, what comes first, half the pictures, nothing cut off."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from scalesim.demo.bench import SCENES
from scalesim.jobs.demo import demo, steps
from scalesim.jobs.demo.scenes import source_look
from scalesim.result import Result, Table
from scalesim.saving import save

Opener = Callable[..., Any]

SCREENS = 6
"""Of 1280x720, at most."""
TILES_BEFORE = 52
"""Close looks of a page that showed the source and every chain of each frame, and eight tubes."""
TITLE = "The box averages lines down to 480, filters them by 1/2/1 and sends them as two fields"


@dataclass(frozen=True)
class _Toy(Result):
    """A result in the place of the three that are tested elsewhere, with as long a title as theirs."""

    kind = "toy"
    title = TITLE

    def sentences(self) -> list[str]:
        return ["Nothing."]

    def table(self) -> Table:
        return Table("Nothing", ("a",), (("b",),))

    def to_dict(self) -> dict[str, Any]:
        return {}


pytestmark = pytest.mark.slow  # the whole demonstration is made, which takes half a minute


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> demo.Demonstration:
    """All scenes through all chains, with the measures that their verdicts weigh."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(steps, "measured", lambda scene: scene.weighs)
        scenes = tuple(steps.run_scene(scene) for scene in SCENES)
    more = tuple((f"r{k}", "A box identified from a simulated capture", _Toy()) for k in range(3))
    return demo.Demonstration(scenes, more)


@pytest.fixture(scope="module")
def folder(shown: demo.Demonstration, tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("demo") / "o"
    save(shown, place)
    return place


def _open(folder: Path, open_page: Opener, width: int, height: int) -> Any:
    index = folder / "index.html"
    return open_page(index, also=_asked(folder), viewport={"width": width, "height": height})


def _asked(folder: Path) -> tuple[str, ...]:
    """Return the pictures that the page shows: the looks and the overview."""
    looks = sorted(folder.rglob("*-look.png"))
    return tuple(path.as_uri() for path in (folder / "overview.png", *looks))


def test_six_screens_on_a_desktop_and_nothing_beyond_the_edge(folder: Path, open_page: Opener) -> None:
    page = _open(folder, open_page, 1280, 720)
    tall = page.evaluate("document.documentElement.scrollHeight")
    assert tall <= SCREENS * 720, f"{tall / 720:.1f} screens"
    assert page.evaluate("document.documentElement.scrollWidth") <= 1280
    first = page.evaluate("document.querySelector('main img').getBoundingClientRect().top")
    assert first < 720, "the first figure begins within the first screen"
    page.set_viewport_size({"width": 390, "height": 844})
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_every_dot_of_a_look_is_a_dot_of_the_page(folder: Path, open_page: Opener) -> None:
    """Pictures are cut where they have no room, never drawn smaller or larger: 180 dot rows stay 180."""
    page = _open(folder, open_page, 1280, 720)
    for width in (1280, 390):
        page.set_viewport_size({"width": width, "height": 844})
        sizes = page.evaluate(
            "[...document.querySelectorAll('figure img')].filter((i) => i.src.includes('-look'))"
            ".map((i) => [i.clientHeight, i.naturalHeight, getComputedStyle(i).objectFit])"
        )
        assert all(shown == own and fit == "none" for shown, own, fit in sizes), (width, sizes)


def test_what_comes_first_and_half_the_tiles(
    shown: demo.Demonstration, folder: Path, open_page: Opener
) -> None:
    """The overview and the results, then corridor, menu and hand-drawn frame; a verdict under each title."""
    page = _open(folder, open_page, 1280, 720)
    anchors = page.evaluate("[...document.querySelectorAll('h2')].map((each) => each.id)")
    assert anchors[:4] == ["overview", "deepvault_corridor", "ninth_lock_menu", "kettle_crew"]
    assert len(page.query_selector_all("main img")) <= TILES_BEFORE // 2
    top = page.evaluate(
        "[...document.querySelectorAll('[aria-labelledby=overview] a[href$=\"index.html\"]')]"
        ".map((each) => each.textContent)"
    )
    assert top == [TITLE] * 3
    for result in shown.scenes:
        first = page.evaluate(f"document.querySelector('[aria-labelledby={result.scene.key}] p').textContent")
        assert first.replace("\u00a0", " ").endswith("(1 frame).")
    tubes = page.evaluate(
        "[...document.querySelectorAll('.matrix figure')].map((each) => each.getBoundingClientRect())"
        ".map((box) => [box.left, box.top])"
    )
    assert len({left for left, _ in tubes}) == 3 and len({top for _, top in tubes}) == 2


def test_the_source_and_both_chains_are_at_one_scale(shown: demo.Demonstration, folder: Path) -> None:
    """The pixel art's dots are 3x3 source samples, so 4 dots of the page in the source and in its average.

    An average of each three lines gives that art back exactly: the source's look and the chain's differ by
    no more than the rounding of codes to light and back.
    """
    moss = next(each for each in shown.scenes if each.scene.key == "moss_tower")
    look = np.asarray(Image.open(folder / "moss_tower" / "average-look.png").convert("RGB")) / 255
    assert look.shape == (180, 300, 3)
    assert np.abs(look - source_look(moss)).mean() < 0.02
