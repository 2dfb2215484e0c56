"""Plots and tables as stills: no word of a table is cut where there is room, none of a label is broken."""

from __future__ import annotations

from typing import Any

import pytest

from scalesim.page import sheets
from scalesim.page.plots.layout import in_lines
from scalesim.result import Sheet, Table

WHY = (
    "most vertical detail kept (100 % of the detail), outlines least split (25 % of an even split); but most "
)
WHY += "false detail (21 % of the detail), and flicker of 0.5 % of white; medians of 8 frames of four clips"


def written(monkeypatch: pytest.MonkeyPatch, table: Table) -> list[tuple[str, int]]:
    """Return the texts of a table's still, each with its height on the picture."""
    said: list[tuple[str, int]] = []

    def note(_: Any, at: tuple[int, int], text: str, *more: Any) -> None:
        said.append((text, at[1]))

    monkeypatch.setattr(sheets, "write_line", note)
    sheets.sheet_picture(Sheet("stills/t", "T", "", "From here.", table), (1920, 1080))
    return said


def test_a_long_cell_is_setin_lines(monkeypatch: pytest.MonkeyPatch) -> None:
    table = Table("T", ("place", "chain", "why"), (("1", "sharp", WHY), ("2", "soft", "short")))
    said = written(monkeypatch, table)
    words = " ".join(text for text, _ in said if text)
    assert WHY in words and "…" not in words
    lines = [at for text, at in said if len(text) > 10 and text in WHY]
    after = next(at for text, at in said if text == "short")
    assert len(lines) == 2 and lines[0] < lines[1] < after
    assert said[-1][0] == "From here."


def test_rows_without_room_are_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    table = Table("T", ("chain", "why"), tuple((f"c{number}", WHY) for number in range(60)))
    said = written(monkeypatch, table)
    shown = sum(text.startswith("c") and text[1:].isdigit() for text, _ in said)
    assert 5 < shown < 60 and said[-1][0] == f"From here. The first {shown} of 60 rows."
    assert max(at for _, at in said[:-1]) < 1080 - 54 - 130


@pytest.mark.parametrize("room", [20.0, 60.0, 90.0])
def test_no_word_of_a_label_is_broken(room: float) -> None:
    label = "split of the outlines, % of an even split"
    assert in_lines(label, room).split() == label.split()
