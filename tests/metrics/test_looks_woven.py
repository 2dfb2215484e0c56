"""A combed frame is noticed: one field of a still moved along the line, on frames and in closed form.

No published source; the frames are `frames30`'s. The share of 0.2 was set between what all of them
reach as stills (0.16) and moved by 6 samples (0.27), so they check it no more than that.
"""

from __future__ import annotations

import numpy as np
import pytest
from frames30 import FRAMES
from metrics.scenes import Array, grey

from scalesim.core.clip import still_clip
from scalesim.core.encoding import luma
from scalesim.jobs.predict.predict import predict
from scalesim.metrics.flicker.combing import looks_woven

SOME = ("moss_tower", "ninth_lock_menu", "camera")
STILLS = [
    pytest.param(name, marks=() if name in SOME else pytest.mark.slow)
    for name, frame in FRAMES.items()
    if frame.mode != "1080i"
]


def torn(picture: Array, samples: int) -> Array:
    """Return a picture whose second field shows it so many samples further."""
    woven = picture.copy()
    woven[1::2] = np.roll(picture, samples, axis=1)[1::2]
    return woven


@pytest.mark.parametrize("name", STILLS)
def test_frames(name: str) -> None:
    still = luma(FRAMES[name].load())
    assert not looks_woven(still[:, ::4])
    for samples in (6, 16):
        assert looks_woven(torn(still, samples)[:, ::4])


def test_a_box_that_moves() -> None:
    box = np.full((240, 320), 0.2, np.float32)
    box[40:200, 100:200] = 0.8
    assert not looks_woven(box) and looks_woven(torn(box, 8))


@pytest.mark.parametrize("every", [1, 2, 3])
def test_lines_and_slopes_of_a_still_do_not_count(every: int) -> None:
    """Ramps and thin lines, four lines apart at least, are no tearing."""
    still = np.tile(np.linspace(0, 1, 240, dtype=np.float32)[:, None], (1, 320))
    still[:: 4 * every] = 0
    assert not looks_woven(still)


def test_predict_says_it_once_and_not_with_the_right_mode() -> None:
    box = np.full((480, 720), 0.2, np.float32)
    box[80:400, 200:400] = 0.8
    frame = grey(torn(box, 8))
    said = [
        note
        for note in predict(frame, "line-drop lines=240", mode="480p", metrics=[]).notes
        if "woven" in note
    ]
    assert len(said) == 1 and "--mode" in said[0]
    right = predict(still_clip(frame, mode="480i"), "keep-field", metrics=[])
    assert not [note for note in right.notes if "woven fields" in note]
