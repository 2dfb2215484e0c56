"""Weighing on a page: the browser's order is Python's, at several weights, by its own sliders and keys.

The script is driven in Chromium; what it must give is `scalesim.jobs.compare.weighing.weighed`.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from jobs.test_compare_summary import FakeRow

from scalesim.jobs.compare.contest import Contest, contest
from scalesim.jobs.compare.ranking import DEFAULT_BY
from scalesim.jobs.compare.weighing import weighed, weighing
from scalesim.result import Part, Result, Table
from scalesim.saving import save

if TYPE_CHECKING:
    from playwright.sync_api import Page

Opener = Callable[..., "Page"]
NASTY = "</script><b>x</b>"
HOST = "document.querySelector('[data-weighing]')"
WEIGHTS = [(1, 1, 1), (4, 1, 1), (0, 1, 1), (1, 0, 0.25), (0, 0, 0), (0.5, 3.75, 2), (2, 2, 2)]


class Shown(Result):
    """A result of one part that is weighed."""

    kind = "shown"

    def __init__(self, own: Contest) -> None:
        self.own = own

    def sentences(self) -> list[str]:
        return ["Weigh it."]

    def table(self) -> Table:
        return Table("None", ("a",), ())

    def parts(self) -> list[Part]:
        found = weighing(self.own)
        assert found is not None
        return [Part("Weighing", items=(found,), anchor="own")]

    def to_dict(self) -> dict[str, Any]:
        return {}


def random_contest(frames: int, seed: int = 5) -> Contest:
    """Five chains and a capture on many or few frames, with ties and a gap."""
    random = np.random.RandomState(seed)
    chains = [NASTY, "b", "c", "d", "e"]
    rows = [
        FakeRow(str(n), chain, {key: float(random.randint(0, 5) + k / 2) / 8 for key in DEFAULT_BY})
        for n in range(frames)
        for k, chain in enumerate(chains)
    ]
    rows += [FakeRow(row.frame, "box", dict(row.metrics)) for row in rows if row.chain == "c"]
    rows[3].metrics["lost_lines"] = None
    return contest("one screen", rows, DEFAULT_BY, frozenset(["box"]))


def opened(own: Contest, tmp_path: Path, open_page: Opener, **more: Any) -> Page:
    save(Shown(own), tmp_path / "o")
    return open_page(tmp_path / "o" / "index.html", **more)


@pytest.mark.parametrize("frames", [3, 9])
def test_the_browser_orders_as_python_does(frames: int, tmp_path: Path, open_page: Opener) -> None:
    own = random_contest(frames)
    page = opened(own, tmp_path, open_page)
    data = weighing(own)
    assert data is not None and bool(data.draws) == (frames >= 6)
    labels = [weight.label for weight in data.weights]
    orders = set()
    for weights in WEIGHTS:
        found = page.evaluate(f"{HOST}.weighing.weigher.order({list(weights)})")
        wanted = weighed(own, dict(zip(labels, weights, strict=True)))
        for mine, place in zip(found, wanted, strict=True):
            assert (mine["chain"], mine["place"]) == (place.chain, place.place), weights
            for key in ("score", "low", "high", "lead"):
                assert mine[key] == pytest.approx(getattr(place, key), abs=1e-9), (weights, key)
        orders.add(tuple(each["chain"] for each in found))
    assert len(orders) > 2  # the weights do turn the order


def test_sliders_keys_and_words(tmp_path: Path, open_page: Opener) -> None:
    """The rows follow the slider; who is first wherever it stands is told; the button goes back."""
    own = random_contest(9)
    page = opened(own, tmp_path, open_page)
    data = weighing(own)
    assert data is not None

    def rows() -> list[int]:
        return page.evaluate(f"[...{HOST}.querySelectorAll('tbody tr')].map((row) => +row.dataset.chain)")

    equal = [place.chain for place in data.equal]
    assert rows() == equal
    slider = page.locator("input[type=range]").first
    slider.focus()
    for _ in range(12):
        page.keyboard.press("ArrowRight")
    assert slider.get_attribute("aria-valuetext") == "counts 4 times"
    wanted = [place.chain for place in weighed(own, {data.weights[0].label: 4.0})]
    assert rows() == wanted and wanted != equal
    said = page.locator(".weighing [role=status]").inner_text()
    assert said.startswith("At these weights") and own.chains[wanted[0]] in said
    strip = page.locator(".winners").first.inner_text()
    for weight in (0.0, 1.0, 4.0):
        assert own.chains[weighed(own, {data.weights[0].label: weight})[0].chain] in strip
    page.get_by_role("button", name="Equal weights").click()
    assert rows() == equal
    best, after = data.equal[0], data.equal[1]
    assert best.score is not None and best.lead is not None and after.score is not None
    told = page.locator(".weighing [role=status]").inner_text().replace("\xa0", " ")
    assert told == (
        f"At equal weights, {own.chains[best.chain]} has the best mean rank ({best.score:.2f}, on 9 frames), "
        f"{after.score - best.score:.2f} ahead of {own.chains[after.chain]}; "
        f"alone first in {100 * best.lead:.0f} % of their resamples."
    )
    assert page.locator("b").count() == 0  # a name is a name


def test_a_half_is_printed_as_the_tables_print_it(tmp_path: Path, open_page: Opener) -> None:
    """62.5 % is 62 % here as in the ranking's table: by Python's format, and 1.145 is no half."""
    page = opened(random_contest(9), tmp_path, open_page)
    for score, lead in [(1.125, 0.625), (1.375, 0.635), (2.0, 0.285), (1.145, 1.0), (1.9872, 0.0)]:
        place = f"{{place: 1, score: {score}, low: null, high: null, lead: {lead}}}"
        page.evaluate(f"{HOST}.weighing.fill({HOST}.querySelector('tbody tr'), {place})")
        cells = page.locator(".weighing tbody tr").first.locator("td").all_inner_texts()
        assert [text.replace("\xa0", " ") for text in cells[-2:]] == [f"{score:.2f}", f"{100 * lead:.0f} %"]


def test_the_best_mean_rank_of_few_frames_makes_nobody_first(tmp_path: Path, open_page: Opener) -> None:
    """How far it is ahead is said, and on how many frames; of other frames nothing."""
    own = random_contest(3)
    page = opened(own, tmp_path, open_page)
    said = page.locator(".weighing [role=status]").inner_text()
    assert re.search(r"has the best mean rank \(\d\.\d\d, on 3 frames\), \d\.\d\d ahead of \w+\.$", said)
    assert "first" not in said and "lead" not in said


def test_without_scripts_the_order_at_equal_weights_is_there(tmp_path: Path, open_page: Opener) -> None:
    own = random_contest(9)
    page = opened(own, tmp_path, open_page, java_script_enabled=False)
    names = page.locator(".weighing tbody th").all_inner_texts()
    equal = [own.chains[place.chain] for place in weighed(own)]
    assert [name.split(" ◆")[0] for name in names] == equal
    assert [("◆" in name) for name in names] == [not own.beaten[own.chains.index(name)] for name in equal]
    assert page.locator("input[type=range]").first.is_hidden() and page.locator(".bands .band").count() == 6


@pytest.mark.parametrize("width", [390, 1280])
def test_fits_and_can_be_used_by_everyone(width: int, tmp_path: Path, open_page: Opener) -> None:
    module = pytest.importorskip(
        "axe_playwright_python.sync_playwright", reason="needs axe-playwright-python"
    )
    page = opened(random_contest(9), tmp_path, open_page, viewport={"width": width, "height": 800})
    found = module.Axe().run(page).response["violations"]
    assert [(each["id"], [node["html"][:200] for node in each["nodes"]]) for each in found] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
