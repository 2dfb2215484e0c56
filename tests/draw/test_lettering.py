"""Letters that the own font lacks come from a font of the system that has them, else a square is drawn."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from matplotlib import get_data_path
from PIL import Image, ImageDraw, ImageFont

from scalesim.draw import lettering
from scalesim.draw.lettering import drawable, font, write_line

FONTS = Path(get_data_path()) / "fonts" / "ttf"
ROOM = (60, 300)


@pytest.fixture(autouse=True)
def _afresh() -> None:
    lettering._font_file.cache_clear()


def has(monkeypatch: pytest.MonkeyPatch, *names: str) -> None:
    """Let the system have these fonts of Matplotlib's."""
    monkeypatch.setattr(lettering, "_system_files", lambda: tuple(str(FONTS / name) for name in names))


def lacking(other: str) -> str:
    """Return a letter that a font has and DejaVu Sans lacks, by Matplotlib's reading of both."""
    from matplotlib.ft2font import FT2Font

    more = (
        FT2Font(str(FONTS / other)).get_charmap().keys()
        - FT2Font(str(FONTS / "DejaVuSans.ttf")).get_charmap()
    )
    return next(char for char in map(chr, sorted(more)) if char.isprintable() and char.isalpha())


def written(text: str) -> np.ndarray:
    sheet = Image.new("L", ROOM[::-1])
    write_line(ImageDraw.Draw(sheet), (4, 4), text, 30, 255, ROOM[1])  # type: ignore[arg-type]
    return np.asarray(sheet)


def test_a_text_of_known_letters_is_the_same_everywhere(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever the system has."""
    has(monkeypatch, "STIXGeneral.ttf")
    assert Path(font(20, "sharp: 480 to 240, Ä Ж λ").path).name == "DejaVuSans.ttf"
    assert drawable("sharp\n240") == "sharp 240"


def test_letters_that_the_system_has_are_written(monkeypatch: pytest.MonkeyPatch) -> None:
    """As Pillow writes them in that font; not as squares."""
    char = lacking("STIXGeneral.ttf")
    has(monkeypatch, "LastResortHE-Regular.ttf", "missing.ttf", "cmr10.ttf", "STIXGeneral.ttf")
    assert drawable(char) == char
    sheet = Image.new("L", ROOM[::-1])
    ImageDraw.Draw(sheet).text((4, 4), char, 255, ImageFont.truetype(str(FONTS / "STIXGeneral.ttf"), 30))
    assert np.array_equal(written(char), np.asarray(sheet)) and written(char).any()


def test_letters_that_nobody_has_are_squares(monkeypatch: pytest.MonkeyPatch) -> None:
    """A font that has a placeholder for everything has none of them; what is known stays as it was."""
    char = lacking("STIXGeneral.ttf")
    has(monkeypatch, "LastResortHE-Regular.ttf", "cmr10.ttf")
    assert drawable(f"box {char}") == "box □"
    assert Path(font(20, f"box {char}").path).name == "DejaVuSans.ttf"
    assert np.array_equal(written(f"box {char}"), written("box □"))


def test_the_systems_fonts_are_found() -> None:
    """Plain ones first; none is no error."""
    files = lettering._system_files.__wrapped__()
    plain = [not any(word in Path(file).stem.casefold() for word in lettering._NOT_PLAIN) for file in files]
    assert plain == sorted(plain, reverse=True)
