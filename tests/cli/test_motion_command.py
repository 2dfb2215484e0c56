"""``scalesim chart counter`` and ``scalesim motion``: files, JSON keys, exit codes, what cannot be read."""

from __future__ import annotations

import json
from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from scalesim.charts.counter.draw import counter_frames
from scalesim.charts.counter.layout import layout
from scalesim.cli.main import main
from scalesim.io.clips.grey import write_grey
from scalesim.io.read import read


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = main(words)
    out, err = capsys.readouterr()
    return code, out, err


def document(capsys: pytest.CaptureFixture[str], *words: str, code: int = 0) -> dict:
    found, out, err = run(capsys, *words, "--json")
    assert found == code, err
    return json.loads(out)


def frames(count: int, first: int = 0, mode: str = "240p") -> list[np.ndarray]:
    return list(counter_frames(layout(mode), count, first))


def clip(path: Path, pictures: Iterable[np.ndarray], rate: Fraction = Fraction(60)) -> Path:
    write_grey(path, pictures, rate)
    return path


@pytest.fixture(scope="module")
def torn(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A capture with a tear at line 100 of frame 30 and a repeat at frame 41."""
    shown = frames(60)
    shown[30][100:] = shown[31][100:]
    shown.insert(41, shown[40])
    return clip(tmp_path_factory.mktemp("torn") / "capture.mkv", shown)


def test_the_chart_is_written_with_clips_of_the_length_asked_for(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ("chart", "counter", "--mode", "480i", "--seconds", "1", "--out", str(tmp_path / "o"))
    told = document(capsys, *words)
    assert {"png", "clip", "clip-h264", "truth"} <= set(told["files"])
    assert json.loads(Path(told["files"]["truth"]).read_text())["chart"] == "counter"
    for name in ("clip", "clip-h264"):
        found = read(told["files"][name])
        assert found.raster.period == 2 and found.length == 60
        assert found.raster.rate == Fraction(60000, 1001)
    found = document(capsys, "motion", told["files"]["clip-h264"], "--out", str(tmp_path / "m"))
    assert found["frames"] == 30 and found["pictures"] == 60 and found["torn"] == []
    assert (found["repeated"], found["dropped"], found["unread"]) == (0, 0, 0)


def test_a_torn_capture_as_json(torn: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = document(capsys, "motion", str(torn), "--out", str(tmp_path / "o"))
    assert found["command"] == "motion" and found["frames"] == 61
    assert found["torn"] == [{"frame": 30, "line": 100.0}]
    assert found["repeated"] == 1 and found["repeats"] == [{"frame": 41, "source": 40}]
    assert found["dropped"] == 0 and found["drops"] == []
    assert found["tear_rate_hz"] == pytest.approx(60 / 61)
    assert found["rates"]["torn"]["low"] < found["tear_rate_hz"] < found["rates"]["torn"]["high"]
    rows = Path(found["files"]["events"]).read_text().splitlines()
    assert rows[0].startswith("event,frame,") and rows[1].startswith("torn,30,") and len(rows) == 3
    assert Path(found["files"]["strip"]).is_file() and Path(found["files"]["page"]).is_file()


def test_the_terminal_says_it(torn: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "motion", str(torn), "--out", str(tmp_path / "o"))
    assert code == 0 and "Traceback" not in err
    assert "1 torn, 1 repeating the one before; every source picture is shown." in " ".join(out.split())


def test_the_tear_is_marked_in_a_clip_on_request(
    torn: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = document(capsys, "motion", str(torn), "--marked", "--out", str(tmp_path / "o"))
    marked = read(found["files"]["marked-clip"])
    assert marked.length == 13 and marked.raster.rate == 10
    assert Path(found["files"]["marked-clip-flashes"]).is_file()
    page = (tmp_path / "o" / "index.html").read_text("utf-8")
    assert "ITU-R BT.1702-3" in page and "passes" in page and found["clips"]["marked"]["flashes"]["passes"]
    pictures = [picture.values for picture in marked.pictures()]
    left = pictures[6][:, :3]  # the torn frame: a pointer of another colour than grey at its line
    coloured = np.flatnonzero((left.max(axis=2) - left.min(axis=2)).max(axis=1) > 0.3)
    inside = coloured[coloured > 30]
    assert abs(inside.mean() + 0.5 - 100) < 1 and len(inside) < 30
    assert not ((pictures[0][40:, :3].max(axis=2) - pictures[0][40:, :3].min(axis=2)) > 0.3).any()


def test_without_the_chart_it_cannot_tell(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    grey = clip(tmp_path / "grey.mkv", [np.full((240, 720), 90, np.uint8)] * 30)
    found = document(capsys, "motion", str(grey), "--out", str(tmp_path / "o"), code=1)
    assert found["torn"] is None and found["repeated"] is None and "counter chart" in found["why"]["torn"]
    assert found["frames"] == 30


def test_a_source_clip_in_place_of_the_chart(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The chart's own pictures serve as any clip: through a chain, half the lines."""
    played = clip(tmp_path / "played.mkv", frames(50))
    captured = [frame[::2].copy() for frame in frames(50)]
    captured[20][60:] = captured[21][60:]
    box = clip(tmp_path / "captured.mkv", captured)
    words = ("--source", str(played), "--chain", "line-drop lines=120", "--out", str(tmp_path / "o"))
    found = document(capsys, "motion", str(box), *words)
    assert [(t["frame"], t["line"]) for t in found["torn"]] == [(20, 60.0)]
    assert found["source"] == "played.mkv" and found["by_kind"]


def test_uneven_time_stamps_keep_their_times(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A capture program that left out what it took for repeats: its stamps say when each frame was shown."""
    path = tmp_path / "uneven.mp4"
    with av.open(str(path), "w") as made:
        stream = made.add_stream("libx264", rate=60, options={"crf": "12", "preset": "ultrafast"})
        stream.width, stream.height, stream.pix_fmt = 720, 240, "yuv420p"
        stream.codec_context.time_base = Fraction(1, 600)
        at = 0
        for k, luma in enumerate(frames(60)):
            frame = av.VideoFrame.from_ndarray(luma, format="gray").reformat(format="yuv420p")
            frame.pts, frame.time_base = at, Fraction(1, 600)
            at += 10 if k % 3 else 20
            made.mux(stream.encode(frame))
        made.mux(stream.encode())
    found = document(capsys, "motion", str(path), "--out", str(tmp_path / "o"))
    assert (found["frames"], found["repeated"], found["dropped"], found["torn"]) == (60, 0, 0, [])
    assert any("ariable rate" in note or "not even" in note for note in found["notes"])
    rows = Path(found["files"]["lines"]).read_text().splitlines()
    assert float(rows[2].split(",")[2]) == pytest.approx(2 / 60, abs=1e-4)


def test_what_cannot_be_read_is_one_line(
    torn: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    cut = tmp_path / "cut.mkv"
    cut.write_bytes(torn.read_bytes()[: torn.stat().st_size // 2])
    text = tmp_path / "text.mp4"
    text.write_text("no clip")
    for words, part in (
        ((str(cut),), "cut short"),
        ((str(text),), "cannot be read as a clip"),
        ((str(tmp_path / "none.mp4"),), "none.mp4"),
        ((str(torn), "--chain", "line-drop lines=120"), "give the source too"),
        ((str(torn), "--source", str(cut)), "cut short"),
        ((str(torn), "--mode", "719p"), "719p"),
    ):
        code, out, err = run(capsys, "motion", *words, "--out", str(tmp_path / "o"))
        assert code == 2 and out == "" and err.count("\n") == 1 and part in err, err
        assert not (tmp_path / "o").exists() and not list(tmp_path.glob("*.partial"))
    code, _, err = run(capsys, "chart", "counter", "--mode", "720p60", "--seconds", "0")
    assert code == 2 and err.count("\n") == 1
