"""Notes beside frames, and study files."""

from __future__ import annotations

from pathlib import Path

import pytest

from scalesim.errors import ParameterError, ReadError
from scalesim.io.notes import note_beside, read_study


def test_a_note_becomes_plain_values(tmp_path: Path) -> None:
    """Dial positions become one text; no note is an empty one."""
    picture = tmp_path / "a.png"
    assert note_beside(picture) == {}
    (tmp_path / "a.toml").write_text(
        'box = "grey box"\nfirmware = "1.2"\nminutes_on = 30\nsource_mode = "720p60"\n'
        '[dials]\nsharp = 3\nheight = "-1"\n',
        "utf-8",
    )
    assert note_beside(picture) == {
        "box": "grey box",
        "firmware": "1.2",
        "minutes_on": 30,
        "source_mode": "720p60",
        "dials": "sharp 3, height -1",
    }


@pytest.mark.parametrize(
    ("text", "error", "words"),
    [
        ('bx = "grey"', ParameterError, "a.toml: unknown key 'bx'; did you mean 'box'"),
        ('range = "ful"', ParameterError, "did you mean 'full'"),
        ("box = ", ReadError, "a.toml: cannot be read as TOML"),
    ],
)
def test_bad_notes(tmp_path: Path, text: str, error: type[Exception], words: str) -> None:
    """The file, the key and the nearest valid one are named."""
    (tmp_path / "a.toml").write_text(text, "utf-8")
    with pytest.raises(error, match=words):
        note_beside(tmp_path / "a.png")


def test_a_study(tmp_path: Path) -> None:
    """Frames and chain files are relative to the study; options come through."""
    (tmp_path / "c.toml").write_text('[[stage]]\nkind = "interlace"\n', "utf-8")
    (tmp_path / "s.toml").write_text(
        'frames = ["f/*.png"]\nby = ["ssim"]\nreference = "source"\n'
        '[[chain]]\nname = "x"\ntext = "line-drop lines=240"\n[[chain]]\nname = "y"\nfile = "c.toml"\n',
        "utf-8",
    )
    study = read_study(tmp_path / "s.toml")
    assert study["frames"] == [str(tmp_path / "f/*.png")]
    assert [str(chain) for chain in study["chain"]] == ["x: line-drop lines=240", "y: interlace"]
    assert study["by"] == ("ssim",)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("frames = []", "frames is"),
        ('frames = ["a.png"]', r"no \[\[chain\]\]"),
        ('frams = ["a.png"]', "did you mean 'frames'"),
        ('frames = ["a.png"]\n[[chain]]\nname = "x"', "either text or file"),
        ('frames = ["a.png"]\n[[chain]]\ntext = "line-drp lines=2"', "chain 1: stage 1 of 1"),
        ('frames = ["a.png"]\n[[chain]]\nfile = "none.toml"', "chain 1: .*none.toml: no such chain file"),
        ('frames = ["a.png"]\nchain = "line-drop lines=240"', r"no \[\[chain\]\]"),
    ],
)
def test_bad_studies(tmp_path: Path, text: str, words: str) -> None:
    """The file and the place are named."""
    (tmp_path / "s.toml").write_text(text, "utf-8")
    with pytest.raises((ParameterError, ReadError), match=words):
        read_study(tmp_path / "s.toml")
    with pytest.raises(ReadError, match="no such study file"):
        read_study(tmp_path / "none.toml")
