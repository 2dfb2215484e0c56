"""The comparison's files: rows, text and stills beside the page, the same bytes every time."""

from __future__ import annotations

import csv
import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from page.compared import BROKEN, CHAINS, CROP, NASTY, broken, frame, made, page_of, typed
from PIL import Image

from scalesim.core.clip import still_clip
from scalesim.core.codes import to_codes
from scalesim.errors import ParameterError
from scalesim.figure import Figure
from scalesim.io.picture_store import PictureStore
from scalesim.jobs.compare.asked import StillAsked
from scalesim.jobs.compare.compare import compare
from scalesim.jobs.compare.comparison import Comparison
from scalesim.jobs.frames import FrameSource
from scalesim.jobs.predict.words import reason_note
from scalesim.page.plots.draw import plot_svg
from scalesim.result import Picture
from scalesim.saving import save, save_comparison, write_result

QUICK: dict[str, Any] = {"metrics": ["flicker_percent"], "by": ["flicker_percent"]}


def test_every_file_is_named_and_there(written: dict[str, Any], folder: Path) -> None:
    """By name what is of use by itself, and in a list everything that lies there."""
    files = {name: Path(place).relative_to(folder).as_posix() for name, place in written["files"].items()}
    assert {"csv", "json", "page", "markdown", "still-1080", "still-2160"} <= files.keys()
    there = {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}
    assert set(written["written"]) | {"result.json"} == there
    unnamed = there - set(files.values())
    assert unnamed and all(name.startswith("pictures/") for name in unnamed)  # the page's own
    assert not [name for name in there if name.endswith(".js")]  # they went into the page


def test_rows_as_csv_and_json(folder: Path, comparison: Comparison) -> None:
    """Read by Python's own csv and json modules; what cannot be had is empty, or null, with its reason."""
    with (folder / "rows.csv").open(encoding="utf-8", newline="") as file:
        table = list(csv.DictReader(file))
    document = json.loads((folder / "rows.json").read_text("utf-8"))
    assert [row["chain"] for row in table] == [row.chain for row in comparison.rows] == [*CHAINS] * 2
    assert [row["chain"] for row in document["rows"]] == [*CHAINS] * 2
    for flat, row, told in zip(table, comparison.rows, document["rows"], strict=True):
        for key, value in row.metrics.items():
            assert (flat[key] == "") == (value is None) == (told[key] is None)
            if value is None:
                assert f"{key}: {row.why[key]}" in flat["why"]
                assert told["why"][key] == row.why[key]
            else:
                assert float(flat[key]) == told[key] == value
    assert any(row.why for row in comparison.rows)
    assert table[0]["note.box"] == "a <box>"


def test_the_same_comparison_gives_the_same_bytes(
    folder: Path, comparison: Comparison, tmp_path: Path
) -> None:
    """Written twice, byte for byte the same: no dates, no random ids."""
    plot_svg.cache_clear()
    save(comparison, tmp_path / "again")
    first, second = (
        {p.relative_to(place).as_posix(): p.read_bytes() for p in place.rglob("*") if p.is_file()}
        for place in (folder, tmp_path / "again")
    )
    assert first == second


def test_wrong_arguments_name_the_limit(comparison: Comparison, tmp_path: Path) -> None:
    bad: list[tuple[dict[str, Any], str]] = [
        ({"crop": (100, 0, 48, 80)}, "crop: top 100 and height 48 reach lines 100 to 148, .* lines 0 to 144"),
        ({"crop": (0, -1, 48, 80)}, "crop: left -1"),
        ({"crop": (0, 0, 4, 80)}, "height is 4; it must be at least 8"),
        ({"tube": "5:4"}, "tube is '5:4'"),
    ]
    for number, (more, said) in enumerate(bad):
        with pytest.raises(ParameterError, match=said):
            save_comparison(comparison, tmp_path / str(number), **more)
        assert not list(tmp_path.iterdir())  # nothing half-written
    with pytest.raises(ParameterError, match="no frame is named 'nothing'"):
        made({"drop": "line-drop lines=48"}, stills=["nothing"], **QUICK)
    with pytest.raises(ParameterError, match="tube is '5:4'"):
        made({"drop": "line-drop lines=48"}, tube="5:4", **QUICK)


def test_stills_of_other_frames_are_asked_for_by_name(tmp_path: Path) -> None:
    found = made({"drop": "line-drop lines=48"}, frames=3, stills=["frame 3 <&>"], **QUICK)
    written = save(replace(found, crop=CROP), tmp_path / "o")
    names = {name for name in written["files"] if name.startswith("still")}
    assert names == {"still-1080", "still-2160", "still-03-1080", "still-03-2160"}


