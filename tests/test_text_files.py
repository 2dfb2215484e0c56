"""Text files are the same on every system: UTF-8 and line feeds, named where a file is opened.

Without, Python takes the encoding of the locale, and Windows writes a carriage return before each line feed
(Python's documentation of `open`). Read from the source, since Linux and macOS would not show it.
"""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import scalesim

ROOT = Path(scalesim.__file__).parent
NO_FILES = ("os", "av", "Image", "encoder", "wave")
"""Names whose `open` opens no text."""


def careless(source: str) -> list[str]:
    """Return the calls that leave the encoding, or of what is written the line ends, to the system."""
    calls = (node for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Call))
    return [f"line {call.lineno}: {why}" for call in calls if (why := _why(call))]


def _why(call: ast.Call) -> str:
    name = getattr(call.func, "attr", getattr(call.func, "id", ""))
    given = {word.arg for word in call.keywords}
    if name == "open":
        place = 0 if isinstance(call.func, ast.Attribute) else 1
        if isinstance(call.func, ast.Attribute) and ast.unparse(call.func.value) in NO_FILES:
            return ""
        mode = call.args[place] if len(call.args) > place else ast.Constant("r")
        words = mode.value if isinstance(mode, ast.Constant) else ""
        if "b" in words:
            return ""
        writes = bool(set(words) & set("wax+"))
    elif name in ("read_text", "write_text"):
        writes = name == "write_text"
        if len(call.args) > writes:  # the encoding by its place
            given.add("encoding")
    else:
        return ""
    if "encoding" not in given:
        return f"{name} without encoding"
    return f"{name} without newline" if writes and "newline" not in given else ""


def test_every_text_file_names_its_encoding_and_line_ends() -> None:
    found = {
        path.relative_to(ROOT).as_posix(): careless(path.read_text(encoding="utf-8"))
        for path in sorted(ROOT.rglob("*.py"))
    }
    found = {name: lines for name, lines in found.items() if lines}
    assert not found


@pytest.mark.parametrize(
    ("source", "why"),
    [
        ("open(path)", "open without encoding"),
        ("open(path, 'w', encoding='utf-8')", "open without newline"),
        ("path.open()", "open without encoding"),
        ("path.open('rb')", ""),
        ("path.open('w', encoding='utf-8', newline='')", ""),
        ("open(path, 'rb')", ""),
        ("os.open(path, os.O_WRONLY)", ""),
        ("path.read_text()", "read_text without encoding"),
        ("path.read_text('ascii')", ""),
        ("path.write_text(text, 'utf-8')", "write_text without newline"),
        ("path.write_text(text, encoding='utf-8', newline='\\n')", ""),
    ],
)
def test_the_rule_notices(source: str, why: str) -> None:
    assert careless(source) == ([f"line 1: {why}"] if why else [])
