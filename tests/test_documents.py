"""README and DEVELOPERS cannot go stale: their code runs, and the README's tables match the package."""

from __future__ import annotations

import re
import shlex
from dataclasses import fields
from pathlib import Path

import pytest

from scalesim.chain import Chain
from scalesim.cli.main import commands
from scalesim.metrics import METRICS, key_of
from scalesim.stages import STAGES

ROOT = Path(__file__).parents[1]
DOCUMENTS = ("README.md", "DEVELOPERS.md")


def blocks(document: str, language: str) -> list[str]:
    """Return the fenced blocks of a language."""
    text = (ROOT / document).read_text("utf-8")
    return re.findall(rf"^```{language}\n(.*?)^```", text, re.MULTILINE | re.DOTALL)


@pytest.mark.parametrize("document", DOCUMENTS)
def test_python_blocks_run(document: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every Python block runs as it stands, in a folder of its own."""
    monkeypatch.chdir(tmp_path)
    for register in (
        STAGES,
        METRICS,
    ):  # what a page registers to show how must not stay, nor take what is there
        for name, entry in list(register.items()):
            monkeypatch.setitem(register, name, entry)
    found = blocks(document, "python")
    assert found
    for number, block in enumerate(found):
        exec(
            compile(block, f"{document}, block {number}", "exec", dont_inherit=True),
            {"__name__": f"block{number}"},
        )


def test_commands_and_chains_of_the_readme_are_valid() -> None:
    """Commands exist and their chains parse; the TOML block is a chain."""
    lines = [
        line
        for block in blocks("README.md", "sh")
        for line in block.splitlines()
        if line.startswith("scalesim")
    ]
    assert len(lines) >= 2
    for line in lines:
        words = shlex.split(line)
        assert words[1] in commands()
        for at, word in enumerate(words):
            if word == "--chain":
                Chain(words[at + 1])
    for block in blocks("README.md", "toml"):
        Chain.from_toml(block)


def test_the_readme_lists_every_stage_and_key() -> None:
    """A kind or key missing from the README's table is named here."""
    text = (ROOT / "README.md").read_text("utf-8")
    rows = dict(re.findall(r"^\| `([a-z-]+)` \|(.*)$", text, re.MULTILINE))
    shared = "lines phase step edge fields"  # "as above"
    for kind, stage in STAGES.items():
        assert kind in rows, f"README has no row for {kind}"
        row = rows[kind] + (shared if "as above" in rows[kind] else "")
        for field in fields(stage):
            assert re.search(rf"\b{field.name}\b", row), f"README's row for {kind} lacks {field.name}"


def test_the_readme_reads_metrics_as_their_keys_do() -> None:
    """The table of the numbers is the keys' own: same rows, same order, nothing else."""
    text = (ROOT / "README.md").read_text("utf-8").split("## Reading the numbers")[1].split("\n## ")[0]
    found = [line for line in text.splitlines() if line.startswith("| `")]
    expected = ["| " + " | ".join(key_of(name).readme_row) + " |" for name in METRICS]
    assert found == expected, "write into the README:\n" + "\n".join(expected)


def test_the_readme_begins_with_the_job() -> None:
    """The first paragraph says what it is for."""
    first = (ROOT / "README.md").read_text("utf-8").split("\n\n")[1]
    assert "chains of video scalers" in first
