"""A job is its folder: declared once, it is a command, a document, a page, a text, and is read back.

A toy job is put into the folder of jobs for one test; not a line is written anywhere else.
"""

from __future__ import annotations

import ast
import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import scalesim.jobs as folder
from scalesim.cli import main as cli
from scalesim.io.saved import read_saved
from scalesim.job import Job
from scalesim.jobs.catalogue import jobs
from scalesim.saving import save

INIT = """
from dataclasses import dataclass
from typing import ClassVar

from scalesim.job import Input, Job
from scalesim.schema import param


@dataclass(frozen=True, kw_only=True)
class Keys:
    kind: ClassVar[str] = "toy"
    times: int = param(2, type="whole", at_least=1, at_most=9, doc="How often the toy looks.")
    side: str = param("left", type="choice", choices=("left", "right"), doc="Where it looks.")


JOB = Job(
    name="toy",
    step=44,
    about="Tell how light a toy is.\\n\\nExample: scalesim toy art.png",
    function="scalesim.jobs.toy.toy:weigh",
    inputs=(Input("art", "picture", "the toy", named="name"),),
    keys=Keys,
)
"""
MODULE = """
from dataclasses import dataclass
from scalesim.plot import Axis, Panel, Plot, Series
from scalesim.result import Result, Table
import numpy as np

@dataclass(frozen=True, eq=False)
class Weighed(Result):
    name: str
    light: float
    values: object
    kind = "toy"

    @property
    def undecided(self):
        return self.light == 0

    def sentences(self):
        return [f"{self.name} shines <at> {self.light:.2f}."]

    def table(self):
        return Table("Toys", ("toy", "light"), ((self.name, f"{self.light:.2f}"),), ("left", "right"))

    def figures(self):
        panel = Panel(Axis("a"), Axis("b"), (Series((1.0,), (2.0,)),))
        return (Plot("shine", "Shine", "How it shines.", (panel,)),)

    @property
    def pictures(self):
        return {"toy": self.values}

    def to_dict(self):
        return {"name": self.name, "light": self.light}

def weigh(art, *, name, times, side):
    half = art[:, : art.shape[1] // 2] if side == "left" else art[:, art.shape[1] // 2 :]
    return Weighed(name, times * float(half.mean()), art)
"""


@pytest.fixture
def toy(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """Return a working folder with a picture, while the toy job is in the folder of jobs."""
    place = tmp_path / "more" / "toy"
    place.mkdir(parents=True)
    (place / "__init__.py").write_text(INIT, "utf-8")
    (place / "toy.py").write_text(MODULE, "utf-8")
    monkeypatch.setattr(folder, "__path__", [*folder.__path__, str(place.parent)])
    art = np.zeros((8, 16, 3), np.uint8)
    art[:, :8] = 51  # a fifth of the codes
    Image.fromarray(art).save(tmp_path / "art.png")
    monkeypatch.chdir(tmp_path)
    for known in (jobs, cli.commands):
        known.cache_clear()
    yield tmp_path
    for known in (jobs, cli.commands):
        known.cache_clear()
    for name in [name for name in sys.modules if name.startswith("scalesim.jobs.toy")]:
        del sys.modules[name]


def test_a_new_job_is_a_command_with_help(toy: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "toy" in cli.commands() and list(jobs()).index("toy") == list(jobs()).index("position") + 1
    assert cli.main(["--help"]) == 0
    assert "Tell how light a toy is." in capsys.readouterr().out
    assert cli.main(["toy", "--help"]) == 0
    said = capsys.readouterr().out
    for words in (
        "How often the toy looks (default 2).",
        "left|right",
        "--times",
        "--out",
        "--force",
        "--json",
    ):
        assert words in " ".join(said.split()), words
    assert cli.main(["toys"]) == 2
    assert "toy" in capsys.readouterr().err


def test_a_new_job_has_terminal_document_page_and_text(toy: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """0.2 of the codes on the left, looked at twice: 0.4."""
    assert cli.main(["toy", "art.png"]) == 0
    said = capsys.readouterr().out
    assert (
        "art.png shines <at> 0.40." in said
        and "Toys" in said
        and said.splitlines()[-1] == f"Page: {toy / 'outputs' / 'toy-art' / 'index.html'}"
    )
    place = toy / "outputs" / "toy-art"
    document = json.loads((place / "result.json").read_text("utf-8"))
    assert (document["command"], document["schema"], document["name"]) == ("toy", 1, "art.png")
    assert document["light"] == pytest.approx(0.4)
    assert {"toy.png", "shine.svg", "index.html", "toy.md", "answer.json"} <= set(document["files"].values())
    assert np.array_equal(Image.open(place / "toy.png"), Image.open("art.png"))
    page = (place / "index.html").read_text("utf-8")
    assert "art.png shines &lt;at&gt; 0.40." in page and "<svg" in page and "toy.png" in page
    text = (place / "toy.md").read_text("utf-8")
    assert r"art.png shines \<at\> 0.40." in text and "| art.png | 0.40 |" in text and "shine.svg" in text
    assert cli.main(["toy", "art.png", "--out", "o", "--json", "--times", "5"]) == 0
    assert json.loads(capsys.readouterr().out)["light"] == pytest.approx(1.0)


def test_a_verdict_of_none_is_told_by_the_exit_code(toy: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["toy", "art.png", "--side", "right"]) == 1


def test_a_new_job_is_read_back_and_shown_again(toy: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["toy", "art.png", "--out", "o"]) == 0
    found = read_saved("o")
    assert found.sentences() == ["art.png shines <at> 0.40."]
    assert found.table().rows == (("art.png", "0.40"),)
    assert np.array_equal(found.pictures["toy"] * 255, np.asarray(Image.open("art.png")))
    save(found, "again")
    for name in ("index.html", "toy.md", "shine.svg", "toy.png", "answer.json"):
        assert (toy / "again" / name).read_bytes() == (toy / "o" / name).read_bytes(), name


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--times", "0"], "times is 0; it must be at least 1"),
        (["--times", "10"], "times is 10; it must be at most 9"),
        (["--times", "1.5"], "times"),
        (["--times", "many"], "times"),
        (["--side", "lefd"], "left"),
        (["--sid", "left"], "--side"),
    ],
)
def test_keys_refuse_in_one_line(
    toy: Path, capsys: pytest.CaptureFixture[str], words: list[str], told: str
) -> None:
    assert cli.main(["toy", "art.png", *words]) == 2
    said = capsys.readouterr()
    assert told in said.err and said.err.count("\n") == 1 and "Traceback" not in said.err, said.err
    assert not said.out and not (toy / "outputs").exists()


def test_every_folder_of_jobs_declares_one() -> None:
    """Named as its folder, with an example that names the command, in the order of steps."""
    places = {p.parent.name for p in Path(folder.__path__[0]).glob("*/__init__.py")}
    # settings holds what tuning and the present position share; report takes folders, by names in a text
    assert set(jobs()) == places - {"settings", "report"}
    for name, job in jobs().items():
        assert isinstance(job, Job) and job.name == name and callable(job.load())
    steps = [job.step for job in jobs().values()]
    assert steps == sorted(steps)


def test_the_list_loads_no_numerics() -> None:
    done = subprocess.run(
        [
            sys.executable,
            "-c",
            "import sys; from scalesim.jobs.catalogue import jobs; jobs();"
            "print([n for n in ('numpy', 'scipy', 'matplotlib', 'PIL', 'av') if n in sys.modules])",
        ],
        capture_output=True,
        text=True,
        check=True,
    )
    assert ast.literal_eval(done.stdout) == []
