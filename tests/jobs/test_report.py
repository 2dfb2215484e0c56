"""A write-up from saved answers: what is placed, exact dots, sources, methods, and editions.

The pictures that are placed are compared with NumPy's `kron` of the files that the first command wrote, read
by
Pillow; the stills' margins with the safe title area of SMPTE ST 2046-1:2009 (the middle 90 % each way).
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from page.compared import frame, made
from PIL import Image

from scalesim.cli.compare_asked import stills_asked
from scalesim.cli.main import main
from scalesim.core.clip import still_clip
from scalesim.errors import ParameterError, ReadError
from scalesim.io.saved import read_saved
from scalesim.jobs.compare.words import CAUTIONS
from scalesim.jobs.predict.predict import predict
from scalesim.jobs.report.editions import _cells
from scalesim.plot import Plot
from scalesim.saving import save
from scalesim.writing import written as write

HEAD = '+++\ntitle = "What is kept"\nauthor = "A. Nobody"\n+++\n'
BODY = """
Words.

![](cmp)

![The frame](cmp#look=frame-1 "look")

![A corner](cmp#picture=drop&crop=3,5,80,130&zoom=3x2)

![Medians](cmp#table=medians-over-1-frame)

![A plot](cmp#plot=dots-line-doubling)

![Move it](cmp#viewer)

![](cmp#said)

![](one#picture=raster)
"""
DROP = {"drop": "line-drop lines=48", "fields": "line-average lines=96, interlace"}


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a saved comparison and a saved prediction."""
    place = tmp_path_factory.mktemp("evening")
    save(made(DROP), place / "cmp")
    save(predict(still_clip(frame(), name="f"), "line-drop lines=48"), place / "one")
    return place


def written(evening: Path, out: Path, body: str = BODY, **more: Any) -> dict[str, Any]:
    return save(write(HEAD + body, "a.md", evening, **more), out)


@pytest.fixture(scope="module")
def report(evening: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("report") / "r"
    written(evening, out)
    return out


def test_figures_and_tables_are_numbered_in_the_order_of_the_text(report: Path) -> None:
    """Tables apart; quoted words take no number; each says where it comes from."""
    document = json.loads((report / "result.json").read_text("utf-8"))
    names = [each["name"] for each in document["references"]]
    assert names == [
        "Figure 1", "Figure 2", "Figure 3", "Table 1", "Figure 4", "Figure 5", "said of cmp", "Figure 6",
    ]  # fmt: skip
    text = (report / "report.md").read_text("utf-8")
    assert "*Figure 2. The frame. From cmp (compare, scalesim" in text
    captions = (report / "captions.txt").read_text("utf-8").split("\n\n")
    assert [line.split(".")[0] for line in captions] == [n for n in names if "said" not in n]


def dots(path: Path) -> Any:
    return np.asarray(Image.open(path).convert("RGB"))


def test_a_picture_is_enlarged_by_whole_dots(evening: Path, report: Path) -> None:
    """The crop of the file that the comparison wrote, each dot 3 high and 2 wide, and nothing between."""
    first = read_saved(evening / "cmp")
    name = next(
        i.name
        for p in first.parts()
        for i in p.items
        if getattr(i, "label", "") == "drop" and hasattr(i, "shown")
    )
    part = dots(evening / "cmp" / f"{name}.png")[3:83, 5:135]
    expected = np.kron(part, np.ones((3, 2, 1), np.uint8))
    assert np.array_equal(dots(report / "pictures" / "figure-3-a.png"), expected)
    assert not np.array_equal(dots(report / "pictures" / "figure-3-a.png"), expected[:, ::-1])


def test_what_is_not_asked_to_change_is_the_file_itself(evening: Path, report: Path) -> None:
    """A raster placed as it is has the very codes of the prediction's file."""
    assert np.array_equal(dots(report / "pictures" / "figure-6-a.png"), dots(evening / "one" / "raster.png"))


def test_a_plot_says_the_same_as_where_it_comes_from(evening: Path, report: Path) -> None:
    """Its points and its table are those of the first answer, read back."""
    there = {p.name: p for p in read_saved(evening / "cmp").figures()}
    here = read_saved(report)
    plots = {
        i.name: i
        for part in here.parts()
        for e in part.items
        for i in getattr(e, "items", ())
        if isinstance(i, Plot)
    }
    assert plots["figure-4"].panels == there["dots-line-doubling"].panels


@pytest.mark.slow
def test_stills_hold_figures_plots_and_tables_inside_the_safe_area(report: Path) -> None:
    """Every still at both sizes; no ink in the outer 5 %; the larger has twice the dots."""
    for name in ("figure-2", "figure-3", "table-1", "figure-4", "figure-6"):
        for tall, wide in ((1080, 1920), (2160, 3840)):
            still = dots(report / "stills" / f"{name}-{tall}.png").astype(int)
            assert still.shape == (tall, wide, 3)
            ink = np.abs(still - still[0, 0]).max(axis=2) > 8
            rows, columns = np.flatnonzero(ink.any(axis=1)), np.flatnonzero(ink.any(axis=0))
            assert rows[0] >= 0.05 * tall - 1 and rows[-1] <= 0.95 * tall
            assert columns[0] >= 0.05 * wide - 1 and columns[-1] <= 0.95 * wide
            assert ink.mean() > 0.002
    cover = dots(report / "stills" / "figure-1-1080.png")
    assert cover.shape == (1080, 1920, 3)


def test_methods_are_of_what_was_used(report: Path) -> None:
    """The chains as they were run, the measures that were ranked by, and the versions."""
    text = (report / "report.md").read_text("utf-8")
    assert "    line-drop lines=48\n" in text and "    line-average lines=96, interlace" in text
    assert "Vertical detail kept (detail\\_kept, more is better)" in text
    assert "edge\\_spread\\_samples" not in text.split("## How it was made")[1].split("##")[0]
    assert "| cmp | compare |" in text and "| one | predict |" in text


def test_the_chains_that_are_told_are_the_chains_that_were_run(evening: Path, report: Path) -> None:
    """A told chain, run again on the same frame, gives the placed raster, dot by dot."""
    codes = [
        i for p in read_saved(report).parts() for i in p.items if hasattr(i, "text") and hasattr(i, "what")
    ]
    told = next(each.text for each in codes if each.label == "the chain of one")
    again = predict(still_clip(frame(), name="f"), told).pictures["raster"]
    assert np.array_equal(
        np.floor(255 * again + 0.5).astype(np.uint8), dots(report / "pictures" / "figure-6-a.png")
    )


def test_a_saved_write_up_reads_back(report: Path) -> None:
    """Its sections, exhibits and words are what was written."""
    found = read_saved(report)
    assert found.title == "What is kept" and found.byline[0] == "A. Nobody"
    assert [part.title for part in found.parts()][:1] == [""]
    assert save(found, report.with_name("again"))["title"] == "What is kept"
    assert (report.with_name("again") / "report.md").read_text("utf-8") == (report / "report.md").read_text(
        "utf-8"
    )


def test_an_edition_lists_what_changed_and_keeps_what_it_showed(evening: Path, tmp_path: Path) -> None:
    """A cell of a table, a figure, words, what is new and what is gone; the old dots are there."""
    place = tmp_path / "evening"
    shutil.copytree(evening, place)
    places = (
        "The raster](one#picture=raster",
        "M](cmp#table=medians-over-1-frame",
        "P](cmp#plot=dots-lost-lines",
    )
    body = "Words.\n" + "".join(f"\n![{each})\n" for each in places)
    written(place, tmp_path / "e1", body)
    old = dots(tmp_path / "e1" / "pictures" / "figure-1-a.png")
    save(predict(still_clip(frame(), name="f"), "line-drop lines=48 phase=1"), place / "one", force=True)
    save(made({**DROP, "drop": "line-drop lines=48 phase=1"}), place / "cmp", force=True)
    body = body.replace("Words.", "Other words.").replace("![P](cmp#plot=dots-lost-lines)", "![L](cmp#look)")
    two = written(place, tmp_path / "e2", body, after=tmp_path / "e1")
    assert two["edition"] == 2
    changes = {what: (was, now) for what, was, now in two["changes"]}
    assert changes["Figure 1"] == ("see Superseded", "shows something else")
    assert changes["The words of “the opening”"] == ("–", "changed")
    assert changes["Figure 2 of the edition before"] == ("P.", "no longer shown")
    assert changes["Figure 2"] == ("–", "new: L.")
    cells = {what: pair for what, pair in changes.items() if what.startswith("Table 1, drop: ")}
    before = {row[0].text if hasattr(row[0], "text") else row[0]: row for row in _table(tmp_path / "e1").rows}
    after = {row[0].text if hasattr(row[0], "text") else row[0]: row for row in _table(tmp_path / "e2").rows}
    assert cells == {
        f"Table 1, drop: {column}": (str(was), str(now))
        for column, was, now in zip(
            _table(tmp_path / "e1").columns, before["drop"], after["drop"], strict=True
        )
        if str(was) != str(now)
    }
    assert cells
    kept = tmp_path / "e2" / "pictures" / "edition-1-figure-1-a.png"
    assert np.array_equal(dots(kept), old)
    three = written(place, tmp_path / "e3", body, after=tmp_path / "e2")
    assert three["edition"] == 3 and three["changes"] == []
    assert three["superseded"] == two["superseded"]
    assert np.array_equal(dots(tmp_path / "e3" / "pictures" / kept.name), old)
    text = (tmp_path / "e3" / "report.md").read_text("utf-8")
    assert "Nothing that is shown, and no words of a section." in text and "**Changed in edition 2**" in text


def test_rows_of_a_table_are_told_by_the_column_that_names_them() -> None:
    """A ranking whose chains change places is told by chain; one that names a row twice, as a whole."""
    columns = ["place", "chain", "lead"]
    old = {"columns": columns, "head": 1, "rows": [["1", "a", "90 %"], ["2", "b", "5 %"]]}
    new = {"columns": columns, "head": 1, "rows": [["1", "b", "90 %"], ["2", "a", "5 %"]], "name": "Table 1"}
    assert _cells(old, new) == [
        ("Table 1, b: place", "2", "1"),
        ("Table 1, b: lead", "5 %", "90 %"),
        ("Table 1, a: place", "1", "2"),
        ("Table 1, a: lead", "90 %", "5 %"),
    ]
    twice = {**old, "rows": [["1", "a", "90 %"], ["2", "a", "5 %"]]}
    assert _cells(twice, {**twice, "name": "Table 1"}) == []


def _table(folder: Path) -> Any:
    items = [i for p in read_saved(folder).parts() for e in p.items for i in getattr(e, "items", ())]
    return next(item for item in items if hasattr(item, "rows"))


def crowded(evening: Path, tmp_path: Path) -> Path:
    """Return a folder with the evening's results, one of them deeper, and pictures, two of them broken."""
    for name in ("cmp", "one"):
        shutil.copytree(evening / name, tmp_path / name)
    shutil.copytree(evening / "cmp", tmp_path / "deep" / "cmp")
    card = (evening / "cmp" / "figures" / "card.png").read_bytes()
    for name, data in (("plain", card), ("short", card[:900]), ("void", b"")):
        (tmp_path / f"{name}.png").write_bytes(data)
    return tmp_path


def test_the_source_is_found_by_the_name_that_a_still_gives_it(evening: Path) -> None:
    """`of=source` and `of=the-source` are one picture, and `--still` takes both names."""
    text = "\n".join(f"\n![A](cmp#look=frame-1&of={name})\n" for name in ("source", "the-source"))
    found = [item.label for each in write(HEAD + text, "a.md", evening).shown for item in each.exhibit.items]
    assert found == ["The source"] * 2
    (still,) = stills_asked(["f.png=the-source,a"], ["f.png"], ["a"])
    assert still.labels == ("source", "a")
    (own,) = stills_asked(["f.png=the-source"], ["f.png"], ["the-source"])
    assert own.labels == ("the-source",)


def test_the_caution_is_true_of_every_edition() -> None:
    """The Markdown edition has no button."""
    assert "button" not in " ".join(CAUTIONS)


@pytest.mark.parametrize(
    ("place", "said"),
    [
        ("cmq", "there is no cmq; did you mean 'cmp'?"),
        ("cmp#look=frame-2", "has no look 'frame-2'"),
        ("cmp#look=frame-1&of=dropp", "did you mean 'drop'?"),
        ("cmp#plot=dots", "valid: "),
        ("cmp#plot", "has several; write plot= and one of"),
        ("cmp#plot=dots-lost-lines&zoom=2", "only pictures are cropped or enlarged"),
        ("cmp#picture=drop&of=drop", "of= chooses among the pictures of a look"),
        ("cmp&zoom=2", "there is no cmp&zoom=2"),
        ("cmp#zoom=2", "a cover is placed as it was made"),
        ("one#viewer", "one has no viewer"),
        ("one#picture=raster&crop=0,0,99,1", "leaves the picture, which has 48 lines and 256 samples"),
        ("cmp#look=frame-1&zoom=32", "the limit is 36"),
        ("../elsewhere/cmp", "lies outside the article's folder"),
        ("/etc/passwd", "lies outside the article's folder"),
        ("cmp/rows.csv", "is no picture file"),
        ("cmp/figures", "a.md line 6: cmp/figures: holds no result.json"),
        ("CMP", "there is no CMP; did you mean 'cmp'?"),
        ("plan.png", "there is no plan.png; did you mean 'plain.png'?"),
        ("deep/cmq", "there is no deep/cmq; did you mean 'deep/cmp'? valid: deep/cmp"),
        ("short.png", "a.md line 6: short.png: the PNG file is cut short"),
        ("void.png", "a.md line 6: void.png: the file is empty"),
        ("n" * 3000, "there can be no nnn"),
        ("zero%00.png", "there "),
    ],
)
def test_what_is_not_there_is_told_with_the_nearest_name(
    evening: Path, tmp_path: Path, place: str, said: str
) -> None:
    """Each in one line, with the line of the article, and named as the article does."""
    with pytest.raises((ParameterError, ReadError)) as caught:
        write(HEAD + f"\n![c]({place})\n", "a.md", crowded(evening, tmp_path))
    assert said in str(caught.value) and str(caught.value).startswith("a.md line 6: ")
    assert "\n" not in str(caught.value) and str(tmp_path) not in str(caught.value)
    assert len(str(caught.value)) < 400


def test_folders_elsewhere_are_allowed_by_name_alone(evening: Path, tmp_path: Path) -> None:
    """Named on the command line, never by the article."""
    (tmp_path / "a.md").write_text(HEAD + f"\n![c]({evening.as_posix()}/one#picture=raster)\n", "utf-8")
    asked = ["report", str(tmp_path / "a.md"), "--out", str(tmp_path / "r")]
    assert main(asked) == 2 and not (tmp_path / "r").exists()
    assert main([*asked, "--from", str(evening)]) == 0
    for name in ("index.html", "report.md", "captions.txt", "answer.json", "result.json"):
        text = (tmp_path / "r" / name).read_text("utf-8")
        assert str(evening) not in text and (f"From {evening.name}/one" in text or name == "result.json")


def test_an_absolute_place_is_told_from_the_article(evening: Path, tmp_path: Path) -> None:
    """Where an author keeps results is in no page."""
    home = crowded(evening, tmp_path)
    found = write(HEAD + f"\n![c]({home.as_posix()}/one#picture=raster)\n", "a.md", home)
    assert next(each.exhibit.origin for each in found.shown if each.exhibit).startswith("From one (predict")
    assert found.table().rows[0][0] == "one"


def test_chains_that_stand_in_the_text_are_not_told_again(evening: Path) -> None:
    """Those of other folders are; and words alone have no table of sources."""
    found = write(HEAD + "\n![](cmp#chains)\n\n![](one)\n", "a.md", evening)
    told = {
        part.title: [code.label for code in part.items]
        for part in found.parts()
        if part.title == "The chains"
    }
    assert told == {"The chains": ["the chain of one"]}
    alone = write(HEAD + "\nWords.\n", "a.md", evening)
    assert not {"The chains", "Sources"} & {part.title for part in alone.parts()}


def test_an_article_does_not_place_what_it_replaces(
    evening: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It would be its own source."""
    shutil.copytree(evening / "one", tmp_path / "r")
    (tmp_path / "a.md").write_text(HEAD + "\n![](r#picture=raster)\n", "utf-8")
    assert main(["report", str(tmp_path / "a.md"), "--out", str(tmp_path / "r"), "--force"]) == 2
    assert "a.md line 6: places r, the very folder that this run is to replace" in capsys.readouterr().err
    assert main(["report", str(tmp_path / "a.md"), "--out", str(tmp_path / "other")]) == 0


def test_a_folder_that_was_changed_is_refused(evening: Path, tmp_path: Path) -> None:
    """What is shown must be what was found: an edited figure is none."""
    shutil.copytree(evening, tmp_path / "e")
    (tmp_path / "e" / "one" / "raster.png").write_bytes(
        (evening / "cmp" / "figures" / "card.png").read_bytes()
    )
    with pytest.raises(ReadError, match=r"one was changed since it was written \(raster.png \(edited\)\)"):
        write(HEAD + "\n![c](one#picture=raster)\n", "a.md", tmp_path / "e")


def test_a_folder_of_another_version_is_refused_unless_the_head_welcomes_it(
    evening: Path, tmp_path: Path
) -> None:
    """And then its version is told under the figure."""
    shutil.copytree(evening, tmp_path / "e")
    path = tmp_path / "e" / "one" / "result.json"
    document = json.loads(path.read_text("utf-8"))
    from scalesim.io.output.ours import sealed

    path.write_text(sealed({**document, "version": "0.0.1"}), "utf-8")
    body = "\n![c](one#picture=raster)\n"
    with pytest.raises(ReadError, match=r'made by version 0\.0\.1.*versions = \["0\.0\.1"\]'):
        write(HEAD + body, "a.md", tmp_path / "e")
    head = HEAD.replace("+++\n", '+++\nversions = ["0.0.1"]\n', 1)
    found = write(head + body, "a.md", tmp_path / "e")
    assert "scalesim 0.0.1" in found.files()["captions"].content  # type: ignore[operator]  # a text


def test_an_earlier_edition_must_be_one(evening: Path) -> None:
    """A comparison is no edition of an article."""
    with pytest.raises(ParameterError, match="holds a compare; name the folder"):
        write(HEAD, "a.md", evening, after=evening / "cmp")


def test_a_picture_file_is_placed_without_claims(evening: Path, tmp_path: Path) -> None:
    """A photo beside the article: its dots, its name, no version."""
    shutil.copy(evening / "one" / "raster.png", tmp_path / "photo of it.png")
    (tmp_path / "a.md").write_text(HEAD + "\n![The tube](photo%20of%20it.png#crop=0,0,10,20)\n", "utf-8")
    assert main(["report", str(tmp_path / "a.md"), "--out", str(tmp_path / "r"), "--one-file"]) == 0
    assert np.array_equal(
        dots(tmp_path / "r/pictures/figure-1-a.png"), dots(evening / "one/raster.png")[:10, :20]
    )
    page = (tmp_path / "r" / "index.html").read_text("utf-8")
    assert "From photo of it.png." in page and 'src="pictures/' not in page
