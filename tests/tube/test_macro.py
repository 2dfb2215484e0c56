"""The close look: its scale, ruler and colours."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from scalesim.core.raster import TOP_FIRST, Field, Raster
from scalesim.draw.letters import CAPITAL_LINES, text_width, write
from scalesim.errors import ParameterError
from scalesim.tube.display import DISPLAYS
from scalesim.tube.macro import FIELD_COLOURS, macro
from scalesim.tube.screen import Screen

STUDIO = DISPLAYS["studio-36cm-800"]
PAIR = Raster(60, 80, fields=TOP_FIRST)


def lone(raster: Raster, line: int) -> np.ndarray:
    """A picture with one white line."""
    values = np.zeros((raster.lines, raster.samples, 3), dtype=np.float32)
    values[line] = 1
    return values


def brightest(picture: np.ndarray) -> int:
    """Return the row of the most light, right of the ruler."""
    return int(np.argmax(picture[:, -40:].sum(axis=(1, 2))))


def test_lines_at_their_places() -> None:
    """Twelve lines of twenty dots from line 20 on: line 25 is centred 5.5 pitches down."""
    raster = Raster(60, 80)
    screen = Screen(raster, STUDIO, exposure="unclipped")
    picture = macro(screen, [lone(raster, 25)], first_line=20, lines=12, dots=20, width=200, exposure=0.3)
    assert picture.shape[0] == 240 and picture.shape[1] > 200
    assert picture.min() >= 0 and picture.max() <= 1
    assert brightest(picture) in (109, 110)
    # its tick in the ruler is at the same height
    ruler = picture[:, : picture.shape[1] - 200]
    assert (ruler[110, -2:] > 0.5).all() and (ruler[100, -2:] < 0.5).all()


@pytest.mark.parametrize(
    ("fields", "below"), [(TOP_FIRST, 10), ((Field(0), Field(1)), 0), ((Field(0), Field(1, Fraction(1))), 20)]
)
def test_fields_in_their_colours(fields: Any, below: int) -> None:
    """Each field's line is in its colour's hue, half a pitch, none or a whole one below the other's."""
    raster = PAIR.with_(fields=fields)
    screen, black = Screen(raster, STUDIO), np.zeros((60, 80, 3), dtype=np.float32)
    options: dict[str, Any] = {"first_line": 20, "lines": 12, "dots": 20, "width": 200, "coloured": True}
    top = macro(screen, [lone(raster, 25), black], **options)
    bottom = macro(screen, [black, lone(raster, 25)], **options)
    assert abs(brightest(bottom) - brightest(top) - below) <= 1
    for picture, colour in zip((top, bottom), FIELD_COLOURS, strict=True):
        dot = picture[brightest(picture), -20]
        assert dot / dot.max() == pytest.approx(colour / colour.max(), abs=0.05)
    # nothing clips, so that no line turns white
    white = np.ones((60, 80, 3), dtype=np.float32)
    assert macro(screen, [white, white], **options)[:, -150:].max() < 1


def test_legend_only_with_colours_and_no_bar() -> None:
    """No edge of the picture is of one colour from end to end."""
    screen, white = Screen(PAIR, STUDIO), np.ones((60, 80, 3), dtype=np.float32)
    plain = macro(screen, [white, white], first_line=0, lines=12, dots=20, width=300)
    coloured = macro(screen, [white, white], first_line=0, lines=12, dots=20, width=300, coloured=True)
    assert coloured.shape[0] > plain.shape[0] == 240
    for edge in (coloured[0], coloured[-1], coloured[:, 0], coloured[:, -1]):
        saturated = np.ptp(edge, axis=-1) > 0.1
        assert not saturated.all()


@pytest.mark.parametrize(
    "wrong",
    [{"first_line": -1}, {"first_line": 60}, {"lines": 0}, {"dots": 500}, {"width": 2.5}, {"lines": True}],
)
def test_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(ParameterError, match=next(iter(wrong))) as refused:
        macro(Screen(PAIR, STUDIO), [lone(PAIR, 1)] * 2, **{"first_line": 0, **wrong})
    assert "\n" not in str(refused.value)


def test_colours_need_two_fields() -> None:
    with pytest.raises(ParameterError, match="two fields"):
        macro(Screen(Raster(60, 80), STUDIO), [lone(PAIR, 1)], first_line=0, coloured=True)


def test_figures_differ_and_are_cut_at_the_border() -> None:
    drawn = set()
    for name in "0123456789DEFIL":
        paper = np.zeros((7, 5, 3))
        write(paper, name, 0, 0, np.ones(3))
        drawn.add(paper.tobytes())
    assert len(drawn) == 15
    paper = np.zeros((4, 4, 3))
    write(paper, "88 8", -3, -3, np.ones(3), scale=2)
    assert paper.any() and (CAPITAL_LINES, text_width("88", scale=2)) == (7, 22)