def test_a_still_of_any_frame_chains_and_part(tmp_path: Path) -> None:
    """The source may be one of them; what is not there is refused by name."""
    chains = {"drop": "line-drop lines=48", "soft": "line-average lines=48", "more": "line-drop lines=72"}
    asked = [StillAsked("frame 2 <&>", ("more", "source"), CROP), StillAsked("frame 2 <&>", ("drop",))]
    found = made(chains, frames=2, stills=asked, **QUICK)
    (part,) = [part for part in found.parts() if part.title == "frame 2 <&>"]
    figures = [item for item in part.items if isinstance(item, Figure)]
    assert [f.name for f in figures] == ["figures/still-02", "figures/still-02-2"]
    assert [[view.label for view in f.views] for f in figures] == [["The source", "more"], ["drop"]]
    assert figures[0].window == CROP and figures[0].fixed and not figures[1].fixed
    for still, said in (
        (StillAsked("frame 1 <&>", ("dorp",)), "no chain is named 'dorp'; did you mean 'drop'"),
        (StillAsked("frame 1 <&>", ("source",)), "names the source alone"),
        (StillAsked("frame 1 <&>", ("drop", "soft", "more", "source", "drop")), "room for 4"),
    ):
        with pytest.raises(ParameterError, match=said):
            made(chains, stills=[still], **QUICK)


def test_a_figure_claims_nothing_of_chains_it_does_not_show() -> None:
    """Two rankings, on 48 and 72 lines: a still of one has words of that one alone."""
    chains = {"a": "line-drop lines=48", "b": "line-average lines=48"}
    chains |= {"c": "line-drop lines=72", "d": "line-average lines=72"}
    asked = [StillAsked("frame 1 <&>", ("c", "d")), StillAsked("frame 1 <&>", ("a", "c"))]
    found = made(chains, stills=asked, metrics=["lost_lines"], by=["lost_lines", "line_doubling"])
    (part,) = [part for part in found.parts() if part.title == "frame 1 <&>"]
    one, two = (item.caption for item in part.items if isinstance(item, Figure))
    assert any(word in one for word in ("loses less", "splits", "tied")) and " a " not in one.split(".")[1]
    assert not any(word in two for word in ("loses less", "splits", "tied", "leads", "first"))
    cover = found.cover()
    assert cover is not None and cover.views[0].label == "The source"
    assert cover.title == found.title


def test_several_parts_and_parts_of_one_frame(tmp_path: Path) -> None:
    """A frame that is named has its own parts, the others have theirs; each has close looks of its own."""
    crops = {"": CROP, "frame 2 <&>": [(0, 0, 24, 40), (60, 100, 24, 40)]}
    found = made({"drop": "line-drop lines=48"}, frames=2, crop=crops, **QUICK)
    parts = {part.title: part for part in found.parts()}
    one, two = (parts[f"frame {n} <&>"] for n in (1, 2))
    assert "lines 24 to 72, samples 30 to 110 of the source" in one.text[0]
    assert [re.search("Part . *|lines .*? of the source", text)[0] for text in two.text] == [
        "Part 1",
        "Part 2",
    ]  # type: ignore[index]
    assert "lines 60 to 84, samples 100 to 140 of the source" in two.text[1]
    assert len([item for item in two.items if isinstance(item, Picture)]) == 4
    with pytest.raises(ParameterError, match="crop: no frame is named 'frame 3'"):
        made({"drop": "line-drop lines=48"}, crop={"frame 3": CROP}, **QUICK)


def test_heavy_pictures_go_beside_the_page(beside: Path) -> None:
    text = (beside / "index.html").read_text("utf-8")
    images = [attributes["src"] for tag, attributes in page_of(beside).tags if tag == "img"]
    assert len(images) == 2 * 5 + 4  # and the figure that opens the page: three views, the whole picture
    assert all((beside / str(name)).is_file() for name in images)
    scripts = sorted(path.stem for path in (beside / "pictures").glob("*.js"))
    # of each frame a source; per chain the landed picture and its difference; of one two fields and a map
    assert len(scripts) == 2 * (1 + 2 * 4 + 3)
    assert "data:image/png" not in text
    first = (beside / "pictures" / "01-01-landed.js").read_text("utf-8")
    assert first.startswith('registerPicture("01-01-landed", "data:image/png;base64,')


