"""``scalesim compare``: what it writes, and what it says of bad input."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from clip_files import pattern
from PIL import Image

from scalesim.cli.main import main

A = "drop: line-drop lines=240 phase=1"
B = "soft & <wide>: line-average lines=240"


@pytest.fixture
def frames(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A working folder with two 720p frames in frames/."""
    monkeypatch.chdir(tmp_path)
    folder = tmp_path / "frames"
    folder.mkdir()
    for seed, name in enumerate(("a.png", "b.png")):
        codes = np.random.RandomState(seed).randint(0, 256, (36, 32, 3)).astype(np.uint8)
        Image.fromarray(np.kron(codes, np.ones((20, 20, 1), np.uint8))).save(folder / name)
    return folder


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    """Run the command line in this process; return code, standard output, standard error."""
    code = main(["compare", *words])
    out, err = capsys.readouterr()
    return code, out, err


def test_document_table_and_page(frames: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A pattern, two chains: rows, ranking and files; a page that stands alone."""
    code, out, _ = run(capsys, "frames/*.png", "--chain", A, "--chain", B, "--mode", "custom", "--json")
    document = json.loads(out)
    assert code == 0
    assert [(row["frame"], row["chain"]) for row in document["rows"]] == [
        ("a.png", "drop"),
        ("a.png", "soft & <wide>"),
        ("b.png", "drop"),
        ("b.png", "soft & <wide>"),
    ]
    assert {"frame", "chain", "kind", "ssim", "line_doubling"} <= set(document["rows"][0])
    assert document["rows"][0]["kind"] == "predicted"
    assert {"raster", "chain", "rank", "score", "reason"} <= set(document["ranking"][0])
    assert {"csv", "json", "page"} <= set(document["files"])
    with Path(document["files"]["csv"]).open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["chain"] for row in rows] == [row["chain"] for row in document["rows"]]
    assert float(rows[0]["ssim"]) == pytest.approx(document["rows"][0]["ssim"])
    page = Path(document["files"]["page"]).read_text("utf-8")
    assert "soft &amp; &lt;wide&gt;" in page
    assert "soft & <wide>" not in page
    assert (tmp_path / "outputs" / "compare" / "result.json").is_file()


@pytest.mark.slow
def test_study_and_notes(frames: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The same from a file; notes are carried, filtered by, and warned about."""
    (frames / "a.toml").write_text('display = "hall set"\nsource_mode = "custom"\n', "utf-8")
    (frames / "b.toml").write_text('display = "attic set"\nsource_mode = "custom"\n', "utf-8")
    (tmp_path / "s.toml").write_text(
        'frames = ["frames/*.png"]\nby = ["ssim"]\nmetrics = ["ssim"]\n'
        f'[[chain]]\ntext = "{A}"\n[[chain]]\ntext = "{B}"\n',
        "utf-8",
    )
    code, out, _ = run(capsys, "--study", "s.toml", "--json")
    document = json.loads(out)
    assert code == 0
    assert document["by"] == ["ssim"]
    assert document["rows"][0]["note.display"] == "hall set"
    assert any("attic set, hall set" in warning for warning in document["warnings"])
    grouped = json.loads(run(capsys, "--study", "s.toml", "--group-by", "display", "--json")[1])
    assert len({place["raster"] for place in grouped["ranking"]}) == 2
    code, out, _ = run(capsys, "--study", "s.toml", "--only", "display=attic set", "--json")
    assert json.loads(out)["frames"] == ["b.png"]


def test_one_unreadable_frame(frames: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It is reported, the rest is done, and the exit code says so."""
    (frames / "b.png").write_bytes(b"not a picture")
    code, out, err = run(capsys, "frames/a.png", "frames/b.png", "--chain", A, "--mode", "custom", "--json")
    document = json.loads(out)
    assert code == 2
    assert "b.png" in err
    assert [row["frame"] for row in document["rows"]] == ["a.png"]
    assert list(document["failed"]) == ["b.png"]


def test_reference_picture(frames: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file as reference; one that does not show the frame is named."""
    assert run(capsys, "frames/a.png", "--chain", A, "--mode", "custom", "--out", "first")[0] == 0
    code, _, err = run(
        capsys, "frames/a.png", "--chain", A, "--mode", "custom", "--reference", "frames/b.png", "--json"
    )
    assert code == 2
    assert "reference" in err and "\n" not in err.strip()


QUICK = ("--mode", "custom", "--by", "lost_lines", "--metrics", "lost_lines", "--json")


def test_what_the_page_is_asked_to_show(frames: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Title, author and date; parts of one frame; stills of whom one names, commas in names or not."""
    words = ("frames/*.png", "--chain", A, "--chain", "line-average lines=240, quantise", *QUICK)
    asked = ("--title", "Lines <kept>", "--author", "The club", "--date", "1 May")
    crops = ("--crop", "0,0,60,90", "--crop", "b.png=60,100,60,90", "--crop", "b.png=90,0,60,90")
    stills = ("--still", "a.png=source,line-average lines=240, quantise,drop", "--still", "b.png=drop")
    code, out, _ = run(capsys, *words, *asked, *crops, *stills)
    document = json.loads(out)
    page = Path(document["files"]["page"]).read_text("utf-8")
    assert code == 0
    assert "<h1>Lines &lt;kept&gt;</h1>" in page
    assert '<p class="byline">The club · 1 May · scalesim' in page
    assert "samples 0 to 90 of the source" in page and "lines 60 to 120, samples 100 to 190" in page
    names = {name for name in document["files"] if name.startswith("still")}
    wanted = ("still", "still-01", "still-02", "still-02-2")  # of b.png one for each of its parts
    assert names == {f"{name}-{height}" for name in wanted for height in (1080, 2160)}


def test_author_and_date_from_notes_that_agree(frames: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A date is said when all frames have the same, and never that of the clock."""
    for name, author in (("a", "one"), ("b", "two")):
        (frames / f"{name}.toml").write_text(f'author = "{author}"\ndate = 2026-05-01\n', "utf-8")
    document = json.loads(run(capsys, "frames/*.png", "--chain", A, *QUICK)[1])
    assert '<p class="byline">2026-05-01 · scalesim' in Path(document["files"]["page"]).read_text("utf-8")


BAD = {
    "crop of no frame": (["frames/a.png", "--crop", "c.png=0,0,60,90"], "no frame is named 'c.png'"),
    "still of no frame": (["frames/a.png", "--still", "c.png=drop"], "no frame is named 'c.png'"),
    "still of no chain": (["frames/a.png", "--still", "a.png=dorp"], "no chain is named 'dorp'"),
    "title too long": (["frames/a.png", "--title", "x" * 161], "160 is the limit"),
    "no frames": ([], "no frames"),
    "nothing matches": (["frames/*.tif"], "matches no file"),
    "duplicate names": (["frames/a.png", "--chain", A], "given twice"),
    "unknown metric": (["frames/a.png", "--by", "sharpness"], "unknown key"),
    "crop that is no crop": (["frames/a.png", "--crop", "1,2,3"], "TOP,LEFT,HEIGHT,WIDTH"),
    "crop outside": (["frames/a.png", "--mode", "custom", "--crop", "700,0,100,100"], "crop"),
    "missing reference": (["frames/a.png", "--reference", "none.png"], "none.png"),
    "missing study": (["--study", "none.toml"], "none.toml"),
    "note with unknown keys": (["frames/n.png"], "did you mean 'box'"),
    "only without value": (["frames/a.png", "--only", "box"], "KEY=VALUE"),
    "only that fits none": (["frames/a.png", "--only", "box=x"], "no frame's note"),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_is_one_line(
    frames: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], case: str
) -> None:
    """Exit code 2, one line, nothing written."""
    words, expected = BAD[case]
    (frames / "n.toml").write_text('bx = "grey"', "utf-8")
    (frames / "n.png").write_bytes((frames / "a.png").read_bytes())
    before = sorted(tmp_path.rglob("*"))
    code, out, err = run(capsys, *words, "--chain", A)
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert expected in err
    assert sorted(tmp_path.rglob("*")) == before


def test_no_chains(frames: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Frames alone cannot be compared."""
    code, _, err = run(capsys, "frames/a.png")
    assert code == 2
    assert "no chains" in err


def test_frames_of_different_sizes(frames: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Sizes and modes may differ in one run; it is said."""
    Image.fromarray(np.full((480, 720, 3), 90, np.uint8)).save(frames / "c.png")
    code, out, _ = run(capsys, "frames/a.png", "frames/c.png", "--chain", A, "--metrics", "ssim", "--json")
    assert code == 0
    assert any("different modes" in warning for warning in json.loads(out)["warnings"])


def test_frames_out_of_clips(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every half second of a clip FFmpeg made; without --every its first frame, which is said."""
    monkeypatch.chdir(tmp_path)
    pattern(tmp_path / "shot.mkv", 1.5, "-c:v", "ffv1", size="320x240", rate="30")
    words = (
        "shot.mkv",
        "--chain",
        "line-drop lines=120",
        "--metrics",
        "lost_lines",
        "--by",
        "lost_lines",
        "--json",
    )
    code, out, _ = run(capsys, *words, "--every", "0.5s")
    document = json.loads(out)
    assert code == 0
    assert document["frames"] == ["shot.mkv at 0.00 s", "shot.mkv at 0.50 s", "shot.mkv at 1.00 s"]
    code, out, _ = run(capsys, *words)
    document = json.loads(out)
    assert code == 0 and document["frames"] == ["shot.mkv"]
    assert any("first whole frame is taken; --every" in text for text in document["warnings"])
    code, _, err = run(capsys, *words, "--every", "sometimes")
    assert code == 2 and "every is sometimes" in err and "Traceback" not in err


def test_every_needs_a_clip(frames: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, _, err = run(capsys, "frames/a.png", "--chain", A, "--every", "1s")
    assert code == 2 and "no clip is among the frames" in err


def test_a_border_and_an_enlargement_are_taken_off(frames: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A frame in a border, twice as large: the rows are those of the frame itself, and it is told."""
    own = np.random.RandomState(5).randint(0, 256, (240, 320, 3)).astype(np.uint8)
    Image.fromarray(own).save(frames / "own.png")
    large = np.pad(np.kron(own, np.ones((2, 2, 1), np.uint8)), ((40, 20), (8, 8), (0, 0)))
    Image.fromarray(large).save(frames / "large.png")
    words = ("--chain", "line-average lines=120", "--metrics", "ssim,lost_lines", "--by", "ssim", "--json")
    values = []
    for name, more in (("own.png", ()), ("large.png", ("--trim", "auto", "--native", "240"))):
        code, out, _ = run(capsys, f"frames/{name}", "--mode", "custom", *words, *more)
        assert code == 0
        document = json.loads(out)
        values.append({key: document["rows"][0][key] for key in ("ssim", "lost_lines", "raster")})
    assert values[0] == values[1]
    told = " ".join(document["warnings"])
    assert "40 at the top, 20 at the bottom, 8 left, 8 right" in told and "repeated 2 times" in told
    code, _, err = run(capsys, "frames/own.png", *words, "--trim", "3")
    assert code == 2 and "--trim 3: write it as auto" in err


def test_n_lead_and_verdict_are_written(frames: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Rows carry n, the CSV `<key>.n`; places how many frames each measure was had on, and a null lead."""
    code, out, _ = run(capsys, "frames/*.png", "--chain", A, "--chain", B, "--mode", "custom", "--json")
    document = json.loads(out)
    assert code == 0
    counts = document["rows"][0]["n"]
    assert counts and all(isinstance(count, int) and count > 0 for count in counts.values())
    with Path(document["files"]["csv"]).open(encoding="utf-8", newline="") as file:
        first = next(csv.DictReader(file))
    assert {key: int(first[f"{key}.n"]) for key in counts} == counts
    place = document["ranking"][0]
    assert place["lead"] is None and place["of_frames"] == 2
    assert set(place["frames"]) == set(document["by"]) and max(place["frames"].values()) == 2
    (verdict,) = document["verdicts"]
    assert verdict["verdict"] in ("first on these frames", "tied", "trade-off")
    assert verdict["words"][0].startswith("On these 2 frames")


def test_a_wide_frame_on_a_narrow_tube_is_told_once(frames: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """1280x720 without a fit stage is squeezed on a 4:3 tube; with one, or on a 16:9 tube, it is not."""
    wide = np.random.RandomState(0).randint(0, 256, (36, 64, 3)).astype(np.uint8)
    Image.fromarray(np.kron(wide, np.ones((20, 20, 1), np.uint8))).save(frames / "wide.png")
    fitted = "fitted: fit how=letterbox, line-drop lines=240"
    words = (
        "frames/wide.png",
        "--chain",
        A,
        "--chain",
        fitted,
        "--metrics",
        "lost_lines",
        "--by",
        "lost_lines",
    )
    for tube, times in (("4:3", 1), ("16:9", 0)):
        code, out, _ = run(capsys, *words, "--tube", tube, "--json")
        told = [text for text in json.loads(out)["warnings"] if "squeezed" in text]
        assert code == 0 and len(told) == times
        assert all("after drop:" in text for text in told)
