"""The present position: captures whose source was moved by Pillow, against the chain's prediction.

Limit: 0.05 source lines where the chain is the true one; the captures are built by Pillow and running
sums (tests/box_captures.py).
"""

from __future__ import annotations

import json

import numpy as np
import pytest
from box_captures import capture, frame, look, unit
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.errors import NotIdentifiable, ParameterError, ShapeError
from scalesim.jobs.position.position import CapturePosition, capture_position

AVERAGE = "line-average lines=240"
INTERLACED = "line-average lines=480, interlace"


def shown(lines: int, down_by: float, right_by: float = 0.0, zoom: float = 1.0) -> NDArray:
    """Return a capture of a source moved down and right by source lines and samples, as 0..1."""
    scale, offset = look(720, lines, zoom)
    across = (1280 / 720, -right_by)
    made = capture(
        *(frame("kettle_crew"), lines, 720, (scale, offset - down_by), across),
        **{"gain": 0.94, "lift": 0.03, "noise": 2, "jpeg": 85},
    )
    return unit(made)


def found(picture: NDArray, chain: str) -> CapturePosition:
    return capture_position(picture, unit(frame("kettle_crew")), chain)


@pytest.mark.parametrize("moved", [0.0, 1.0, -1.25, 2.6])
def test_progressive(moved: float) -> None:
    result = found(shown(240, moved), AVERAGE)
    assert result.lines == pytest.approx(moved, abs=0.05)
    assert result.scan_lines == pytest.approx(moved / 3, abs=0.02)
    assert result.moved == (moved != 0) and result.lines_error < 0.05


@pytest.mark.parametrize("chain", [INTERLACED, INTERLACED + ", field-only"])
def test_woven_fields(chain: str) -> None:
    """Both kinds carry half-line content; 480 woven lines hold it line by line."""
    result = found(shown(480, -1.25), chain)
    assert result.lines == pytest.approx(-1.25, abs=0.05)
    assert result.field_lines == pytest.approx((-1.25, -1.25), abs=0.1)
    # a scan line, one set of lines, is three source lines
    assert result.scan_lines == pytest.approx(-1.25 / 3, abs=0.02)


def test_a_progressive_picture_captured_as_woven() -> None:
    result = found(np.repeat(shown(240, 1.0), 2, axis=0), AVERAGE)
    assert result.lines == pytest.approx(1.0, abs=0.05) and len(result.field_lines) == 2


def test_sideways_and_size() -> None:
    result = found(shown(240, 0.0, right_by=4.0, zoom=1.02), AVERAGE)
    assert result.samples == pytest.approx(4.0, abs=0.15)
    assert result.height == pytest.approx(1 / 1.02, abs=3e-4)
    said = " ".join(result.sentences())
    assert "4.0" in said and "move it left" in said and "% lower than predicted" in said


def test_which_way_it_sits() -> None:
    lower = found(shown(240, 2.0), AVERAGE)
    assert "lower than the chain puts it" in lower.sentences()[0]
    assert lower.title.startswith("The picture sits 2.0") and lower.title.endswith(
        "lower than the chain puts it"
    )
    assert "higher than the chain puts it" in found(shown(240, -2.0), AVERAGE).sentences()[0]
    assert "sits where the chain puts it" in found(shown(240, 0.0), AVERAGE).sentences()[0]


@pytest.mark.parametrize("moved", [0.0, 1.0, -1.25])
def test_the_move_leads_to_the_best_place(moved: float) -> None:
    """Art of three lines to the dot, grid at line 0: wherever it is now, a multiple of three is best."""
    art = "moss_tower"
    scale, offset = look(720, 240)
    made = capture(*(frame(art), 240, 720, (scale, offset - moved), look(1280, 720)), **{"noise": 1})
    result = capture_position(unit(made), unit(frame(art)), AVERAGE)
    place = result.place
    assert place.now == pytest.approx(moved, abs=0.05)
    assert place.best is not None and place.best % 3 == 0 and place.move is not None
    if moved:
        assert place.now + place.move == pytest.approx(place.best)
        assert "Move it " + ("up" if moved > 0 else "down") in " ".join(result.sentences())
    else:
        assert abs(place.move) < 0.05
    document = result.to_dict()
    assert document["now_lines"] == place.now and document["best_lines"] == place.best
    assert document["move_lines"] == place.move and document["presses"] is None
    assert "dial" in document["why"]["presses"]


