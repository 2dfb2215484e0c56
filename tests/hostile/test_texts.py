"""Words of the user: shown as words, cut where they are long, and harmless in tables."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import scalesim as ss
from scalesim.cli.main import main
from scalesim.errors import ScalesimError
from scalesim.io.notes import note_beside, read_study
from scalesim.jobs.compare.files import rows_csv, rows_json
from scalesim.texts import echoed, exact, one_line, plain, readable, shortened, spreadsheet_cell

CHAIN = "line-drop lines=24"
X = "x" * 300
FRAME = np.random.RandomState(1).rand(48, 64, 3).astype(np.float32)

WORDS = [
    (X,),
    ("predict", "f.png", "--chain", X),
    ("predict", "f.png", "--chain", f"line-drop {X}=1"),
    ("predict", "f.png", "--chain", f"line-drop lines={X}"),
    ("predict", "f.png", "--chain", f"{X}=1"),
    ("predict", "f.png", "--chain", f"line-drop {X}"),
    ("predict", "f.png", "--chain", CHAIN, "--mode", X),
    ("predict", "f.png", "--chain", CHAIN, "--view", X),
    ("predict", "f.png", "--chain", CHAIN, "--metrics", X),
    ("predict", "f.png", "--chain", CHAIN, "--tube", X),
    ("predict", "f.png", "--chain", CHAIN, "--view", "screen", "--display", X),
    ("predict", "f.png", "--chain", CHAIN, "--view", "screen", "--macro", X),
    ("predict", "f.png", "--chain", CHAIN, "--at", X),
    ("predict", "f.png", "--chain", CHAIN, "--clip", "mp4", "--pan", f"{X},0"),
    ("predict", "f.png", "--chain", CHAIN, f"--{X}"),
    ("compare", "f.png", "--chain", CHAIN, "--by", X),
    ("compare", "f.png", "--chain", CHAIN, "--crop", "1 " * 200),
    ("compare", "f.png", "--chain", CHAIN, "--group-by", X),
    ("compare", "f.png", "--chain", CHAIN, "--only", X),
    ("compare", "f.png", "--chain", CHAIN, "--capture", X),
    ("compare", "f.png", "--chain", f"{X}: {CHAIN}", "--chain", f"{X}: {CHAIN}"),
    ("tune", "f.png", "--chain", CHAIN, "--vary", X),
    ("tune", "f.png", "--chain", CHAIN, "--vary", f"line-drop.phase={X}"),
    ("tune", "f.png", "--chain", CHAIN, "--vary", "line-drop.phase=0:1:1", "--where", f"{X}<=2"),
    ("chart", "kernel", "--mode", X),
    ("chart", "geometry", "--mode", "240p60", "--seen", f"top={X}"),
    ("schema", X),
]


@pytest.mark.parametrize("words", WORDS, ids=range(len(WORDS)))
def test_refused_words_are_cut(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    words: tuple[str, ...],
) -> None:
    monkeypatch.chdir(tmp_path)
    Image.new("RGB", (64, 48)).save("f.png")
    assert main(words) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1 and "fault of the program" not in said
    assert not re.search("x{81}|(1 ){41}", said), said


def test_a_file_is_named_whole(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    name = "long-" + "n" * 100 + ".png"  # with its folder under 260 characters, the most of Windows
    (tmp_path / name).write_bytes(b"no picture")
    assert main(["predict", str(tmp_path / name), "--chain", CHAIN]) == 2
    assert str(tmp_path / name) in capsys.readouterr().err


@pytest.mark.parametrize("folder", ["/home/a b/", "C:\\Users\\a b\\", "\\\\server\\a b\\"])
def test_a_path_in_quotes_is_named_whole(folder: str) -> None:
    message = f"--out '{folder + 30 * 'of mine '}' names no folder"
    assert shortened(message) == message


def test_the_text_between_two_quoted_words_is_not_cut() -> None:
    long = "valid: " + ", ".join(["kind"] * 30)
    message = f"unknown kind 'g'; {long}; see 'x'"
    assert shortened(message) == message
    assert shortened(f"is '{'a b ' * 60}'").endswith("…'")


def test_what_a_terminal_is_given() -> None:
    r"""Escapes as Python writes them; ``\udcc3\udca9`` is an é that an ASCII locale has read."""
    assert plain("a\x1b[31m\x07b\tc\nd") == "a\\x1b[31m\\x07b\\tc\nd"
    assert plain("é – ü\u00a0%") == "é – ü\u00a0%"
    assert plain("\u202eabc") == "\\u202eabc" and plain("\U0001f600") == "\\U0001f600"
    assert one_line("a\nb") == "a\\nb" and one_line("\U0001f600") == "\U0001f600"
    assert exact("\udcc3\udca9") == "é" and exact("\udce9") == "\udce9"
    assert readable("\udce9") == "\\udce9" and readable("\ud800") == "\\ud800"
    assert len(echoed("y" * 500)) == 80 and echoed("a\x00b") == "a\\x00b"


def test_names_and_labels_do_not_reach_the_terminal_as_such(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Neither control characters, nor the codes by which the terminal's library writes emoji and styles."""
    monkeypatch.chdir(tmp_path)
    Image.fromarray((FRAME * 255).astype(np.uint8)).save("f.png")
    label = "a:smile:[bold]\x1b[31m\U0001f600"
    assert main(["compare", "f.png", "--chain", f"'{label}': {CHAIN}", "--out", "o"]) == 0
    said = capsys.readouterr().out
    assert ":smile:" in said and "\x1b" not in said and "\U0001f600" not in said and "\U0001f604" not in said
    rows = json.loads(Path("o/rows.json").read_text(encoding="utf-8"))["rows"]
    assert rows[0]["chain"] == label


