"""Presses of a dial: captures moved by Pillow by known amounts."""

from __future__ import annotations

import json

import numpy as np
import pytest
from box_captures import capture, frame, look, unit
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.errors import NotIdentifiable, ParameterError, ShapeError
from scalesim.jobs.press.dial import dial_of
from scalesim.jobs.press.press import calibrate


def shown(down: float = 0.0, right: float = 0.0, height: float = 1.0, seed: int = 0) -> NDArray:
    """Return a capture of 240 x 720 whose picture lies that many capture lines and samples further."""
    made = capture(
        *(frame("kettle_crew"), 240, 720, look(720, 240, 1 / height, -down), look(1280, 720, 1.0, -right)),
        **{"noise": 2, "jpeg": 85, "seed": seed},
    )
    return unit(made)


def test_lines_per_press() -> None:
    """Within four stated errors, and they are below 0.01 lines a press."""
    result = calibrate(shown(), shown(down=2.1, seed=1), 5)
    assert abs(result.lines_per_press - 0.42) < 4 * result.lines_per_press_error
    assert result.lines_per_press_error < 0.01
    said, allowed = result.sentences()
    assert "samples elsewhere between lines" in allowed
    assert said.startswith("One press moves the picture down by 0.42") and "capture lines (± 0.0" in said
    assert said.startswith(result.title) and result.title.endswith(" capture lines")


def test_up_and_sideways() -> None:
    result = calibrate(shown(), shown(down=-1.2, right=3.0, seed=1), 4)
    assert result.lines_per_press == pytest.approx(-0.3, abs=0.01)
    assert result.samples_per_press == pytest.approx(0.75, abs=0.01)
    said = result.sentences()
    assert "up by 0.30" in said[0] and "capture lines (± 0.0" in said[0] and "right by 0.75" in said[1]


def test_a_size_dial() -> None:
    result = calibrate(shown(), shown(height=1.03, seed=1), 3)
    assert result.total.height == pytest.approx(1.03, abs=3e-4)
    assert any(s.startswith("One press changes the height by +0.99") for s in result.sentences())
    assert result.title.startswith("One press changes the height by +0.99")


def test_hysteresis() -> None:
    result = calibrate(shown(), shown(down=2.0, seed=1), 5, back=shown(down=0.25, seed=2))
    assert result.hysteresis is not None
    assert result.hysteresis.lines == pytest.approx(0.25, abs=0.03)
    assert "lower than before" in result.sentences()[-1]
    straight = calibrate(shown(), shown(down=2.0, seed=1), 5, back=shown(seed=2))
    assert "returns it to where it was" in straight.sentences()[-1]


def test_the_number_of_presses_counts() -> None:
    """The wrong number of presses gives the wrong law: the check above would fail."""
    result = calibrate(shown(), shown(down=2.1, seed=1), 6)
    assert abs(result.lines_per_press - 0.42) > 4 * result.lines_per_press_error


def test_the_document() -> None:
    with_back = calibrate(shown(), shown(down=2.0, seed=1), 5, back=shown(seed=2)).to_dict()
    without = calibrate(shown(), shown(down=2.0, seed=1), 5)
    assert json.loads(json.dumps(with_back, allow_nan=False)) == with_back
    assert without.to_dict()["hysteresis_lines"] is None and "hysteresis_lines" in without.to_dict()["why"]
    assert {len(row) for row in without.table().rows} == {4}


@pytest.mark.parametrize(
    ("chain", "mode", "lines"),
    [
        ("position lines=0, line-average lines=240", "720p", 3.0),  # closed form: 720 / 240
        ("line-average lines=240", "720p", 3.0),
        ("position lines=2, line-average lines=240", "1080p", 4.5),
        ("line-average lines=480, position, line-drop lines=240", None, 2.0),  # whatever the source is
        ("line-average lines=480, interlace, position", None, 1.0),  # a field line is two of the frame
        ("line-average lines=480, position, interlace", "720p", 2.0),
    ],
)
def test_the_dial_is_in_the_chains_lines(chain: str, mode: str | None, lines: float) -> None:
    """A press of half a capture line of 240, down and up; the file is read back as a chain file."""
    for step in (0.5, -0.25):
        made = dial_of((step, 0.01), 240, Chain(chain), mode=mode, label='V "POS"')
        assert made.step == pytest.approx(step * lines) and made.error == pytest.approx(0.01 * lines)
        written = Chain(chain) if "position" in chain else Chain("position, " + chain)
        read = Chain.from_toml(written.to_toml() + "\n" + made.text)
        (dial,) = read.dials
        assert dial.key == "position.lines" and dial.label == 'V "POS"'
        assert dial.steps[1] - dial.steps[0] == pytest.approx(step * lines)
        now = read.stages[[stage.kind for stage in read.stages].index("position")].lines
        assert dial.step_of(now) == 20


def test_a_dial_that_depends_on_the_source_asks_for_it() -> None:
    with pytest.raises(ParameterError, match=r"3 at 720p, 4.5 at 1080p.*--mode 720p"):
        dial_of((0.5, 0.01), 240, Chain("position, line-average lines=240"))
    with pytest.raises(ParameterError, match="must be the lines of a position"):
        dial_of((0.5, 0.01), 240, Chain("line-drop lines=240"), key="line-drop.phase", mode="720p")


def test_the_answer_has_the_dial() -> None:
    chain = Chain("position, line-average lines=240")
    result = calibrate(shown(), shown(down=2.0, seed=1), 4, chain=chain, mode="720p")
    document = result.to_dict()
    assert document["dial_step"] == pytest.approx(1.5, abs=0.02) and document["dial_unit"] == "lines of 720"
    assert document["dial"] == result.files()["dial"].content and document["error"] > 0
    assert any("of position.lines; dial.toml" in said for said in result.sentences())
    sideways = calibrate(shown(), shown(right=3.0, seed=1), 4)
    assert sideways.dial is None and "another key" in sideways.to_dict()["why"]["dial"]


@pytest.mark.parametrize("presses", [0, -3, 1.5, True, "two"])
def test_presses_out_of_range(presses: object) -> None:
    with pytest.raises(ParameterError, match=r"presses is .* at least 1"):
        calibrate(shown(), shown(down=1.0), presses)  # type: ignore[arg-type]


def test_refusals_in_one_line() -> None:
    picture = shown()
    flat = np.full_like(picture, 0.5)
    cases = [
        (picture, picture, NotIdentifiable, "same picture as before"),
        (picture, shown(seed=1), NotIdentifiable, "press more often"),
        (picture, flat, NotIdentifiable, "after: is almost flat"),
        (flat, picture, NotIdentifiable, "before: is almost flat"),
        (picture, picture[:200], ShapeError, "must be .240, 720, 3. as before"),
        (picture, picture[:, :, 0], ShapeError, "must be .lines, samples, 3."),
        (picture, picture[:, ::-1], NotIdentifiable, "mirrored"),
    ]
    for before, after, kind, words in cases:
        with pytest.raises(kind, match=words) as caught:
            calibrate(before, after, 3)
        assert "\n" not in str(caught.value)