def test_presses_are_those_of_the_real_dial() -> None:
    """Half a line a press, from a capture one and a half lines low: three presses back."""
    text = Chain("position lines=0, line-average lines=240").to_toml()
    dial = '\n[[dial]]\nkey = "position.lines"\nfirst = -8\nlast = 8\nstep = 0.5\nlabel = "V-POS"\n'
    scale, offset = look(720, 240)
    made = capture(*(frame("moss_tower"), 240, 720, (scale, offset - 1.5), look(1280, 720)), **{"noise": 1})
    result = capture_position(unit(made), unit(frame("moss_tower")), Chain.from_toml(text + dial))
    said = " ".join(result.sentences())
    assert result.place.presses in (-3, 3) and "3 presses" in said
    # a place three lines on is as good: that is no reason to doubt a move that saves as much
    found = result.place.found
    assert found is not None and found.on_present is not None and found.on_present.low > 0.2
    assert "Move it " in said and "cannot settle" not in said
    assert found.clear or " as well: " in said


def test_only_a_position_can_be_varied() -> None:
    with pytest.raises(ParameterError, match="only the lines of one position"):
        capture_position(
            shown(240, 0.0), unit(frame("kettle_crew")), AVERAGE, vary="line-average.phase=0:1:1"
        )


@pytest.mark.slow
def test_swapped_fields_are_noticed() -> None:
    """A capture that weaves the fields the wrong way round: one sits a frame line up, one down."""
    picture = shown(480, 0.0)
    swapped = np.empty_like(picture)
    swapped[0::2], swapped[1::2] = picture[1::2], picture[0::2]
    result = found(swapped, INTERLACED)
    assert result.fields_disagree and "fields sit differently" in " ".join(result.sentences())
    assert not found(picture, INTERLACED).fields_disagree


def test_the_position_is_relative_to_the_chain() -> None:
    """A chain that itself moves the picture predicts the move, so nothing is left."""
    assert found(shown(240, 3.0), "position lines=3, " + AVERAGE).lines == pytest.approx(0.0, abs=0.05)
    assert found(shown(240, 3.0), "position lines=1, " + AVERAGE).lines == pytest.approx(2.0, abs=0.05)


def test_the_limit_notices_another_chain() -> None:
    """A drop shows the first of three lines, so the average of three looks one line off against it."""
    assert abs(found(shown(240, 0.0), "line-drop lines=240").lines) > 0.5


@pytest.mark.slow
def test_what_a_drop_cannot_tell() -> None:
    """Any of a line of art's three lines gives the same drop: the stated error covers them."""
    source = unit(frame("moss_tower"))
    for first in range(3):
        picture = source[first::3]
        result = capture_position(picture, source, "line-drop lines=240")
        assert result.unseen == 3 and not result.moved and result.lines_error > 3 / np.sqrt(12) - 0.01
        assert "3 source lines, a line of the art" in " ".join(result.sentences())
    assert found(shown(240, 0.0), AVERAGE).unseen == 0
    assert found(shown(240, 0.0), "line-drop lines=240").unseen == 1


def test_the_document() -> None:
    result = found(shown(240, 1.0), AVERAGE)
    document = result.to_dict()
    assert json.loads(json.dumps(document, allow_nan=False)) == document
    assert document["moved"] is True and document["mode_out"].startswith("240p")
    assert len({len(row) for row in result.table().rows} | {len(result.table().columns)}) == 1


def test_refusals() -> None:
    with pytest.raises(NotIdentifiable, match="mirrored left to right"):
        found(shown(240, 0.0)[:, ::-1], AVERAGE)
    with pytest.raises(NotIdentifiable, match="almost flat"):
        found(np.full((240, 720, 3), 0.3, np.float32), AVERAGE)
    with pytest.raises(ShapeError, match=r"must be .lines, samples, 3."):
        found(np.zeros((240, 720), np.float32), AVERAGE)
