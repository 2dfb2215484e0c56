"""The compare job: rows, ranking with reasons, references, and what goes wrong with one frame."""

from __future__ import annotations

import json
import re
import tracemalloc
import weakref
from dataclasses import dataclass

import numpy as np
import pytest

from scalesim.core.clip import Clip, still_clip
from scalesim.errors import ParameterError, ReadError
from scalesim.jobs.compare.compare import compare
from scalesim.jobs.compare.figures import left_out
from scalesim.jobs.compare.ranking import rank
from scalesim.jobs.compare.tables import metric_tables
from scalesim.jobs.frames import FrameSource
from scalesim.metrics import METRICS
from scalesim.metrics.edges.mtf import EDGE_MODEL

BY = ("edge_spread_lines", "flicker_percent")
CHAINS = {
    "drop": "line-drop lines=240 phase=1",
    "soft": "flicker-filter taps=1/2/3/2/1, line-average lines=240",
    "fields": "line-average lines=480, interlace",
    "fields soft": "line-average lines=480, flicker-filter, interlace",
}


def frame(seed: int = 4, lines: int = 720, samples: int = 640) -> np.ndarray:
    """Blocks of random grey, aligned with nothing."""
    rng = np.random.RandomState(seed)
    blocks = np.kron(rng.rand(lines // 20 + 1, samples // 20 + 1, 1), np.ones((20, 20, 3)))
    return np.roll(blocks, 7, axis=0)[:lines, :samples].astype(np.float32)


def clip(seed: int = 4, name: str = "a.png") -> Clip:
    """A still clip of such a frame."""
    return still_clip(frame(seed), mode="720p60", name=name)


def test_rows_and_ranking() -> None:
    """One row per frame and chain with every metric; places per raster, 1 the best, with reasons."""
    table = compare(CHAINS, [clip(1, "a.png"), clip(2, "b.png")], by=BY)
    assert [(row.frame, row.chain) for row in table.rows] == [
        (f, c) for f in ("a.png", "b.png") for c in CHAINS
    ]
    assert all(set(row.metrics) == set(METRICS) for row in table.rows)
    places = {(p.raster, p.chain): p for p in table.ranking}
    assert {raster for raster, _ in places} == {"240 scan lines at 60 Hz", "480 interlaced lines at 60 Hz"}
    best = places["240 scan lines at 60 Hz", "drop"]
    assert best.rank == 1
    assert "sharpest edges" in best.reason
    assert "softest edges" in places["240 scan lines at 60 Hz", "soft"].reason
    assert "flickers most" in places["480 interlaced lines at 60 Hz", "fields"].reason
    json.dumps(table.to_dict(), allow_nan=False)
    assert any("comes first" in sentence for sentence in table.sentences())


def test_source_reference_ranks_across_rasters() -> None:
    """With the source through one beam as reference, all chains stand in one ranking."""
    table = compare(CHAINS, [clip()], by=("ssim",), reference="source", metrics=["ssim"])
    assert {place.raster for place in table.ranking} == {"all screens"}
    by_chain = {row.chain: row.metrics["ssim"] for row in table.rows}
    assert by_chain["fields"] > by_chain["fields soft"] > by_chain["soft"]


def test_a_picture_as_reference() -> None:
    """Its own output is a perfect reference; for rasters of another size it is registered like a capture."""
    from scalesim.jobs.predict.predict import predict

    own = predict(clip(), CHAINS["drop"], metrics=[]).landed
    table = compare(CHAINS, [clip()], by=("ssim",), reference=own, metrics=["ssim"])
    values = {row.chain: row.metrics["ssim"] for row in table.rows}
    assert values["drop"] == pytest.approx(1)
    assert values["soft"] < 0.999
    assert not table.failed and values["fields"] > 0.5
    other = np.full((100, 100, 3), 0.5, np.float32)
    failed = compare(CHAINS, [clip()], by=("ssim",), reference=other, metrics=["ssim"]).failed
    assert len(failed) == len(CHAINS) and all("almost flat" in reason for reason in failed.values())


def test_one_bad_frame_does_not_stop_the_rest() -> None:
    """An unreadable frame, and one no chain can take, are reported; the others are done."""

    def broken() -> Clip:
        raise ReadError("b.png: is empty; choose a picture")

    odd = still_clip(frame(lines=481), mode="custom", name="odd.png")
    table = compare(
        {"half": "interlace"}, [clip(), FrameSource("b.png", broken), odd], by=("flicker_percent",)
    )
    assert [row.frame for row in table.rows] == ["a.png"]
    assert set(table.failed) == {"b.png", "odd.png / half"}
    assert "could not be done" in table.sentences()[-1]


def test_notes_that_differ_are_warned_about() -> None:
    """Different modes, or notes that say different things, are named before the verdict is trusted."""
    a = FrameSource("a", clip, {"display": "bedroom set", "range": "full"})
    b = FrameSource("b", lambda: still_clip(frame(lines=480), mode="custom"), {"display": "hall set"})
    table = compare({"drop": "line-drop lines=240"}, [a, b], by=("cropped_percent",), metrics=[])
    assert any("bedroom set, hall set" in warning for warning in table.warnings)
    assert any("range: full, not noted" in warning for warning in table.warnings)
    assert any("different modes" in warning for warning in table.warnings)
    assert table.rows[0].to_dict()["note.display"] == "bedroom set"
    same = compare({"drop": "line-drop lines=240"}, [a, a], by=("cropped_percent",), metrics=[], tube="16:9")
    assert same.warnings == ()


def test_grouped_by_a_note() -> None:
    """Frames of two displays are ranked apart, each over its own; an unknown key is refused."""
    frames = [
        FrameSource("a", lambda: clip(1), {"display": "hall set"}),
        FrameSource("b", lambda: clip(2), {"display": "attic set"}),
        FrameSource("c", lambda: clip(3)),
    ]
    chains = {label: CHAINS[label] for label in ("drop", "soft")}
    table = compare(chains, frames, by=BY, metrics=[], group_by="display")
    screen = "240 scan lines at 60 Hz, display "
    groups = list(dict.fromkeys(place.raster for place in table.ranking))
    assert groups == [screen + "hall set", screen + "attic set", screen + "not noted"]
    assert {place.of_frames for place in table.ranking} == {1}
    assert {p.of_frames for p in compare(chains, frames, by=BY, metrics=[]).ranking} == {3}
    with pytest.raises(ParameterError, match="did you mean 'display'"):
        compare(chains, frames, by=BY, group_by="displa")
    with pytest.raises(ParameterError, match="no frame has a note"):
        compare(chains, [clip()], by=BY, group_by="display")


def test_the_way_mtf50_was_had_is_said() -> None:
    """Slanted edge or edge model: in the row beside the value, and only where there is one."""
    table = compare({"drop": CHAINS["drop"]}, [clip()], by=("mtf50_lines",), metrics=[])
    (row,) = table.rows
    assert row.metrics["mtf50_lines"] is not None
    assert row.to_dict()["mtf50_lines.how"] in ("slanted edge", EDGE_MODEL)
    flat = still_clip(np.full((720, 640, 3), 0.5, np.float32), mode="720p60")
    (row,) = compare({"drop": CHAINS["drop"]}, [flat], by=("mtf50_lines",), metrics=[]).rows
    assert row.metrics["mtf50_lines"] is None
    assert "mtf50_lines.how" not in row.to_dict()


def test_n_is_what_a_value_rests_on() -> None:
    """Heights and widths rest on the steps that are told as counts; each n has its word, beside the unit."""
    table = compare({"drop": CHAINS["drop"]}, [clip()], by=BY)
    (row,) = table.rows
    assert row.n["edge_spread_lines"] == row.metrics["edge_count"] < 10_000
    assert row.n["edge_spread_samples"] == row.metrics["edge_samples_count"]
    assert row.n["staircase"] == row.metrics["edge_count"]
    assert "kernel" in row.how["staircase"] and "kernel" in EDGE_MODEL
    assert set(row.n) <= set(table.to_dict()["counts"])
    (shown,) = metric_tables(table.rows, fidelity=False)
    beside = {str(cells[0]): cells[0].quiet for cells in shown.rows}
    assert beside["vertical detail kept"] == "% of the detail; n: windows"
    assert beside["height of a horizontal edge"] == "scan lines; n: steps"


def test_what_is_alike_within_its_resolution_is_not_plotted() -> None:
    """Drop and average leave the samples alone: both false detail along the line and its plot are noise."""
    by = (*BY, "false_detail_samples", "flicker_db")
    table = compare({k: CHAINS[k] for k in ("drop", "soft", "fields")}, [clip()], by=by)
    false = [row.metrics["false_detail_samples"] for row in table.rows]
    assert 0 < max(false) - min(false) < 0.01
    names = [plot.name for plot in table.figures()]
    assert "dots-false-detail-samples" not in names and "dots-flicker-db" not in names
    said = " ".join(left_out(table.contests))
    assert "false detail along the line" in said
    assert re.search(
        r"Measured on one of them only, so not plotted: .*flicker as the eye weighs it \(fields\)", said
    )


@pytest.mark.parametrize(
    ("chains", "frames", "options", "words"),
    [
        ({}, [clip], {}, "no chains"),
        (CHAINS, [], {}, "no frames"),
        (CHAINS, [clip], {"by": ()}, "by is empty"),
        (CHAINS, [clip], {"by": ("edge_count",)}, "no better or worse"),
        (CHAINS, [clip], {"by": ("sharpness",)}, "unknown key"),
        (CHAINS, [clip], {"by": 5}, "metrics is 5"),
        (CHAINS, ["frame.png"], {}, "frame is str"),
    ],
)
def test_bad_input(chains: dict, frames: list, options: dict, words: str) -> None:
    """Named in one line before anything is worked out."""
    with pytest.raises(ParameterError, match=words):
        compare(chains, [f() if callable(f) else f for f in frames], **options)


def same_screen(row: FakeRow) -> str:
    """Rank with whatever is on the same screen."""
    return row.raster


@dataclass
class FakeRow:
    """What ranking needs of a row."""

    frame: str
    chain: str
    raster: str
    metrics: dict


def rows(values: dict[str, list[float | None]], key: str = "flicker_percent") -> list[FakeRow]:
    """Rows of one raster: chain -> the value of each frame."""
    return [FakeRow(str(n), c, "r", {key: v}) for c, found in values.items() for n, v in enumerate(found)]


def test_mean_of_ranks_by_hand() -> None:
    """Frame 0: a 1, b 2, c 3; frame 1: b 1, a and c share 2.5. Means 1.75, 1.5, 2.75."""
    places = rank(
        rows({"a": [1, 5], "b": [2, 4], "c": [3, 5]}), ("flicker_percent",), group=same_screen
    ).places
    assert [(p.chain, p.rank, p.score) for p in places] == [("b", 1, 1.5), ("a", 2, 1.75), ("c", 3, 2.75)]


def test_ties_share_a_place_and_missing_values_are_left_out() -> None:
    """Equal chains share place 1, the next is third; a frame that one misses is none to compare on."""
    places = rank(rows({"a": [1], "b": [1], "c": [2]}), ("flicker_percent",), group=same_screen).places
    assert [(p.chain, p.rank) for p in places] == [("a", 1), ("b", 1), ("c", 3)]
    places = rank(rows({"a": [None, 1], "b": [1, 2]}), ("flicker_percent",), group=same_screen).places
    assert [(p.chain, p.score) for p in places] == [("a", 1.0), ("b", 2.0)]


def test_alone_is_no_middle() -> None:
    """A chain with nothing to be compared with is said to be alone."""
    (place,) = rank(rows({"a": [1]}), ("flicker_percent",), group=same_screen).places
    assert place.reason == "the only one on its screen"


def test_higher_is_better_where_it_is() -> None:
    """SSIM ranks the other way round; turned round the ranking would be wrong."""
    places = rank(rows({"a": [0.9], "b": [0.8]}, "ssim"), ("ssim",), group=same_screen).places
    assert [p.chain for p in places] == ["a", "b"]


def test_memory_does_not_grow_with_the_frames() -> None:
    """Frames are let go one by one: at most two are alive at a time, and the peak stays."""
    alive: list[weakref.ref] = []
    most = 0

    def load(seed: int) -> Clip:
        nonlocal most
        values = frame(seed, 240, 320)
        alive.append(weakref.ref(values))
        most = max(most, sum(ref() is not None for ref in alive))
        return still_clip(values, mode="custom")

    def peak(count: int) -> int:
        sources = [FrameSource(str(n), lambda n=n: load(n)) for n in range(count)]
        tracemalloc.start()
        compare({"drop": "line-drop lines=120"}, sources, by=("flicker_percent",), metrics=[])
        _, found = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        return found

    peak(2)
    assert peak(24) <= 1.2 * peak(4)
    assert most <= 2


def test_the_figure_is_of_a_frame_that_its_finding_is_about() -> None:
    """One frame is ranked on another screen (50 Hz): whatever it shows, it is no evidence for the others."""
    frames = [_frame(f"f{k}", 720, "720p60", k) for k in range(2)] + [_frame("other", 720, "720p50", 7)]
    chains = {"drop": "line-drop lines=240", "average": "line-average lines=240"}
    by = ["line_doubling", "lost_lines"]
    found = compare(chains, frames, by=by, metrics=by)
    assert len(found.verdicts) == 2
    cover = found.cover()
    assert cover is not None and "of f" in cover.caption and "of other" not in cover.caption


def _frame(name: str, lines: int, mode: str, seed: int) -> Clip:
    """A grey frame of thin bars at random places."""
    random, values = np.random.RandomState(seed), np.full((lines, 1280, 3), 0.4, np.float32)
    for _ in range(60):
        line, sample = random.randint(0, lines - 4), random.randint(0, 1000)
        values[line : line + random.randint(1, 4), sample : sample + 200] = 0.9
    return still_clip(values, mode=mode, name=name)
