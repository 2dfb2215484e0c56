"""What commands print: 80 columns wide, no number cut, and the page to open as the last line."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from scalesim.cli import main as cli
from scalesim.cli.table import shown_in, table_lines, wrapped
from scalesim.io.saved import read_saved
from scalesim.result import Cell, Table
from scalesim.typeset import typeset

CHAIN = "drop 3:1: position lines=0, line-average lines=96, line-drop lines=48 phase=1"
OTHER = "soft, wide: line-average lines=48, quantise"
FIELDS = "line-average lines=96, interlace"
Run = Callable[..., str]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """A function that runs a command on two frames, 80 columns wide, and returns what it printed."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    random = np.random.RandomState(4)
    for name in ("a", "b"):
        frame = np.full((144, 256, 3), 200, np.uint8)
        for _ in range(40):
            top, left = random.randint(0, 130), random.randint(0, 230)
            frame[top : top + random.randint(2, 14), left : left + random.randint(3, 26)] = random.randint(
                0, 256, 3
            )
        Image.fromarray(frame).save(f"{name}.png")

    def command(*words: str, code: int = 0) -> str:
        assert cli.main([*words, "--out", "o"]) == code
        return capsys.readouterr().out

    return command


COMMANDS = {
    "predict": ("predict", "a.png", "--chain", FIELDS, "--mode", "custom"),
    "compare": ("compare", "a.png", "b.png", "--chain", CHAIN, "--chain", OTHER, "--mode", "custom"),
    "tune": ("tune", "a.png", "--chain", CHAIN, "--vary", "position.lines=-1:1:1/2", "--mode", "custom"),
    "tune by many": (
        *("tune", "a.png", "--chain", CHAIN, "--vary", "position.lines=0|1", "--mode", "custom"),
        *(
            "--vary",
            "position.samples=0|1",
            "--by",
            "line_doubling,lost_lines,edge_spread_lines,cropped_percent",
        ),
    ),
    "chart": ("chart", "levels", "--mode", "480p59.94"),
    "demo": ("demo", "--draw-only"),
}


LONG = ("chart", "demo")


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=pytest.mark.slow) if name in LONG else name for name in COMMANDS]
)
def test_a_command_keeps_80_columns_and_ends_with_its_page(name: str, run: Run, tmp_path: Path) -> None:
    check_printed(run(*COMMANDS[name]), tmp_path / "o")


def check_printed(said: str, out: Path) -> None:
    *lines, last = said.splitlines()
    assert last == f"Page: {out / 'index.html'}" and (out / "index.html").is_file()
    assert not [line for line in lines if len(line) > 80]
    if not lines:
        return
    words = said.split()
    for row in read_saved(out).table().rows:
        for cell in row:
            for word in typeset(str(cell)).replace("\xa0", " ").split():
                assert word in words, f"{word} of '{cell}' is broken"


def test_names_with_colons_and_commas_label_the_chains(run: Run, tmp_path: Path) -> None:
    """The line "name: stages" as one types it, the name unquoted."""
    said = run(*COMMANDS["compare"])
    assert "drop 3:1" in said and "soft, wide" in said
    document = json.loads((tmp_path / "o" / "result.json").read_text("utf-8"))
    assert set(document["chains"]) == {"drop 3:1", "soft, wide"}


def test_reasons_stand_below_the_table(run: Run) -> None:
    """A picture of 48 lines is too small for MS-SSIM: the row has a number, the foot the reason."""
    said = run("predict", "a.png", "--chain", OTHER, "--mode", "custom")
    table, _, foot = said.partition("\n  [1] ")
    row = next(line for line in table.splitlines() if "at five scales" in line)
    assert "none [" in row and "need" not in row
    assert "MS-SSIM's five scales need at least 176 lines and samples." in " ".join(foot.split())


# Tables by themselves


WIDE = Table(
    "Ranking",
    ("chain", "score", "why"),
    (
        ("sharp", "-1.25", "steadiest (1.0 % of white, n 6); " * 4),
        ("soft", Cell("none", note="it is black."), ""),
    ),
    ("left", "right", "left"),
)


@pytest.mark.parametrize("width", [40, 60, 80, 120])
def test_every_width_is_kept(width: int) -> None:
    lines = table_lines(WIDE, width)
    assert max(map(len, lines)) <= width
    text = "\n".join(lines)
    assert "\N{MINUS SIGN}1.25" in text and "1.0\N{NO-BREAK SPACE}%" in text and "[1] it is black." in text


def test_a_long_reason_stands_below_its_row() -> None:
    lines = table_lines(WIDE, 40)
    at = next(k for k, line in enumerate(lines) if line.strip().startswith("sharp"))
    assert lines[at].rstrip().endswith("1.25") and lines[at + 1].startswith("      steadiest")


def test_too_many_columns_become_records() -> None:
    """Ten columns of ten letters do not fit 80: each row is a list of its cells."""
    wide = Table("T", tuple("abcdefghij"), (tuple(letter * 10 for letter in "abcdefghij"),))
    lines = table_lines(wide, 80)
    assert "  a: aaaaaaaaaa" in lines and "    j: jjjjjjjjjj" in lines and max(map(len, lines)) <= 80


def test_numbers_with_and_without_footnotes_end_below_each_other() -> None:
    table = Table("T", ("what", "n"), (("a", Cell("1.50", note="why")), ("b", "22.50")), ("left", "right"))
    first, second = (line.replace("\xa0", " ") for line in table_lines(table, 80)[4:6])
    assert first.index("1.50") + 4 == second.index("22.50") + 5


def test_values_are_not_parted_from_units() -> None:
    lines = wrapped("It is split by 12 % of white", 20)
    assert all(not line.endswith("12") for line in lines)


@pytest.mark.parametrize(
    ("encoding", "printed"), [("utf-8", "\N{MINUS SIGN}3 dB"), ("ascii", "-3 dB"), (None, "-3 dB")]
)
def test_a_terminal_prints_what_it_has(encoding: str | None, printed: str) -> None:
    assert shown_in(typeset("-3 dB"), encoding) == printed
