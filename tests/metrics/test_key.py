"""A metric's key says everything about it: one file and one test make a new metric."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

import scalesim.metrics
from scalesim.core.clip import still_clip
from scalesim.jobs.compare.compare import compare
from scalesim.jobs.compare.tables import columns_of, metric_table
from scalesim.jobs.compare.words import figures_of
from scalesim.jobs.predict.predict import predict
from scalesim.metrics import METRICS, Evidence, Key, key_of
from scalesim.metrics._base import metric
from scalesim.result import Cell
from scalesim.search.objective import make_objective


@pytest.fixture
def toy() -> Iterator[Key]:
    """Return the key of a metric that is registered for one test: the mean luma that landed."""
    key = Key(
        "toy_light",
        "of white",
        "higher",
        "light of the toy",
        digits=3,
        best="brightest toy",
        worst="darkest toy",
        told=True,
        say="The toy shines at {}.",
        captions=("toy at {}",),
    )

    @metric(key)
    def light(evidence: Evidence) -> tuple[float]:
        return (float(evidence.landed_luma.mean()),)

    yield key
    del METRICS["toy_light"]


def grey() -> np.ndarray:
    """Return a flat frame of half the code range."""
    return np.full((480, 64, 3), 0.5, dtype=np.float32)


def test_a_new_metric_is_predicted_with_its_own_words(toy: Key) -> None:
    found = predict(still_clip(grey(), mode="custom"), "line-drop lines=240")
    rows = [row for row in found.table().rows if row[0] == "light of the toy"]
    assert rows == [("light of the toy", "0.500", "of white", "higher")]
    assert "The toy shines at 0.500." in found.sentences()
    assert "toy_light" in found.to_dict()["metrics"]


def test_a_new_metric_is_compared_with_its_own_words(toy: Key) -> None:
    chains = {"bright": "line-drop lines=240", "dark": "line-drop lines=240, level gain=0.5"}
    found = compare(chains, [still_clip(grey(), mode="custom")], by=["toy_light"])
    reasons = {place.chain: place.reason for place in found.ranking}
    assert reasons["bright"] == "brightest toy (0.500 of white)"
    assert reasons["dark"].startswith("darkest toy (0.2")
    columns = columns_of(found.rows, fidelity=False)
    table = metric_table("frame", found.rows, columns)
    ((name, better, *cells),) = [row for row in table.rows if str(row[0]) == "light of the toy"]
    assert isinstance(name, Cell) and (name.quiet, better) == ("of white", "higher")
    marked = [(cell.text[:3], cell.best) for cell in cells if isinstance(cell, Cell)]
    assert marked == [("0.5", True), ("0.2", False)]
    assert "toy at 0.500" in map(str, figures_of(found.rows[0]))
    assert make_objective("toy_light").tie == pytest.approx(0.0005)  # half of its last digit


def test_what_is_left_out_is_made_from_label_and_unit() -> None:
    key = Key("toy", "lines", "lower", "length of the toy")
    assert key.number(1.26) == ("1.3", "lines") and key.text(1.26) == "1.3 lines"
    assert key.sentence(1.26) == "Length of the toy: 1.3 lines."
    assert key.caption(1.26) == ""  # in no caption
    assert (key.short, key.head, key.reading) == (key.label, key.axis, key.label)
    assert key.axis == "length of the toy, lines"
    assert (key.best, key.worst) == ("best toy", "worst toy")
    assert key.readme_row == ("`toy`", "lines", "lower", "length of the toy")
    assert (key.tie, key.clear_rule.words) == (0.05, "best and worst must be more than 30 % apart")


def test_a_share_is_shown_in_percent() -> None:
    key = Key("toy", "0…1", "lower", "toys lost", share="% of toys")
    assert key.number(0.347) == ("35", "% of toys") and key.text(0.347) == "35 %"
    assert key.scaled(0.347) == pytest.approx(34.7)
    assert (key.axis, key.tie) == ("toys lost, % of toys", 0.005)
    assert key.clear_rule.words == "best and worst must be more than 0.3 apart"
    assert key.is_clear(0.1, 0.41) and not key.is_clear(0.1, 0.39)


def test_nothing_is_written_as_minus_nothing() -> None:
    key = Key("toy", "", "neither", "toy")
    assert key.number(-0.04) == ("0.0", "") and key.number(-0.06)[0] == "\u22120.1"
    assert key.readme_row[2] == "–" and key.sentence(2) == "Toy: 2.0."


def test_captions_shorten_and_say_zero() -> None:
    key = Key("toy", "mm", "lower", "toy", captions=("toy {} mm tall", "toy {}"), zero="flat")
    assert [key.caption(2.0, n) for n in range(3)] == ["toy 2.0 mm tall", "toy 2.0", "toy 2.0"]
    assert key.caption(0.0) == "flat"


@pytest.mark.parametrize("name", METRICS)
def test_every_key_is_whole(name: str) -> None:
    """Words of a key can be said: no empty template, no family of its own, a reading that says more."""
    key = key_of(name)
    assert key.label and key.family != "other", f"{name}: give its Key a label and a family"
    assert key.reading != key.label, f"{name}: write how it is read"
    number = key.number(1.0)[0]
    sentence = key.sentence(1.0)
    assert number in sentence and sentence.endswith(".") and "{" not in sentence
    assert all(number in key.caption(1.0, n) for n in range(len(key.captions)))
    assert key.tie > 0 and not key.is_clear(1.0, 1.0)


def test_every_metric_file_is_in_the_list() -> None:
    """A file that registers a metric and is not imported would be missing from the table."""
    folder = Path(scalesim.metrics.__file__).parent
    listed = (folder / "__init__.py").read_text("utf-8")
    for path in folder.rglob("*.py"):
        if re.search(r"^@metric\(", path.read_text("utf-8"), re.MULTILINE):
            module = ".".join(path.relative_to(folder.parents[1]).with_suffix("").parts)
            assert f"import {module}\n" in listed, f"scalesim/metrics/__init__.py does not import {module}"


def test_no_words_for_metrics_stand_outside_their_keys() -> None:
    """A table from metric keys to words, digits or units belongs to the keys."""
    package = Path(scalesim.metrics.__file__).parents[1]
    names = "|".join(METRICS)
    key = rf"[\"'](?:{names})[\"']"  # a list of keys is no table of words
    entry = re.compile(rf"^\s*\(?{key}(: |, )(?!{key})[\"'(\d_]", re.MULTILINE)
    found = {
        path.relative_to(package).as_posix(): match[0].strip()
        for path in package.rglob("*.py")
        if path.relative_to(package).parts[0] != "metrics"
        and (match := entry.search(path.read_text("utf-8")))
    }
    assert not found, f"say it in the metric's Key: {found}"
    assert entry.search('    "ssim": "likeness",') and entry.search('    ("psnr_db", "likeness", 4),')
