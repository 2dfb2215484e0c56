"""Where a comparison looks: at letters and at what was judged, never mostly at water or brick."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from scalesim.core.clip import still_clip
from scalesim.core.encoding import luma
from scalesim.io.read import read
from scalesim.jobs.compare.crops import Crop, best_crop, cells_of, crops_of
from scalesim.jobs.compare.pictures import look_of, parts_of
from scalesim.jobs.predict.predict import predict
from scalesim.jobs.predict.views import Contestant

FRAMES = Path(__file__).parents[2] / "inputs" / "frames"
CHAINS = ("line-drop lines=240", "line-average lines=240")

# read off the frames by eye, as (top, left, bottom, right): where nothing but texture is
TEXTURE = {
    "moss_tower": [(635, 558, 720, 1120), (300, 855, 635, 950), (590, 160, 720, 555), (100, 780, 640, 850)],
    "kettle_crew": [(0, 160, 230, 430), (450, 1000, 660, 1280), (600, 790, 720, 860)],
}
FACES = {"moss_tower": (258, 505, 300, 590)}
"""The hero's head, ears and all: the picture's middle, whole or not there at all."""


def chosen(name: str) -> Crop:
    clip = read(FRAMES / f"{name}.png")
    look = look_of(name, [(k, c, predict(clip, c, metrics=[])) for k, c in enumerate(CHAINS)], {}, "4:3")
    return parts_of(look)[0].crop


def shared(crop: Crop, box: tuple[int, int, int, int]) -> int:
    down = min(crop[0] + crop[2], box[2]) - max(crop[0], box[0])
    along = min(crop[1] + crop[3], box[3]) - max(crop[1], box[1])
    return max(0, down) * max(0, along)


@pytest.mark.parametrize("name", TEXTURE)
def test_never_mostly_texture(name: str) -> None:
    crop = chosen(name)
    assert sum(shared(crop, box) for box in TEXTURE[name]) < 0.4 * crop[2] * crop[3]


def test_a_head_is_whole_or_not_there() -> None:
    box = FACES["moss_tower"]
    inside = shared(chosen("moss_tower"), box) / ((box[2] - box[0]) * (box[3] - box[1]))
    assert inside > 0.99 or inside < 0.01


def words(picture: NDArray, top: int, left: int) -> None:
    """Draw a row of ten letters: boxes with a bar, 12 lines high."""
    for k in range(10):
        at = left + 16 * k
        picture[top : top + 12, at : at + 3] = 1
        picture[top : top + 3, at : at + 10] = 1
        picture[top + 9 : top + 12, at : at + 10] = 1


def test_letters_before_noise_and_none_of_them_cut() -> None:
    """Two rows of letters among dark noise: the part holds both rows whole."""
    picture = 0.15 * np.random.RandomState(1).rand(720, 1280).astype(np.float32)
    words(picture, 420, 700)
    words(picture, 450, 700)
    top, left, height, width = best_crop(cells_of(picture, []), (720, 1280), (150, 266))
    assert top < 418 and top + height > 464 and left < 698 and left + width > 700 + 16 * 9 + 12


def test_a_frame_of_little_fault_is_looked_at_where_its_outlines_were_lost() -> None:
    """The same letters twice; in one place a drop loses a line below them, and there it looks."""
    picture = np.full((720, 1280), 0.1, np.float32)
    for left in (100, 900):
        words(picture, 300, left)
        words(picture, 330, left)
    for line in range(350, 400, 6):  # 350 = 2 mod 3: lost by a drop of lines 1, 4 ...
        picture[line, 900:1060] = 0.9
    clip = still_clip(np.repeat(picture[:, :, None], 3, 2))
    each = Contestant("drop", 0, predict(clip, "line-drop lines=240", metrics=[]))
    whole = Contestant("average", 1, predict(clip, "line-average lines=240", metrics=[]))
    assert len(each.marks) == 9 and {mark.kind for mark in each.marks} == {"lost"}
    cells = cells_of(luma(clip.frame), [list(each.judged.values()), list(whole.judged.values())])
    top, left, height, width = best_crop(cells, (720, 1280), (150, 266))
    assert left <= 900 and left + width >= 1060 and top <= 350 and top + height >= 400


def test_marks_lie_on_the_scan_lines_that_show_the_outline() -> None:
    """Three lines from 398 on are on scan lines 132 and 133 of an average: source lines 396 to 402."""
    frame = np.full((720, 1280, 3), 0.1, np.float32)
    frame[398:401, 100:700] = 0.9
    frame[600:603, 100:700] = 0.9  # whole: no mark
    (mark,) = Contestant("a", 0, predict(still_clip(frame), "line-average lines=240", metrics=[])).marks
    assert (mark.kind, mark.lines) == ("split", (396.0, 402.0))
    assert mark.samples == pytest.approx((100, 700), abs=5)


def test_what_is_asked_for_is_taken_as_it_is() -> None:
    assert crops_of(None) == {}
    assert crops_of((1, 2, 30, 40)) == {"": ((1, 2, 30, 40),)}
    assert crops_of([(1, 2, 30, 40), (5, 6, 30, 40)]) == {"": ((1, 2, 30, 40), (5, 6, 30, 40))}
    assert crops_of({"a": (1, 2, 30, 40)}) == {"a": ((1, 2, 30, 40),)}
