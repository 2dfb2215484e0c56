"""``scalesim compare`` over clips: what it takes, what it refuses, and what it leaves to go on with."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from clip_files import pattern

from scalesim.cli.main import main
from scalesim.cli.study import spans_asked
from scalesim.errors import ParameterError
from scalesim.io.output.marker import Marker

CHAIN = ("--chain", "drop: line-drop lines=60 phase=1")
ASKED = (*CHAIN, "--metrics", "lost_lines", "--by", "lost_lines")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with two clips, of which the second is damaged in its middle."""
    folder = tmp_path_factory.mktemp("clips")
    options = ("-c:v", "libx264", "-g", "10", "-pix_fmt", "yuv420p")
    data = bytearray(pattern(folder / "a.mkv", 1, *options, size="160x120", rate="30").read_bytes())
    at = len(data) // 2
    data[at : at + 80] = bytes(80)
    (folder / "b.mkv").write_bytes(bytes(data))
    (folder / "c.mkv").write_bytes(b"\x1aE\xdf\xa3" + bytes(100))
    return folder


@pytest.fixture
def clips(made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder to write in; clips are named from the other. One frame is shown: pages take most time."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("scalesim.jobs.compare.study.moments.MOST_SHOWN", 1)
    return made


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = main(["compare", *words])
    told = capsys.readouterr()
    return code, told.out, told.err


def test_broken_packets_are_listed_and_the_rest_scored(
    clips: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two clips of 30 frames: one is no clip at all, of the other a run of frames is lost."""
    found = [str(clips / name) for name in ("a.mkv", "b.mkv", "c.mkv")]
    code, out, err = run(capsys, *found, "--every", "3", *ASKED, "--json")
    document = json.loads(out)
    taken = {each["name"]: (each["taken"], each["measured"]) for each in document["sources"]}
    assert code == 2 and taken["a.mkv"] == (10, 10) and 0 < taken["b.mkv"][1] < 10
    lost = 10 - taken["b.mkv"][1]
    (name,) = [name for name in document["failed"] if name.startswith("b.mkv at ")]
    assert "damaged" in document["failed"][name] and (f"({lost} frames)" in name or lost == 1)
    assert "c.mkv" in document["failed"] and len(err.strip().splitlines()) == 2
    assert document["measured_frames"] == sum(own for _, own in taken.values())


def test_a_finished_study_takes_more(clips: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """With --resume another chain is added; without, the folder is left alone; other frames are refused."""
    words = (str(clips / "a.mkv"), "--every", "10", "--out", "out", *ASKED)
    assert run(capsys, *words)[0] == 0
    code, _, err = run(capsys, *words)
    assert code == 2 and "--force" in err
    more = ("--chain", "mean: line-average lines=60", "--resume", "--json")
    code, out, _ = run(capsys, *words, *more)
    assert code == 0 and {row["chain"] for row in json.loads(out)["rows"]} == {"drop", "mean"}
    code, _, err = run(capsys, *words[:1], "--every", "15", *words[3:], "--resume")
    assert code == 2 and "other frames of the clips" in err and len(err.strip().splitlines()) == 1
    assert (tmp_path / "out" / "index.html").is_file() and not (tmp_path / "out.partial").exists()


def test_what_a_dead_run_left_is_kept_and_taken_up(
    clips: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The rows stay through an error; a run of another process that is alive is not disturbed."""
    words = (str(clips / "a.mkv"), "--every", "10", *ASKED)
    monkeypatch.setattr("scalesim.jobs.compare.study.study.ranked_rows", _fails)
    code, _, err = run(capsys, *words)
    assert code == 2 and "no more" in err
    place = tmp_path / "outputs" / "compare.partial" / "new" / "rows.sqlite"
    with closing(sqlite3.connect(place)) as database:
        assert database.execute("SELECT COUNT(*) FROM measured").fetchone() == (3,)
    monkeypatch.undo()
    monkeypatch.chdir(tmp_path)
    marker = Marker.read(place.parents[1])
    assert marker is not None and marker.resumable
    code, _, err = run(capsys, *words, "--resume")
    assert code == 2 and "writes it" in err, "this very process has not ended"
    replace(marker, start="another").write(place.parents[1])
    code, _, err = run(capsys, *words, "--resume")
    assert code == 0, err
    assert (tmp_path / "outputs" / "compare" / "rows.csv").is_file() and not place.exists()


def _fails(_: object) -> None:
    raise ParameterError("no more; of this test")


def test_a_study_file_says_it_all(clips: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    (tmp_path / "s.toml").write_text(
        f'frames = ["{clips.as_posix()}/a.mkv"]\nevery = "10"\nparts = ["0.3-"]\n'
        'vary = ["line-drop.phase=0|1"]\ndisplays = ["livingroom-68cm-350"]\nby = ["lost_lines"]\n'
        'metrics = ["lost_lines"]\n[[chain]]\nname = "drop"\ntext = "line-drop lines=60"\n'
    )
    code, out, err = run(capsys, "--study", "s.toml", "--json", "--parquet")
    assert code == 0, err
    document = json.loads(out)
    assert code == 0, err
    assert list(document["chains"]) == ["drop, line-drop.phase=0", "drop, line-drop.phase=1"]
    assert document["frames"] == ["a.mkv at 0.30 s", "a.mkv at 0.63 s", "a.mkv at 0.97 s"]
    import pandas

    table = pandas.read_parquet(document["files"]["parquet"])
    assert len(table) == 3 * 2 * 2 and set(table["display"]) == {"", "living room 68 cm, 350 TV lines"}


REFUSED = {
    "a part": (("--every", "1", "--part", "often"), "part is often"),
    "a part backwards": (("--every", "1", "--part", "2-1"), "the later one last"),
    "a part past the end": (("--every", "1", "--part", "90-"), "holds no frame"),
    "no workers": (("--every", "10", "--workers", "0"), "workers is 0"),
    "half a worker": (("--every", "10", "--workers", "half"), "half"),
    "how often": (("--every", "never"), "every is never"),
    "a dial": (("--every", "10", "--vary", "fit.how=crop|squeeze"), "fit.how"),
    "a metric": (("--every", "10", "--by", "beauty"), "beauty"),
    "a capture": (("--workers", "2", "--capture", "box=a.png"), "--workers: not with --capture"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_refused_in_one_line(
    case: str, clips: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    words, told = REFUSED[case]
    code, out, err = run(capsys, str(clips / "a.mkv"), *ASKED, *words)
    assert code == 2 and not out and told in err and len(err.strip().splitlines()) == 1, err
    assert not list(tmp_path.glob("outputs/*")), "something was left"


def test_parts_of_clips() -> None:
    assert spans_asked(["10-90", "1:10-2:00.5", "-3 s", "1:02:05-"]) == (
        (10, 90),
        (70, 120.5),
        (0, 3),
        (3725, None),
    )
