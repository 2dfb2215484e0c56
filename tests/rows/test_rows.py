"""The rows of a study: each once, nothing lost, and the database sound whatever happens to who writes it."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from scalesim.errors import ParameterError, ReadError, WriteError
from scalesim.rows.layout import FRAME_ITSELF, Contestant, Source
from scalesim.rows.rows import Measured, NotDone, Rows

TEXTS = ("predicted", "240 scan lines at 60 Hz", "720p60", "240p")
SOURCES = [Source("a.mkv", "mark a", "60"), Source("b.png", "mark b")]
WHO = [Contestant("sharp", "chain 1", "line-drop lines=240"), Contestant("soft", "chain 2", "line-average")]


def rows(place: str | Path = "", version: str = "1", metrics: tuple[str, ...] = ("ssim", "psnr_db")) -> Rows:
    found = Rows(place, metrics, version)
    found.take_up(SOURCES, WHO)
    return found


def one(frame: int, who: int = 0, source: int = 0, value: float | None = 0.5) -> Measured:
    why = {"psnr_db": "it is identical"}
    return Measured(source, frame, who, TEXTS, {"ssim": value, "psnr_db": None}, ({"ssim": 3}, {}, why))


def test_rows_come_back_in_order_and_once() -> None:
    """In the order of sources, frames and contestants, however they came; a second one does not count."""
    kept = rows()
    kept.add([one(7), one(0, 1), one(0, 0, 1), one(0)], [])
    kept.add([one(7, value=0.9), one(3, 1)], [])
    places = [(found.source, found.frame, found.contestant) for found in kept.rows()]
    assert places == [(0, 0, 0), (0, 0, 1), (0, 3, 1), (0, 7, 0), (1, 0, 0)]
    found = next(kept.rows("AND frame=?", (7,)))
    assert found == one(7)


def test_what_is_missing() -> None:
    kept = rows()
    kept.add([one(0), one(0, 1), one(2)], [NotDone(0, 1, FRAME_ITSELF, "damaged"), NotDone(0, 2, 1, "no")])
    assert kept.missing(0, [0, 1, 2]) == ([], [])
    kept.take_up(SOURCES, [*WHO, Contestant("new", "chain 3", "interlace")])
    assert kept.missing(0, [0, 1, 2, 5]) == ([0, 2, 5], [0, 1, 2])
    assert kept.missing(1, [0]) == ([0], [0, 1, 2])
    assert [(each.frame, each.contestant) for each in kept.not_done()] == [(1, FRAME_ITSELF), (2, 1)]


def test_another_version_begins_anew_and_leaves_the_rows(tmp_path: Path) -> None:
    place = tmp_path / "rows.sqlite"
    first = rows(place)
    first.add([one(0)], [])
    first.close()
    second = rows(place, "2")
    assert not list(second.rows()) and second.missing(0, [0])[0] == [0]
    second.add([one(0, value=0.7)], [])
    assert [each.values["ssim"] for each in second.rows()] == [0.7]
    second.close()
    assert [each.values["ssim"] for each in rows(place).rows()] == [0.5]


def test_a_chain_or_clip_left_out_does_not_count(tmp_path: Path) -> None:
    place = tmp_path / "rows.sqlite"
    kept = rows(place)
    kept.add([one(0), one(0, 1), one(0, 1, 1)], [])
    kept.take_up(SOURCES[1:], WHO[1:])
    assert [(each.source, each.contestant) for each in kept.rows()] == [(0, 0)]


def test_what_cannot_be_gone_on_with(tmp_path: Path) -> None:
    place = tmp_path / "rows.sqlite"
    rows(place).settle("frames", "every 1s", "was measured on other frames")
    with pytest.raises(ParameterError, match="other frames"):
        rows(place).settle("frames", "every 2s", "was measured on other frames")
    with pytest.raises(ParameterError, match="holds no lost_lines"):
        rows(place, metrics=("ssim", "lost_lines"))
    kept = rows(place)
    kept.add([one(frame) for frame in range(500)], [])
    kept.close_into(place)
    for data in (b"not a database at all" * 100, place.read_bytes()[:20000]):
        broken = tmp_path / "broken.sqlite"
        broken.write_bytes(data)
        with pytest.raises(ReadError, match=r"broken\.sqlite: is no sound database"):
            rows(broken)


def test_a_full_disk_is_one_line_and_keeps_the_rows(tmp_path: Path) -> None:
    """SQLite's own limit of pages stands for the disk: it answers as it does there (SQLITE_FULL)."""
    place = tmp_path / "rows.sqlite"
    kept = rows(place)
    kept.add([one(0)], [])
    pages = kept._database.execute("PRAGMA page_count").fetchone()[0]
    kept._database.execute(f"PRAGMA max_page_count={pages}")
    with pytest.raises(WriteError, match="disk is full") as told:
        kept.add([one(frame) for frame in range(1, 4000)], [])
    assert "\n" not in str(told.value) and "--resume" in str(told.value)
    kept.close()
    assert [each.frame for each in rows(place).rows()] == [0]


def test_it_is_left_as_one_file_also_while_somebody_looks(tmp_path: Path) -> None:
    place = tmp_path / "rows.sqlite"
    kept = rows(place)
    kept.add([one(0)], [])
    kept.close_into(place)
    assert [each.name for each in tmp_path.iterdir()] == ["rows.sqlite"]
    kept = rows(place)
    with closing(sqlite3.connect(place)) as other:
        reader = other.execute("SELECT * FROM measured")
        reader.fetchone()
        kept.add([one(1)], [])
        kept._database.execute("PRAGMA busy_timeout=100")
        kept.close_into(place)
    assert [each.name for each in tmp_path.iterdir()] == ["rows.sqlite"]
    assert [each.frame for each in rows(place).rows()] == [0, 1]


_WRITER = """
import sys
from tests_rows import one, rows
kept = rows(sys.argv[1])
print("ready", flush=True)
frame = 0
while True:
    kept.add([one(frame + k) for k in range(50)], [])
    frame += 50
"""


@pytest.mark.slow
def test_killed_in_the_middle_of_a_write(tmp_path: Path) -> None:
    """Ten writers killed while they write: the database is sound, every step in it whole or not at all."""
    place, helper = tmp_path / "rows.sqlite", tmp_path / "tests_rows.py"
    helper.write_text(Path(__file__).read_text(encoding="utf-8"), encoding="utf-8")
    counts = [0]
    for round_ in range(10):
        process = subprocess.Popen(
            [sys.executable, "-c", _WRITER, str(place)], cwd=tmp_path, stdout=subprocess.PIPE
        )
        assert process.stdout is not None and process.stdout.readline() == b"ready\n"
        try:
            process.wait(0.05 + 0.07 * round_)
        except subprocess.TimeoutExpired:
            process.kill()
        process.communicate()
        with closing(sqlite3.connect(place)) as database:
            assert database.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            counts.append(database.execute("SELECT COUNT(*) FROM measured").fetchone()[0])
        assert counts[-1] % 50 == 0 and counts[-1] >= counts[-2]
    assert counts[-1] > 0
