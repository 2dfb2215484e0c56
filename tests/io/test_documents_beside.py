"""Files named in a document lie relative to it, wherever the program runs."""

from __future__ import annotations

from pathlib import Path, PureWindowsPath

import pytest

from scalesim.chain import Chain
from scalesim.cli.options import read_chain
from scalesim.core.operator_file import FieldRows, OperatorFile
from scalesim.core.raster import Field, Raster
from scalesim.io.notes import read_study
from scalesim.schema import document


@pytest.fixture
def box(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a folder with an operator file of pair means; the working folder is another."""
    rows = tuple((2 * r, (0.5, 0.5)) for r in range(4))
    file = OperatorFile("pairs", 8, 1, "code", 2.0, (FieldRows(Field(), 0.0, rows),))
    folder = tmp_path / "grey"
    folder.mkdir()
    (folder / "box.json").write_text(file.to_json(), "utf-8")
    (folder / "box.toml").write_text('[[stage]]\nkind = "measured"\nfile = "box.json"\n', "utf-8")
    (tmp_path / "elsewhere").mkdir()
    monkeypatch.chdir(tmp_path / "elsewhere")
    return folder


def lines_of(chain: Chain) -> int:
    return chain.resolve(Raster(8, 4)).rasters[-1].lines


def test_a_chain_file(box: Path) -> None:
    assert lines_of(read_chain(str(box / "box.toml"))) == 4
    assert lines_of(read_chain("../grey/box.toml")) == 4


def test_a_study_in_another_folder(box: Path) -> None:
    """A chain's file named by the study names its own files; a text and a reference name the study's."""
    study = box.parent / "study.toml"
    study.write_text(
        'frames = ["f/*.png"]\nreference = "ideal.png"\n'
        '[[chain]]\nname = "a"\nfile = "grey/box.toml"\n'
        '[[chain]]\nname = "b"\ntext = "measured file=grey/box.json"\n',
        "utf-8",
    )
    found = read_study(Path("../study.toml"))
    assert [lines_of(chain) for chain in found["chain"]] == [4, 4]
    assert [chain.name for chain in found["chain"]] == ["a", "b"]
    assert (found["frames"], found["reference"]) == (
        [str(Path("../f/*.png"))],
        str(Path("../ideal.png")),
    )


def test_names_have_forward_slashes_on_windows_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """Windows takes both kinds; a chain's text, and what is saved of it, is to be the same everywhere."""
    monkeypatch.setattr(document, "Path", PureWindowsPath)
    for folder, text in (("boxes\\old", "boxes/old/box.json"), ("C:\\boxes", "C:/boxes/box.json")):
        assert Chain("measured file=box.json").files_from(folder).text == f"measured file={text}"


@pytest.mark.parametrize("word", ["ideal", "source"])
def test_the_words_of_a_reference_are_no_files(box: Path, word: str) -> None:
    (box / "s.toml").write_text(
        f'frames = ["a.png"]\nreference = "{word}"\n[[chain]]\ntext = "interlace"\n', "utf-8"
    )
    assert read_study(box / "s.toml")["reference"] == word


def test_what_is_written_to_a_folder_is_read_from_there(box: Path) -> None:
    """The chain of another folder, saved here and read again, finds the same file."""
    chain = read_chain("../grey/box.toml")
    Path("best.toml").write_text(chain.files_for(".").to_toml(), "utf-8")
    deep = Path("deep/er")
    deep.mkdir(parents=True)
    (deep / "best.toml").write_text(chain.files_for(deep).to_toml(), "utf-8")
    assert lines_of(read_chain("best.toml")) == lines_of(read_chain(str(deep / "best.toml"))) == 4
    assert "\\" not in (deep / "best.toml").read_text("utf-8")
    # a whole path stays as it is
    whole = read_chain(str((box / "box.toml").resolve()))
    assert str(whole.files_for("deep")) == str(whole) and lines_of(whole) == 4
