"""Plots and tables as stills: no word of a table is cut where there is room, none of a label is broken."""

from __future__ import annotations

from typing import Any

import pytest
from matplotlib.colors import to_rgb
from matplotlib.text import Annotation, Text

from scalesim.page import sheets
from scalesim.page.plots.draw import drawn
from scalesim.page.plots.layout import in_lines
from scalesim.page.plots.raster import set_for_stills
from scalesim.plot import Axis, Panel, Plot, Series
from scalesim.result import Cell, Sheet, Table

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


def test_small_words_of_a_cell_do_not_run_into_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """As in Markdown: "480i filtered 480 interlaced lines" would be another chain's name."""
    table = Table("T", ("chain", "kept"), ((Cell("480i", "480 lines at 60 Hz"), Cell("92", "n 26")),))
    said = [text.replace("\N{NO-BREAK SPACE}", " ") for text, _ in written(monkeypatch, table)]
    assert "480i (480 lines at 60 Hz)" in said and "92 (n 26)" in said


def test_rows_without_room_are_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    table = Table("T", ("chain", "why"), tuple((f"c{number}", WHY) for number in range(60)))
    said = written(monkeypatch, table)
    shown = sum(text.startswith("c") and text[1:].isdigit() for text, _ in said)
    assert 5 < shown < 60 and said[-1][0] == f"From here. The first {shown} of 60 rows."
    assert max(at for _, at in said[:-1]) < 1080 - 54 - 130


def test_a_plot_on_a_still_has_light_leaders_and_true_minus_signs() -> None:
    """Lines from labels to their points are drawn apart from their figure; by Matplotlib's own colours."""
    series = tuple(
        Series((0.0, 1.0), (1.0, at), label=f"best: -{at:g}", style="line", end=f"frame {at:g}")
        for at in (1.0, 1.001, 1.002)
    )
    plot = Plot("p", "P", "", (Panel(Axis("x"), Axis("y", 0, 2), series),), legend=3)
    with drawn(plot) as figure:
        set_for_stills(figure)
        texts = [each.get_text() for each in figure.findobj(Text)]
        leaders = [each.arrow_patch for each in figure.findobj(Annotation) if each.arrow_patch is not None]
        assert "best: \N{MINUS SIGN}1" in texts and not any(": -" in text for text in texts)
        assert leaders and all(sum(to_rgb(each.get_edgecolor())) > 1.5 for each in leaders)


@pytest.mark.parametrize("room", [20.0, 60.0, 90.0])
def test_no_word_of_a_label_is_broken(room: float) -> None:
    label = "split of the outlines, % of an even split"
    assert in_lines(label, room).split() == label.split()
