"""A comparison over clips: the same figures as frame by frame, the same table whoever measures."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
from clip_files import encoded, pattern

from scalesim.errors import ParameterError, WorkerError
from scalesim.io.footage import footage
from scalesim.io.read import read
from scalesim.jobs.compare.compare import compare
from scalesim.jobs.compare.study.answer import Study
from scalesim.jobs.compare.study.moments import MOST_RANKED, ties_behind
from scalesim.jobs.compare.study.worst import time_code
from scalesim.metrics import key_of
from scalesim.saving import save

CHAINS = {"drop": "line-drop lines=60 phase=1", "mean": "line-average lines=60"}
BY = ("lost_lines", "line_doubling")
ASKED = {"metrics": ("lost_lines",), "by": BY}


@pytest.fixture(scope="module")
def clip(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A clip of 2 s at 30 Hz."""
    options = ("-c:v", "libx264", "-g", "10", "-pix_fmt", "yuv420p")
    return pattern(tmp_path_factory.mktemp("study") / "a.mkv", 2, *options, size="160x120", rate="30")


@pytest.fixture(scope="module")
def study(clip: Path) -> Study:
    """Every fifth frame through two chains, by this process."""
    found = compare(CHAINS, [footage(clip, every="5")], **ASKED)
    assert isinstance(found, Study)
    return found


def table(found: Study) -> list[dict[str, object]]:
    return [row.to_dict() for row in found.every_row()]


def test_rows_are_those_of_the_frames_alone(clip: Path, study: Study) -> None:
    """Against `compare` of stills that the clip's own reader gave."""
    moving = read(clip)
    rows = {(row.place["number"], row.chain): row for row in study.every_row()}
    assert len(rows) == 12 * 2 and study.measured == 12
    for number in (0, 25, 55):
        alone = compare(CHAINS, [moving.still_at(number)], **ASKED)
        for expected in alone.rows:
            found = rows[number, expected.chain]
            assert (found.metrics, found.n, found.why) == (expected.metrics, expected.n, expected.why)


def test_the_same_table_whoever_measures(clip: Path, study: Study) -> None:
    with ThreadPoolExecutor(3) as pool:
        found = compare(CHAINS, [footage(clip, every="5")], executor=pool, **ASKED)
        assert pool.submit(int).result() == 0, "an executor of the user's was closed"
    assert isinstance(found, Study) and table(found) == table(study)
    assert found.to_dict() == study.to_dict()


@pytest.mark.slow
@pytest.mark.parametrize("workers", [1, 2, 4])
def test_the_same_table_by_any_number_of_processes(clip: Path, study: Study, workers: int) -> None:
    found = compare(CHAINS, [footage(clip, every="5")], workers=workers, **ASKED)
    assert isinstance(found, Study) and table(found) == table(study)