def test_a_store_puts_pictures_inside_or_beside(tmp_path: Path) -> None:
    """Beyond the limit they are files with scripts for the viewer; others than the page's own always are."""
    for limit, inline in ((10, False), (10**9, True)):
        store = PictureStore(tmp_path / str(limit), limit)
        for name in ("pictures/a", "own"):
            store.add(name, np.zeros((8, 8, 3), np.uint8))
        assert store.inline is inline
        assert store.image("pictures/a").startswith("data:image/png") is inline
        assert isinstance(store.source("pictures/a"), str) is inline
        assert (tmp_path / str(limit) / "pictures" / "a.js").exists() is not inline
        assert store.image("own") == "own.png"


def test_what_the_page_shows_goes_inside_first(tmp_path: Path) -> None:
    """Room for two of three that are shown: two are inside, the third and the viewer's are beside."""
    random = np.random.RandomState(0).randint(0, 256, (4, 16, 16, 3)).astype(np.uint8)
    store = PictureStore(tmp_path, 3000)
    for name, values in zip("abcd", random, strict=True):
        store.add(f"pictures/{name}", values)  # about 800 bytes of noise each, 1100 as text
    assert isinstance(store.source("pictures/d"), dict)
    inside = [store.image(f"pictures/{name}").startswith("data:") for name in "abca"]
    assert inside == [True, True, False, True]  # asked twice, it is in the page once


def test_progress_once_for_each_part(comparison: Comparison, tmp_path: Path) -> None:
    said: list[str] = []
    write_result(comparison, tmp_path, advance=said.append)
    assert said == [part.title for part in comparison.parts()]


def test_nothing_could_be_done(tmp_path: Path) -> None:
    found = compare({"wrong": "deinterlace how=bob"}, [still_clip(frame())])
    written = save(found, tmp_path / "o")
    assert "No chain could be ranked" in page_of(tmp_path / "o").text
    assert set(written["files"]) == {"csv", "json", "page", "markdown", "answer", "result"}


def test_no_frame_at_all(tmp_path: Path) -> None:
    """Nothing could be read: the page says so and nothing fails."""
    found = compare(CHAINS, [FrameSource("x.png", broken)])
    save(found, tmp_path / "o")
    text = page_of(tmp_path / "o").text
    assert BROKEN in text and "no frame could be read" in text


# The text


def test_markdown_is_escaped_and_whole(folder: Path, comparison: Comparison) -> None:
    markdown = (folder / "comparison.md").read_text("utf-8")
    table_line = next(line for line in markdown.splitlines() if line.startswith("| ") and "🙂" in line)
    assert "<" not in table_line.replace("\\<", "")
    head = next(line for line in markdown.splitlines() if line.startswith("| chain"))
    assert len(re.findall(r"(?<!\\)\|", table_line)) == head.count("|")  # the label's own bar parts no cells
    plain = typed(markdown.replace("\\", ""))
    for words in (*comparison.sentences(), BROKEN, "lower", *CHAINS.values(), "a <box>", NASTY):
        assert words in plain, words
    for row in comparison.rows:
        assert all(reason_note(reason) in plain for reason in row.why.values())
    assert "figures/still-1080.png" in markdown
    named = re.findall(r"\]\(([^)]+)\)", markdown)
    assert named and all((folder / name).is_file() for name in named)


# Plots


def test_plots_are_text_and_the_pages_own_colours(folder: Path) -> None:
    page = (folder / "index.html").read_text("utf-8")
    assert "var(--hue-1)" in page
    assert not re.search(r"#0([1-7])0\1{1}0\1\b", page)
    ids = [attributes["id"] for _, attributes in page_of(folder).tags if "id" in attributes]
    assert len(ids) == len(set(ids))
    plot = (folder / "figures" / "dots-line-doubling.svg").read_text("utf-8")
    assert "drop</text>" in plot
    assert "var(--hue" not in plot and "<date>" not in plot
    ElementTree.fromstring(plot)


def test_the_stills_are_of_the_two_sizes(folder: Path) -> None:
    """Nothing but the ground lies outside the middle 90 % (SMPTE ST 2046-1:2009, safe title)."""
    for height, width in ((1080, 1920), (2160, 3840)):
        still = np.asarray(Image.open(folder / "figures" / f"still-{height}.png"))
        assert still.shape == (height, width, 3)
        outside = np.ones((height, width), bool)
        outside[height // 20 : height - height // 20, width // 20 : width - width // 20] = False
        assert (still[outside] == still[0, 0]).all()
        inside = still[height // 10 : height // 2, width // 10 : width // 2]
        shown, own = (
            np.unique(codes.astype(int) @ [65536, 256, 1]) for codes in (inside, to_codes(frame(2)))
        )
        assert len(np.intersect1d(shown, own)) >= 2  # ground and a box of the source, unsmoothed
