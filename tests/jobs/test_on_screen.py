"""The tube's pictures of a prediction: light is kept, and each is what it says."""

from __future__ import annotations

import numpy as np
import pytest
from few import few

from scalesim.core.encoding import code_to_light
from scalesim.errors import ParameterError
from scalesim.jobs.predict.on_screen import Glass
from scalesim.jobs.predict.predict import Prediction, predict
from scalesim.tube.display import DISPLAYS, Display

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
    assert found.facts["tube_mean_light_percent"] == pytest.approx(100 * 0.5**2.4, rel=5e-3)
    # and the file holds the stated share of it: nothing is clipped
    share = found.facts["shown_at_percent"] / 100
    assert found.facts["mean_light_percent"] == pytest.approx(100 * 0.5**2.4 * share, rel=5e-3)
    assert code_to_light(found.pictures["screen"]).mean() == pytest.approx(0.5**2.4 * share, rel=5e-3)


def test_a_field_alone() -> None:
    """White top fields and black bottom ones: the top alone has all the light, the bottom none."""
    found = stripes().pictures
    # bright lines clip in a file, so means are taken where the beam is below white
    assert code_to_light(found["screen-bottom"]).mean() < 1e-6 < code_to_light(found["screen-top"]).mean()


def test_progressive_pictures_have_no_fields() -> None:
    found = grey(0.5, "line-average lines=240")
    assert "screen" in found.pictures and "screen-top" not in found.pictures
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
        ({"macro_line": 0, "macro_sample": -1.0}, "sample -1; the close look shows 8 of 64"),
        ({"macro_line": 0, "macro_sample": 57.0}, "begins at 0 to 56"),
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


BRIGHT = "line-drop lines=240, level gain=1.4 clip=off"


@pytest.mark.parametrize("display", few([*DISPLAYS, "slots"], 2))
@pytest.mark.parametrize(
    "chain", [INTERLACED, pytest.param("line-average lines=240", marks=pytest.mark.slow), BRIGHT]
)
def test_next_to_nothing_clips(display: str, chain: str) -> None:
    """White, the brightest there is, and codes of 1.4: at most 0.5 % of any picture's dots are clipped."""
    slots = Display(
        name="slots",
        diagonal_mm=360,
        aspect="4:3",
        tv_lines=600,
        beam_width=0.6,
        mask="slots",
        mask_pitch_mm=1.0,
    )
    frame = np.full((480, 64, 3), 1, np.float32)
    glass = Glass(slots if display == "slots" else display, macro_line=100, shutter_s=1 / 50, height=None)
    found = predict(frame, chain, mode="custom", metrics=[], glass=glass).glass
    assert found is not None and found.facts["clipped_percent"] <= 0.5
    assert found.facts["rows_a_line"] == round(found.facts["rows_a_line"])
    assert f"shown at {found.facts['shown_at_percent']:g} % of its light" in found.sentence()


def test_one_exposure_for_all_pictures() -> None:
    """A grey has the same light in the whole, the close look, the photo and each field."""
    frame = np.full((480, 64, 3), 0.5, np.float32)
    glass = Glass(TUBE, macro_line=100, shutter_s=1 / 15)
    found = predict(frame, "interlace", mode="custom", metrics=[], glass=glass)
    light = {name: code_to_light(picture) for name, picture in found.pictures.items()}
    middle = light["screen"][400:500, 300:900].mean()
    share = found.glass.facts["shown_at_percent"] / 100 if found.glass else 0
    assert middle == pytest.approx(share * 0.5**2.4, rel=1e-3)
    for name in ("screen-photo", "screen-top", "screen-bottom"):
        assert light[name][400:500, 300:900].mean() == pytest.approx(middle, rel=5e-3), name
    assert light["screen-macro"][48:-48, -500:-50].mean() == pytest.approx(middle, rel=5e-3)


def test_the_exposure_does_not_follow_the_picture() -> None:
    """Black, grey and white of one display are shown alike, so that they can be compared."""
    shares = {grey(code).glass.facts["shown_at_percent"] for code in (0.0, 0.3, 1.0)}  # type: ignore[union-attr]
    assert len(shares) == 1
    assert grey(0.3, shown_at=0.25).glass.facts["shown_at_percent"] == 25  # type: ignore[union-attr]


def test_a_short_shutter_is_no_brighter() -> None:
    """1/500 s sees a band as bright as the field itself, and hardly anything outside."""
    found = grey(0.8, shutter_s=1 / 500).pictures
    assert found["screen-photo"].max() <= found["screen-top"].max() + 0.01
    assert found["screen-photo"].max() > 0.9 * found["screen-top"].max()
    assert np.median(found["screen-photo"]) < 0.2


def test_a_height_without_whole_rows_is_told() -> None:
    found = predict(
        np.zeros((480, 64, 3), np.float32),
        "line-drop lines=240",
        mode="custom",
        metrics=[],
        glass=Glass(TUBE, 1080),
    ).glass
    assert found is not None and found.facts["rows_a_line"] == 4.5 and "4.5 dot rows" in found.sentence()
    assert "dot rows" not in grey(0.5).glass.sentence()  # type: ignore[union-attr]


def test_a_close_look_at_a_sample() -> None:
    """A white sample column at 40 of 64 is at the left edge of the close look from there, not of others."""
    frame = np.zeros((480, 64, 3), np.float32)
    frame[:, 40] = 1
    looks = {}
    for sample in (30.0, 40.0, 50.0):
        glass = Glass(TUBE, macro_line=10, macro_sample=sample)
        picture = predict(frame, "line-drop lines=240", mode="custom", metrics=[], glass=glass).pictures[
            "screen-macro"
        ]
        looks[sample] = picture[:, -960:].mean(axis=(0, 2))
    # 64 samples over 4/3 of 240 lines of 24 dots: 120 dots a sample
    assert np.argmax(looks[30.0]) in range(10 * 120, 11 * 120) or looks[30.0].max() < 0.05
    assert np.argmax(looks[40.0]) < 120 and looks[40.0].max() > 0.2
    assert looks[50.0].max() < 0.05