def test_gone_on_with_nothing_is_measured_again(
    clip: Path, study: Study, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A second run with one chain more measures that chain alone; of a version that is not there, all."""
    place = tmp_path / "rows.sqlite"
    first = compare({"drop": CHAINS["drop"]}, [footage(clip, every="5")], rows=place, **ASKED)
    assert isinstance(first, Study)
    first.kept.rows.close()
    seen: list[str] = []
    monkeypatch.setattr("scalesim.jobs.compare.study.work.measured_on", _counting(seen))
    second = compare(CHAINS, [footage(clip, every="5")], rows=place, **ASKED)
    assert seen == ["line-average lines=60"] * 12
    assert isinstance(second, Study) and table(second) == table(study)
    second.kept.rows.close()
    third = compare(CHAINS, [footage(clip, every="5")], rows=place, **ASKED)
    assert len(seen) == 12 and isinstance(third, Study) and table(third) == table(study)


def _counting(seen: list[str]):  # type: ignore[no-untyped-def]  # of the function it stands for
    from scalesim.jobs.compare.study import work

    own = work.measured_on

    def counted(clip, chain, *rest):  # type: ignore[no-untyped-def]  # likewise
        seen.append(chain.text)
        return own(clip, chain, *rest)

    return counted


def test_what_cannot_be_done_is_listed(clip: Path) -> None:
    found = compare(
        {**CHAINS, "odd": "line-average lines=61, interlace"}, [footage(clip, every="30")], **ASKED
    )
    assert list(found.failed) == ["a.mkv / odd"] and "61" in found.failed["a.mkv / odd"]
    with pytest.raises(ParameterError, match=r"nothing could be compared: .*61"):
        compare({"odd": "line-average lines=61, interlace"}, [footage(clip)], **ASKED)


def test_settings_and_displays_are_contestants(clip: Path) -> None:
    """Two phases and two chains are four; each again on the tube, whose overscan hides more."""
    found = compare(
        {"drop": "line-drop lines=60", "mean": "line-average lines=60"},
        [footage(clip)],
        vary=["line-drop.phase=0|1"],
        displays=["livingroom-68cm-350"],
        **ASKED,
    )
    assert isinstance(found, Study)
    labels = ["drop, line-drop.phase=0", "drop, line-drop.phase=1", "mean"]
    assert found.contestants == tuple(labels) and [each.chain for each in found.ranking] != []
    rows = list(found.every_row())
    assert [row.chain for row in rows] == [label for label in labels for _ in range(2)]
    assert [row.place["setting"] for row in rows[::2]] == ["line-drop.phase=0", "line-drop.phase=1", ""]
    alone, tube = rows[:2]
    assert not alone.place["display"] and "68 cm" in str(tube.place["display"])
    assert (alone.metrics["cropped_percent"] or 0) < (tube.metrics["cropped_percent"] or 0)
    with pytest.raises(ParameterError, match="no chain has such a key"):
        compare(CHAINS, [footage(clip)], vary=["interlace.first=top"], **ASKED)


def test_spreads_are_those_of_numpy(study: Study) -> None:
    """Quantiles as NumPy's, which are of type 7 too; the worst is the largest of what is better low."""
    for name in BY:
        for label in CHAINS:
            values = [row.metrics[name] for row in study.every_row() if row.chain == label]
            known = np.array([value for value in values if value is not None])
            found = study.spreads[name][label]
            assert found.n == known.size and found.worst == known.max()
            assert np.allclose(found.quantiles, np.quantile(known, (0.05, 0.25, 0.5, 0.75, 0.95)))


def test_neighbours_do_not_count_twice(clip: Path) -> None:
    """Of every frame at 30 Hz one in 8 is ranked (a quarter second is 7.5 frames), which is said."""
    found = compare(CHAINS, [footage(clip, every="1")], **ASKED)
    assert isinstance(found, Study)
    assert found.measured == 60 and len(found.ranked) == 8 <= MOST_RANKED
    (said,) = [s for s in found.sentences() if "frames were measured" in s]
    assert said.startswith("60 frames were measured. The ranking goes by 8 of them, one in every quarter")
    assert all(verdict.frames == 8 for verdict in found.verdicts)


def test_the_worst_moment_is_found_and_shown(tmp_path: Path) -> None:
    """Thin lines lie where a drop takes them, in one frame of thirty beside: that is shown, with its time."""
    kept, lost = (np.full((120, 160, 3), 90, np.uint8) for _ in range(2))
    kept[8:112:8, 20:140] = lost[9:112:8, 20:140] = 255
    frames = np.stack([lost if k == 17 else kept for k in range(30)])
    path = encoded(tmp_path / "b.mkv", frames, "rgb24", (120, 160), "-c:v", "ffv1", rate="30")
    asked = {"metrics": ("lost_lines",), "by": ("lost_lines",)}
    found = compare({"drop": "line-drop lines=60"}, [footage(path, every="1")], **asked)
    assert isinstance(found, Study)
    worst = [(w.key, each.number) for each in found.shown_moments for w in each.worst]
    assert worst == [("lost_lines", 17)]
    assert time_code(17, 30) == "0:00.57" and time_code(30 * 3725, 30) == "1:02:05.00"
    key = key_of("line_doubling")
    assert ties_behind(key, 0.5, 0.1) > 1 > ties_behind(key, 0.1, 0.1) and ties_behind(key, 0.1, 0.5) < 0


def test_it_is_saved_whole(study: Study, tmp_path: Path) -> None:
    """The page with its parts, and every row as CSV, JSON, a database, and a table for pandas."""
    written = save(study, tmp_path / "out")
    page = (tmp_path / "out" / "index.html").read_text(encoding="utf-8")
    assert all(words in page for words in ("Worst moments", "What was looked at", "a.mkv over time"))
    lines = (tmp_path / "out" / "rows.csv").read_text(encoding="utf-8").splitlines()
    assert len(lines) == 25 and lines[0].startswith("frame,chain,clip,number,time_s,kind")
    rows = json.loads((tmp_path / "out" / "rows.json").read_text(encoding="utf-8"))["rows"]
    assert rows == table(study)
    assert {"csv", "json", "rows", "page", "time-1"} <= written["files"].keys()
    frame = study.frame()
    assert frame.shape == (24, len(lines[0].split(",")))
    assert np.isclose(frame["lost_lines"].max(), max(row["lost_lines"] for row in rows))


def test_who_measures_goes_away(clip: Path) -> None:
    """An executor that is closed, and one whose tasks cannot be sent, are told in one line."""
    pool = ThreadPoolExecutor(1)
    pool.shutdown()
    with pytest.raises(WorkerError, match=r"is gone .*--resume") as told:
        compare(CHAINS, [footage(clip)], executor=pool, **ASKED)
    assert "\n" not in str(told.value)
    with pytest.raises(ParameterError, match="cannot be given frames of this one"):
        compare(CHAINS, [read(clip).still_at(0)], workers=2, **ASKED)
    for bad in (0, -1, 5000):
        with pytest.raises(ParameterError, match="workers is"):
            compare(CHAINS, [footage(clip)], workers=bad, **ASKED)
