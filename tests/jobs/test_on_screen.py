"""The tube's pictures of a prediction: light is kept, and each is what it says."""

from __future__ import annotations

import numpy as np
import pytest

from scalesim.core.encoding import code_to_light
from scalesim.errors import ParameterError
from scalesim.jobs.predict.on_screen import Glass
from scalesim.jobs.predict.predict import Prediction, predict
from scalesim.tube.display import Display

INTERLACED = "line-average lines=480, interlace"
TUBE = Display(
    name="plain tube",
    diagonal_mm=360,
    aspect="4:3",
    tv_lines=400,
    beam_width=0.9,
    white_cd_m2=100,
    black_cd_m2=0,
)


def grey(code: float, chain: str = INTERLACED, **glass: object) -> Prediction:
    frame = np.full((720, 64, 3), code, np.float32)
    return predict(frame, chain, mode="custom", metrics=[], glass=Glass(TUBE, height=480, **glass))


def stripes(**glass: object) -> Prediction:
    """Return a frame whose 480 lines are bright and dark in turn: one field white, the other black."""
    frame = np.zeros((480, 64, 3), np.float32)
    frame[0::2] = 1.0
    return predict(frame, "interlace", mode="custom", metrics=[], glass=Glass(TUBE, height=480, **glass))


def test_mean_light_is_that_of_the_signal() -> None:
    """A flat grey gives V^2.4 (BT.1886 with black at 0), but for what the border loses."""
    found = grey(0.5).glass
    assert found is not None
    assert found.facts["mean_light_percent"] == pytest.approx(100 * 0.5**2.4, rel=5e-3)


def test_a_field_alone_and_the_difference() -> None:
    """White top fields and black bottom ones: the top alone has all the light, the bottom none."""
    found = stripes().pictures
    # bright lines clip in a file, so means are taken where the beam is below white
    assert code_to_light(found["screen-bottom"]).mean() < 1e-6 < code_to_light(found["screen-top"]).mean()
    assert found["screen-difference"].mean() > 0.7
    same = grey(0.5, "line-average lines=480, interlace, field-only").pictures["screen-difference"]
    np.testing.assert_allclose(same, 0.5, atol=1e-3)


def test_progressive_pictures_have_no_fields() -> None:
    found = grey(0.5, "line-average lines=240")
    assert "screen" in found.pictures and "screen-difference" not in found.pictures
    assert "on the glass" in found.sentences()[-1].lower()


def test_a_long_exposure_of_whole_cycles_is_the_mean() -> None:
    """Two fields of 60 are 1/30 s: the photo is the mean light; one field's time is not."""
    found = stripes(shutter_s=1 / 30).pictures
    np.testing.assert_allclose(found["screen-photo"], found["screen"], atol=2e-3)
    short = stripes(shutter_s=1 / 60).pictures
    assert np.abs(short["screen-photo"] - short["screen"]).max() > 0.1


def test_the_close_look_begins_where_it_is_told() -> None:
    """With whole scan lines of 24 dots: 24 lines and a ruler; colours need two fields."""
    found = stripes(macro_line=10).pictures["screen-macro"]
    assert found.shape[0] == 24 * 24
    coloured = stripes(macro_line=10, coloured=True).pictures["screen-macro"]
    assert coloured.shape[0] > found.shape[0]
    assert np.ptp(coloured[..., 0] - coloured[..., 2]) > 0.3 > np.ptp(found[..., 0] - found[..., 2])


@pytest.mark.parametrize(
    ("glass", "words"),
    [
        ({"macro_line": 230}, "begins at 0 to 216"),
        ({"macro_line": -1}, "begins at 0 to 216"),
        ({"shutter_s": 0.0}, "above 0"),
        ({"shutter_s": 100.0}, "at most 4"),
    ],
)
def test_what_is_out_of_range(glass: dict[str, object], words: str) -> None:
    with pytest.raises(ParameterError, match=words):
        stripes(**glass)


def test_an_unknown_display() -> None:
    with pytest.raises(ParameterError, match="livingroom-68cm-350"):
        predict(
            np.zeros((480, 64, 3), np.float32), "interlace", metrics=[], glass=Glass("livingroom-68cm-35")
        )
