"""``scalesim compare --clip``: what it writes, and what it says of bad input."""

from __future__ import annotations

import errno
import json
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from scalesim.cli.main import main
from scalesim.io.clips import encoder as clip_encoder
from scalesim.io.clips.write import write_clip
from scalesim.io.saved import read_saved

A, B = "drop: line-drop lines=240 phase=1", "soft & <wide>: line-average lines=240"


@pytest.fixture
def frame(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """A 720p frame in the working folder."""
    monkeypatch.chdir(tmp_path)
    codes = np.random.RandomState(1).randint(0, 256, (36, 64, 3)).astype(np.uint8)
    Image.fromarray(np.kron(codes, np.ones((20, 20, 1), np.uint8))).save("a.png")
    return "a.png"


def test_two_files_a_page_and_a_document(frame: str, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["--chain", A, "--chain", B, "--clip", "stacked", "--pan", "120,0", "--seconds", "0.1"]
    code = main(["compare", frame, *words, "--out", "made", "--json"])
    out, err = capsys.readouterr()
    document = json.loads(out)
    assert code == 0
    assert document["layout"] == "stacked" and document["rate_hz"] == 60 and document["fields_alone"] is False
    assert [panel["label"] for panel in document["panels"]] == ["drop", "soft & <wide>"]
    assert document["panels"][0]["chain"] == "line-drop lines=240 phase=1"
    for name in ("mp4", "mkv"):
        clip = document["clips"][name]
        assert (clip["frames"], clip["width"], clip["height"], clip["caution_s"]) == (6, 1920, 1080, 0.0)
        assert Path(f"made/comparison.{name}").stat().st_size > 0
        assert Path(f"made/comparison.{name}.flashes.json").is_file()
    assert "comparison.mkv: 6 pictures of 1920x1080" in err and err.count("WCAG") == 1
    page = Path("made/index.html").read_text("utf-8")
    rows = flash_rows()
    assert [(row[0], row[2], row[6], row[7]) for row in rows] == 2 * [
        ("comparison.mp4, comparison.mkv", "0", "passes", "nothing: none is needed")
    ]
    assert (
        "ITU-R BT.1702-3" in page and "It lowers a risk and is no promise" in page and "seizures" not in page
    )
    assert "soft &amp; &lt;wide&gt;" in page and page.count('href="comparison.mkv"') == 1
    assert (
        read_saved("made").sentences()[0].startswith("2 panels below each other show the same part of a.png")
    )


def flash_rows() -> list[tuple[str, ...]]:
    """Return the rows that the page tells of flashes, as they are read back."""
    found = [part for part in read_saved("made").parts() if part.title == "Flashes"]
    table: Any = found[0].items[0]
    return [tuple(map(str, row)) for row in table.rows]


@pytest.mark.slow
def test_a_clip_that_flashes_has_its_caution(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A clip of black and white frames in turn, six a second: the card stands before both files."""
    monkeypatch.chdir(tmp_path)
    black, white = (np.full((720, 320, 3), level, np.uint8) for level in (0, 255))
    write_clip("in.mkv", ((black, white)[k // 5 % 2] for k in range(60)), Fraction(60))
    words = ["--chain", "line-drop lines=240", "--chain", B, "--clip", "beside", "--out", "made"]
    assert main(["compare", "in.mkv", "--mode", "720p60", *words]) == 0
    document = json.loads(Path("made/result.json").read_text("utf-8"))
    for clip in document["clips"].values():
        assert clip["caution_s"] == 3.0 and clip["frames"] == 60 + 180 and clip["caution"]
    counted = document["clips"]["mp4"]["flashes"]
    assert [row[2] for row in flash_rows()] == [
        f"{counted[standard]['general_flashes_per_s']:g}" for standard in ("wcag", "broadcast")
    ]
    assert {row[4:] for row in flash_rows()} == {
        ("3", field, "does not pass", "a caution of 3 s") for field in ("a 10-degree field", "the screen")
    }
    said = "A caution of 3 s goes before comparison.mp4 and comparison.mkv. It flashes beyond the limits"
    for name in ("index.html", "comparison.md"):
        text = Path("made", name).read_text("utf-8").replace("\u00a0", " ")
        assert said in text and "photosensitive epilepsy" in text and "does not pass" in text


REFUSED = (
    (["--zoom", "3"], "--zoom applies to a clip; add --clip beside"),
    (["--no-card"], "--no-card applies to a clip; add --clip beside"),
    (["--clip", "beside", "--slow", "0"], "slow is 0"),
    (["--clip", "beside", "--seconds", "x"], "--seconds"),
    (["--clip", "beside", "--seconds", "-1"], "seconds is -1"),
    (["--clip", "beside", "--pan", "1"], "--pan"),
    (["--clip", "beside", "--crop", "0,0,9,9", "--crop", "1,1,9,9"], "--clip takes one --crop; 2 were given"),
    (["--clip", "beside", "--capture", "box"], "--capture box: write it as LABEL=PATH"),
    (["--clip", "beside", "--capture", "box=none.mkv"], "none.mkv"),
    (["--clip", "beside", "b.png"], "--clip takes one clip or picture; 2 were given"),
    (["--clip", "round"], "round"),
    (["--clip", "beside", "--size", "99"], "99"),
)


@pytest.mark.parametrize(("words", "said"), REFUSED)
def test_bad_input_takes_one_line(
    words: list[str], said: str, frame: str, capsys: pytest.CaptureFixture[str]
) -> None:
    code = main(["compare", frame, "--chain", A, "--chain", B, *words, "--out", "made"])
    _, err = capsys.readouterr()
    assert code == 2 and said in err and len(err.strip().splitlines()) == 1
    assert not Path("made").exists()


def clip_of(name: str, lines: int, samples: int, count: int, of: Callable[[int], int] = lambda k: k) -> str:
    """Write an exact clip of outlines that move 4 samples a picture; `of` numbers its pictures."""
    rs, scene = np.random.RandomState(5), np.full((480, 640, 3), 128, np.uint8)
    for _ in range(80):
        top, left = rs.randint(0, 420), rs.randint(0, 580)
        scene[top : top + rs.randint(6, 60), left : left + rs.randint(6, 60)] = rs.randint(0, 256, 3)
    pictures = (np.roll(scene, 4 * of(k), axis=1)[:lines, :samples] for k in range(count))
    write_clip(name, pictures, Fraction(60))
    return name


def made_of(words: Sequence[str]) -> tuple[int, dict[str, Any]]:
    """Run the command; return its code and the document, {} where there is none."""
    code = main(["compare", *words, "--clip", "beside", "--out", "made"])
    place = Path("made/result.json")
    return code, json.loads(place.read_text("utf-8")) if place.exists() else {}


@pytest.mark.parametrize(("lines", "samples", "count"), [(480, 640, 1), (477, 639, 3)])
def test_one_picture_and_odd_sizes(
    lines: int, samples: int, count: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    code, document = made_of([clip_of("in.mkv", lines, samples, count), "--chain", A, "--chain", B])
    assert code == 0 and document["clips"]["mkv"]["frames"] == count


def test_a_clip_too_short_for_a_pair_of_fields(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """One picture is no two fields; alone, its one field is shown."""
    monkeypatch.chdir(tmp_path)
    words = [clip_of("in.mkv", 480, 640, 1), "--chain", "fields: interlace", "--chain", B]
    assert made_of(words) == (2, {})
    said = capsys.readouterr().err
    assert "fields makes 1 of it, and 2 together are one picture" in said and len(said.splitlines()) == 1
    code, document = made_of([*words, "--fields-alone"])
    assert code == 0 and document["clips"]["mkv"]["frames"] == 1


def test_a_variable_rate_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """17, 33 and 50 ms in turn: what `read` assumes of a clip is said on the page."""
    import av

    monkeypatch.chdir(tmp_path)
    with av.open("in.mkv", "w") as container:
        stream = container.add_stream("libx264rgb", rate=60, options={"qp": "0"})
        stream.width, stream.height, stream.pix_fmt = 640, 480, "rgb24"
        stream.codec_context.time_base = Fraction(1, 1000)
        due = 0
        for k in range(9):
            frame = av.VideoFrame.from_ndarray(np.full((480, 640, 3), 20 * k, np.uint8), format="rgb24")
            frame.pts, frame.time_base = due, Fraction(1, 1000)
            container.mux(stream.encode(frame))
            due += (17, 33, 50)[k % 3]
        container.mux(stream.encode())
    code, document = made_of(["in.mkv", "--chain", A, "--chain", B])
    assert code == 0 and document["clips"]["mkv"]["frames"] == 9
    assert any("Variable rate" in text for text in read_saved("made").sentences())


@pytest.mark.parametrize(
    ("first", "count", "frames", "said"),
    [(0, 20, 12, ""), (5, 4, 4, "box lasts 0.067 s; the clip ends with it"), (0, 1, 1, "box lasts 0.017 s")],
)
def test_a_capture_of_another_length(
    first: int, count: int, frames: int, said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The clip lasts as long as both do; one that ends before its source is told."""
    monkeypatch.chdir(tmp_path)
    source = clip_of("in.mkv", 480, 640, 12)
    box = clip_of("box.mkv", 480, 640, count, lambda k: first + k)
    chain = "a: line-drop lines=480"
    code, document = made_of([source, "--chain", chain, "--capture", f"box={box}"])
    assert code == 0 and document["clips"]["mkv"]["frames"] == frames
    words = " ".join(read_saved("made").sentences())
    assert said in words if said else "box lasts" not in words


@pytest.mark.parametrize("damage", ["cut", "packets", "empty"])
def test_a_damaged_clip_leaves_nothing(
    damage: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Cut off, or with bytes of its packets turned over: one line, and no half of a clip."""
    monkeypatch.chdir(tmp_path)
    whole = bytearray(Path(clip_of("in.mkv", 480, 640, 40)).read_bytes())
    middle = len(whole) // 2
    if damage == "packets":
        for start in range(middle, len(whole) - 200, 2000):
            whole[start : start + 100] = bytes(byte ^ 0x55 for byte in whole[start : start + 100])
    Path("in.mkv").write_bytes({"cut": whole[:middle], "packets": whole, "empty": b""}[damage])
    code, _ = made_of(["in.mkv", "--chain", A, "--chain", B])
    said = capsys.readouterr().err
    assert code == 2 and "in.mkv: " in said and len(said.splitlines()) == 1
    assert sorted(path.name for path in tmp_path.iterdir()) == ["in.mkv"]


def test_a_full_disk_leaves_nothing(
    frame: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The third picture of the exact file does not fit: one line, and no half of a clip."""
    done, left = clip_encoder.Encoder.push, [3]

    def push(encoder: clip_encoder.Encoder, *given: Any) -> None:
        left[0] -= encoder.path.suffix == ".mkv"
        if left[0] == 0:
            raise OSError(errno.ENOSPC, "No space left on device")
        done(encoder, *given)

    monkeypatch.setattr(clip_encoder.Encoder, "push", push)
    words = [frame, "--chain", A, "--chain", B, "--pan", "60,0", "--seconds", "0.1"]
    assert made_of(words) == (2, {})
    said = capsys.readouterr().err
    place = Path("made", "comparison.mkv")  # where it would have been, not where it was written so far
    assert f"scalesim: {place}: cannot be written (No space left on device)" in said
    assert len(said.splitlines()) == 1 and [path.name for path in Path().iterdir()] == [frame]


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="no program can be told to stop by Ctrl-C from outside")
def test_ctrl_c_in_the_middle_leaves_nothing(frame: str) -> None:
    """Told to stop while both files grow, it ends with 130 and one line, and nothing is left."""
    words = [
        "--chain",
        A,
        "--chain",
        B,
        "--clip",
        "wipe",
        "--pan",
        "60,0",
        "--seconds",
        "600",
        "--out",
        "made",
    ]
    command = [sys.executable, "-m", "scalesim", "compare", frame, *words]
    running = subprocess.Popen(command, stderr=subprocess.PIPE, text=True)
    try:
        until = time.monotonic() + 120
        while not any(path.stat().st_size > 100_000 for path in Path().rglob("comparison.partial.mkv")):
            assert running.poll() is None and time.monotonic() < until
            time.sleep(0.2)
        running.send_signal(signal.SIGINT)
        said = running.communicate(timeout=120)[1]
    finally:
        running.kill()
    assert running.returncode == 130 and len(said.strip().splitlines()) == 1
    assert [path.name for path in Path().iterdir()] == [frame]