@pytest.mark.parametrize("text", ["=1+1", "+1+1", "-1+1", "@sum(1)", "\t=1", "\r=1"])
def test_cells_that_a_spreadsheet_would_work_out(text: str) -> None:
    """In the CSV with an apostrophe or an escape in front, in the JSON as they are; numbers stay numbers."""
    safe = {"\t=1": "\\t=1", "\r=1": "\\r=1"}.get(text, f"'{text}")
    assert spreadsheet_cell(text) == safe
    assert spreadsheet_cell("-1.5") == "-1.5" and spreadsheet_cell(-1.5) == -1.5
    assert spreadsheet_cell("a=1") == "a=1"
    clip = ss.still_clip(FRAME, name=text)
    found = ss.compare({text: CHAIN}, [clip], by=["lost_lines"], metrics=["lost_lines"])
    row = next(csv.DictReader(io.StringIO(rows_csv(found.rows), newline="")))
    assert row["chain"] == safe and row["frame"] == safe
    assert json.loads(rows_json(found.rows))["rows"][0]["chain"] == text


@pytest.mark.parametrize(
    "note",
    ["minutes_on = nan", "minutes_on = inf", "box = nan", "dials = { a = -inf }", "date = 5", "box = [1]"],
)
def test_notes_with_what_no_document_can_hold(tmp_path: Path, note: str) -> None:
    (tmp_path / "a.toml").write_text(note, encoding="utf-8")
    with pytest.raises(ScalesimError, match=r"^a\.toml: "):
        note_beside(tmp_path / "a.png")


@pytest.mark.parametrize(
    "keys",
    [
        "by = 5",
        "crop = [1, 2]",
        "crop = [1, 2, 3, nan]",
        "tube = 4",
        "metrics = { a = 1 }",
        "group_by = 1",
        "frames = 3",
    ],
)
def test_studies_with_malformed_values(tmp_path: Path, keys: str) -> None:
    frames = "" if keys.startswith("frames") else 'frames = ["a.png"]\n'
    text = f'{keys}\n{frames}[[chain]]\ntext = "{CHAIN}"\n'
    (tmp_path / "s.toml").write_text(text, encoding="utf-8")
    with pytest.raises(ScalesimError, match=r"^s\.toml: "):
        read_study(tmp_path / "s.toml")
