"""Which frames of clips a study takes."""

from __future__ import annotations

import pickle
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from clip_files import pattern
from PIL import Image

from scalesim.core.clip import Clip
from scalesim.errors import ParameterError, ReadError
from scalesim.io.footage import footage
from scalesim.io.read import read
from scalesim.jobs.compare.study.tasks import MOST_FRAMES, TASK_FRAMES, evened, parts_of, tasks_of
from scalesim.sampled import Footage


@pytest.fixture(scope="module")
def clip(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A clip of 3 s at 30 Hz."""
    return pattern(tmp_path_factory.mktemp("footage") / "a.mkv", 3, "-c:v", "ffv1", size="64x48", rate="30")


def test_which_frames(clip: Path) -> None:
    """Every second: 0, 30, 60; parts count from their own begin; without `every` the first, which is said."""
    assert list(footage(clip, every="1s").frames) == [0, 30, 60]
    assert list(footage(clip, every="40").frames) == [0, 40, 80]
    assert list(footage(clip, every="0.5 s", spans=[(Fraction(1), Fraction(2))]).frames) == [30, 45]
    spans = [(Fraction(0), Fraction(1, 10)), (Fraction(29, 10), None)]
    assert list(footage(clip, every="2", spans=spans).frames) == [0, 2, 87, 89]
    first = footage(clip)
    assert list(first.frames) == [0] and "its first whole frame is taken" in first.notes[0]
    assert footage(clip, every="1s").frame_name(30) == "a.mkv at 1.00 s"


def test_bad_asking(clip: Path, tmp_path: Path) -> None:
    with pytest.raises(ParameterError, match="every is"):
        footage(clip, every="often")
    with pytest.raises(ParameterError, match=r"from 5 s to its end holds no frame; it has 3\.00 s"):
        footage(clip, every="1", spans=[(Fraction(5), None)])
    with pytest.raises(ReadError, match="none"):
        footage(tmp_path / "none.mkv")


def test_a_part_can_be_sent(clip: Path) -> None:
    """It is plain data, and small: a clip's stamps stay at home."""
    found = footage(clip, every="1")
    sent = pickle.dumps(found.part([3, 70]))
    assert len(sent) < 4000
    stills = dict(pickle.loads(sent).stills())
    assert list(stills) == [3, 70]
    expected = read(clip).still_at(70)
    still = stills[70]
    assert isinstance(still, Clip) and np.array_equal(still.frame, expected.frame)


def test_pictures_and_sequences(tmp_path: Path) -> None:
    for k in range(3):
        Image.new("RGB", (32, 24), (40 * k, 0, 0)).save(tmp_path / f"s-{k}.png")
    one = footage(tmp_path / "s-1.png")
    assert one.rate is None and one.frame_name(0) == "s-1.png"
    assert one.still(0).frame[0, 0, 0] == pytest.approx(40 / 255)  # type: ignore[index]  # a still
    several = footage(tmp_path / "s-%d.png", every="1")
    assert list(several.frames) == [0, 1, 2] and several.whole
    assert several.still(2).frame[0, 0, 0] == pytest.approx(80 / 255)  # type: ignore[index]  # likewise


def test_the_mark_tells_contents_apart(tmp_path: Path) -> None:
    (tmp_path / "a.png").write_bytes(b"")
    Image.new("RGB", (32, 24)).save(tmp_path / "a.png")
    first = footage(tmp_path / "a.png").mark
    assert footage(tmp_path / "a.png").mark == first != footage(tmp_path / "a.png", limited=True).mark
    Image.new("RGB", (32, 24), (1, 0, 0)).save(tmp_path / "a.png")
    assert footage(tmp_path / "a.png").mark != first


@pytest.mark.parametrize(("keys", "sizes"), [(6, [18, 18, 18, 6]), (40, [40, 20]), (300, [60])])
def test_tasks_begin_at_key_pictures(keys: int, sizes: list[int]) -> None:
    """Whole runs from key picture to key picture, as soon as there are sixteen frames."""
    taken = Footage("a", "m", range(60), Fraction(60), lambda _: None, lambda k: k - k % keys)  # type: ignore[arg-type, return-value]  # not read
    tasks = [list(task) for task in tasks_of(taken)]
    assert [len(task) for task in tasks] == sizes and [k for task in tasks for k in task] == list(range(60))
    assert all(task[0] % keys == 0 for task in tasks) and TASK_FRAMES < MOST_FRAMES


@pytest.mark.parametrize(
    ("lengths", "workers", "longest"),
    [
        ([60] * 5, 2, 150),  # 180 where the last is left whole
        ([60] * 4, 2, 120),
        ([60], 2, 30),
        ([60], 100, 9),  # not below eight frames
        ([60] * 5, 3, 120),  # as two tasks are no even number of parts for three
        ([60] * 11, 8, 90),
        ([60] * 5, 1, 300),
        ([15] * 3, 2, 30),  # too few to be divided
        ([], 2, 0),
    ],
)
def test_the_last_tasks_are_shared_out(lengths: list[int], workers: int, longest: int) -> None:
    """Each task is given to the worker that is free first, as a pool does; a frame takes as long as any."""
    tasks = [range(60 * k, 60 * k + length) for k, length in enumerate(lengths)]
    given = list(evened(iter(tasks), workers, parts_of))
    assert [frame for task in given for frame in task] == [frame for task in tasks for frame in task]
    busy = [0] * workers
    for task in given:
        busy[busy.index(min(busy))] += len(task)
    assert max(busy) == longest
