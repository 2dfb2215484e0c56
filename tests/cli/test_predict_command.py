"""The command line's contract: exit codes, one line for an error, JSON alone on standard output."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from scalesim.cli.main import main

CHAIN = "line-average lines=480, quantise, line-drop lines=240 phase=1"
ALWAYS = ("page", "markdown", "answer", "result")
"""Files of every answer besides its own."""


@pytest.fixture
def frame(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A 720p picture file in a working folder of its own."""
    monkeypatch.chdir(tmp_path)
    codes = np.random.RandomState(0).randint(0, 256, (36, 64, 3)).astype(np.uint8)
    path = tmp_path / "level 3.png"
    Image.fromarray(np.kron(codes, np.ones((20, 20, 1), np.uint8))).save(path)
    return path


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    """Run the command line in this process; return code, standard output, standard error."""
    code = main(words)
    out, err = capsys.readouterr()
    return code, out, err


def test_json_document(frame: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One document with at least these keys, absolute paths, and the same one saved with relative ones."""
    code, out, err = run(capsys, "predict", str(frame), "--chain", CHAIN, "--json")
    document = json.loads(out)
    assert code == 0
    assert "mode guessed" in err
    assert {
        "schema",
        "command",
        "version",
        "out",
        "files",
        "mode_in",
        "mode_out",
        "lines",
        "frame_lines",
        "samples",
        "fields",
        "metrics",
        "why",
    } <= set(document)
    folder = tmp_path / "outputs" / "predict-level-3"
    assert Path(document["out"]) == folder
    assert all(Path(path).is_file() and Path(path).is_absolute() for path in document["files"].values())
    saved = json.loads((folder / "result.json").read_text("utf-8"))
    assert saved["files"]["raster"] == "raster.png"
    assert {k: v for k, v in saved.items() if k not in ("out", "files")} == {
        k: v for k, v in document.items() if k not in ("out", "files")
    }


def test_the_raster_is_exact(frame: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A drop's raster holds the very codes of the kept lines; seen is nearest neighbour at 4:3."""
    assert run(capsys, "predict", str(frame), "--chain", "line-drop lines=240 phase=1", "--out", "o")[0] == 0
    source = np.asarray(Image.open(frame))
    assert np.array_equal(np.asarray(Image.open(tmp_path / "o" / "raster.png")), source[1::3])
    seen = np.asarray(Image.open(tmp_path / "o" / "seen.png"))
    assert seen.shape == (960, 1280, 3)
    assert np.array_equal(seen[::4], source[1::3])


def test_table_in_words(frame: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without --json a reviewer reads sentences, a table with units, and where the files are."""
    code, out, _ = run(capsys, "predict", str(frame), "--chain", CHAIN)
    assert code == 0
    assert "240 lines, the same ones every picture" in out
    assert "% of white" in out
    assert "predict-level-3" in out


def test_views_and_metrics_can_be_chosen(
    frame: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Only what is asked for is written and measured."""
    words = (
        "predict",
        str(frame),
        "--chain",
        "interlace",
        "--view",
        "seen",
        "--metrics",
        "ssim,psnr_db",
        "--out",
        "o",
        "--json",
    )
    document = json.loads(run(capsys, *words)[1])
    assert set(document["files"]) == {"seen", *ALWAYS}
    assert set(document["metrics"]) == {"ssim", "psnr_db"}
    assert sorted(p.name for p in (tmp_path / "o").iterdir()) == sorted(
        ["answer.json", "index.html", "predict.md", "result.json", "seen.png"]
    )


def test_chain_files(frame: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A TOML file is read as a chain; what is wrong in it is named with the file."""
    (tmp_path / "c.toml").write_text('name = "mine"\n[[stage]]\nkind = "line-drop"\nlines = 240\n', "utf-8")
    code, out, _ = run(capsys, "predict", str(frame), "--chain", "c.toml", "--json")
    assert code == 0
    assert json.loads(out)["chain"] == "mine: line-drop lines=240"
    (tmp_path / "d.toml").write_text('[[stage]]\nkind = "line-drop"\nlins = 240\n', "utf-8")
    code, _, err = run(capsys, "predict", str(frame), "--chain", "d.toml")
    assert code == 2
    assert "d.toml: stage 1 of 1: line-drop: unknown key 'lins'; did you mean 'lines'?" in err


BAD = {
    "missing file": (["nowhere.png", "--chain", CHAIN], "nowhere.png"),
    "no chain": (["F"], "--chain"),
    "empty chain": (["F", "--chain", ""], "chain is empty"),
    "unknown kind": (["F", "--chain", "line-drp lines=2"], "did you mean 'line-drop'"),
    "unknown key": (["F", "--chain", "line-drop line=2"], "did you mean 'lines'"),
    "no lines": (["F", "--chain", "line-drop lines=0"], "at least 1"),
    "negative lines": (["F", "--chain", "line-drop lines=-3"], "at least 1"),
    "more lines than come in": (["F", "--chain", "line-drop lines=999"], "at most the 720"),
    "more lines than any mode": (["F", "--chain", "resample lines=99999"], "at most 4320"),
    "odd count into interlace": (["F", "--chain", "line-average lines=481, interlace"], "must be even"),
    "infinite": (["F", "--chain", "level gain=inf"], "finite"),
    "not a number": (["F", "--chain", "position lines=nan"], "finite"),
    "missing chain file": (["F", "--chain", "no.toml"], "no.toml"),
    "unknown metric": (["F", "--chain", CHAIN, "--metrics", "sharp"], "metrics"),
    "unknown view": (["F", "--chain", CHAIN, "--view", "sen"], "did you mean 'seen'"),
    "unknown mode": (["F", "--chain", CHAIN, "--mode", "720p61"], "720p60"),
    "mode of another height": (["F", "--chain", CHAIN, "--mode", "1080i60"], "1080"),
    "unknown option": (["F", "--chian", CHAIN], "--chain"),
    "out is a file": (["F", "--chain", CHAIN, "--out", "F"], "is a file"),
    "out exists": (["F", "--chain", CHAIN, "--out", "taken"], "--force"),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_is_one_line(
    frame: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], case: str
) -> None:
    """Exit code 2, one line on standard error, nothing on standard output, nothing written."""
    words, expected = BAD[case]
    (tmp_path / "taken").mkdir()
    (tmp_path / "taken" / "mine.txt").write_text("mine", "utf-8")
    before = sorted(tmp_path.rglob("*"))
    code, out, err = run(capsys, "predict", *(str(frame) if word == "F" else word for word in words))
    assert code == 2
    assert out == ""
    assert expected in err
    assert err.count("\n") == 1
    assert err.startswith("scalesim: ")
    assert sorted(tmp_path.rglob("*")) == before


@pytest.mark.parametrize(
    "content", [b"", b"not a picture at all", b"\x89PNG\r\n\x1a\n"], ids=["empty", "text", "cut"]
)
def test_files_that_are_no_pictures(frame: Path, content: bytes, capsys: pytest.CaptureFixture[str]) -> None:
    """Named in one line, whatever they hold."""
    frame.write_bytes(content)
    code, _, err = run(capsys, "predict", str(frame), "--chain", CHAIN)
    assert (code, err.count("\n")) == (2, 1)
    assert "level 3.png" in err


def test_unknown_command_and_help(capsys: pytest.CaptureFixture[str]) -> None:
    """A misspelt command names the nearest; help shows an example."""
    assert run(capsys, "predit")[0] == 2
    code, out, _ = run(capsys, "predict", "--help")
    assert code == 0
    assert "Example" in out
    assert run(capsys, "--version")[0] == 0


def test_a_fault_of_the_program_shows_no_traceback(
    frame: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Even an unforeseen error is one line."""

    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("made to fail")

    monkeypatch.setattr("scalesim.jobs.predict.predict.predict", broken)
    code, _, err = run(capsys, "predict", str(frame), "--chain", CHAIN)
    assert code == 2
    assert "ZeroDivisionError" in err
    assert "Traceback" not in err


@pytest.mark.skipif(os.name == "nt", reason="sends a POSIX signal")
def test_interrupt_leaves_nothing(tmp_path: Path) -> None:
    """Ctrl-C in the middle: exit code 130, one line, no folder."""
    command = [sys.executable, "-m", "scalesim", "demo", "--out", "shown"]
    process = subprocess.Popen(
        command, cwd=tmp_path, stderr=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    deadline = time.monotonic() + 300
    while not (tmp_path / "shown.partial").exists() and time.monotonic() < deadline:
        time.sleep(0.05)
    time.sleep(1)
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=300)
    assert process.returncode == 130
    assert "interrupted" in err
    assert "Traceback" not in err
    assert out == ""
    assert list(tmp_path.iterdir()) == []


FIELDS = "line-average lines=480, flicker-filter, interlace"


def test_the_screen_and_its_close_look(
    frame: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every picture of the views asked for, none besides; the facts of the screen in the document."""
    words = ["--view", "screen,fields,flicker", "--display", "studio-36cm-800", "--height", "240"]
    words += ["--macro", "100", "--colour-fields", "--exposure", "1/30", "--metrics", "flicker_db"]
    code, out, _ = run(capsys, "predict", str(frame), "--chain", FIELDS, *words, "--json")
    document = json.loads(out)
    assert code == 0
    pictures = {"screen", "screen-top", "screen-bottom", "screen-macro", "screen-photo"}
    assert set(document["files"]) == {*pictures, "flicker", *ALWAYS}
    assert document["screen"]["display"] == "studio 36 cm, 800 TV lines"
    with Image.open(document["files"]["screen"]) as picture:
        assert picture.size == (320, 240)


def test_a_display_of_ones_own(frame: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own = 'name = "mine"\ndiagonal_mm = 500\naspect = "4:3"\ntv_lines = 450\nbeam_width = 0.6\n'
    (tmp_path / "mine.toml").write_text(own, "utf-8")
    words = [
        "predict",
        str(frame),
        "--chain",
        FIELDS,
        "--view",
        "screen",
        "--height",
        "120",
        "--metrics",
        "crop",
    ]
    words[-1] = "cropped_percent"
    assert run(capsys, *words, "--display", "mine.toml")[0] == 0
    (tmp_path / "mine.toml").write_text(own.replace("0.6", "-0.6"), "utf-8")
    code, _, err = run(capsys, *words, "--display", "mine.toml")
    assert code == 2 and "beam_width is -0.6" in err and err.count("\n") == 1
    (tmp_path / "mine.toml").write_text(own + "brightness = 3\n", "utf-8")
    assert "unknown key 'brightness'" in run(capsys, *words, "--display", "mine.toml")[2]
    assert "no such display file" in run(capsys, *words, "--display", "other.toml")[2]


def test_a_clip_of_a_still(frame: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Each view as it moves, its flashes told and written beside."""
    words = [
        "--view",
        "raster,screen",
        "--height",
        "120",
        "--clip",
        "mkv",
        "--seconds",
        "0.2",
        "--pan",
        "60,0",
    ]
    code, out, err = run(
        capsys, "predict", str(frame), "--chain", FIELDS, *words, "--metrics", "combing", "--json"
    )
    document = json.loads(out)
    assert code == 0
    assert {"raster-clip", "raster-clip-flashes", "screen-clip", "screen-clip-flashes"} <= set(
        document["files"]
    )
    assert document["clips"]["raster"]["rate_hz"] == 30 and document["clips"]["screen"]["rate_hz"] == 60
    assert document["clips"]["screen"]["flashes"]["passes"] is True
    assert "WCAG" in err and "BT.1702" in err


def test_a_flicker_clip_is_asked_for_by_name(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """White lines in one field of black: steady by default; on request it flashes, after a caution."""
    codes = np.zeros((480, 64, 3), np.uint8)
    codes[0::2] = 255
    Image.fromarray(codes).save(tmp_path / "lines.png")
    base = ["predict", str(tmp_path / "lines.png"), "--chain", "interlace", "--view", "screen", "--json"]
    base += ["--height", "60", "--clip", "mkv", "--seconds", "1", "--metrics", "combing", "--force"]
    clips = []
    for number, more in enumerate(([], ["--flicker-clip"])):
        code, out, err = run(capsys, *base, *more, "--out", str(tmp_path / str(number)))
        assert code == 0 and ("caution" in err) == bool(more)
        clips.append(json.loads(out)["clips"]["screen"])
    assert clips[0]["flashes"]["passes"] is True and clips[0]["caution_s"] == 0
    assert clips[1]["flashes"]["general_flashes_per_s"] > 25 and clips[1]["caution_s"] == 3


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--view", "film"], "unknown picture 'film'"),
        (["--view", ","], "names no picture"),
        (["--macro", "3"], "add --view screen"),
        (["--seconds", "3"], "add --clip"),
        (["--flicker-clip", "--clip", "mkv"], "add --view screen"),
        (["--view", "flicker", "--clip", "mkv"], "needs a view that moves"),
        (["--clip", "mkv", "--pan", "3"], "SAMPLES,LINES"),
        (["--clip", "mkv", "--pan", "a,b"], "must be a number"),
        (["--clip", "mkv", "--seconds", "1e9"], "must be a number"),
        (["--clip", "mkv", "--seconds", "99999"], "at most 3600"),
        (["--view", "screen", "--exposure", "1/0"], "must be a number"),
        (["--view", "screen", "--macro", "400"], "begins at 0 to 216"),
        (["--view", "screen", "--display", "studio"], "studio-36cm-800"),
        (["--at", "-1"], "at is -1"),
    ],
)
def test_what_does_not_go_together(
    frame: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    code, _, err = run(capsys, "predict", str(frame), "--chain", FIELDS, "--metrics", "combing", *words)
    assert code == 2 and said in err and err.rstrip("\n").count("\n") == 0
    assert not (tmp_path / "outputs").exists()


def test_a_close_look_at_a_line_and_a_sample(frame: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = [
        "predict",
        str(frame),
        "--chain",
        "line-drop lines=240",
        "--view",
        "screen",
        "--metrics",
        "combing",
    ]
    looks = []
    for place in ("100", "100,0", "100,400"):
        code, out, _ = run(capsys, *words, "--macro", place, "--json", "--force")
        assert code == 0
        with Image.open(json.loads(out)["files"]["screen-macro"]) as picture:
            looks.append(np.asarray(picture))
    assert not any(np.array_equal(looks[a], looks[b]) for a, b in ((0, 1), (0, 2), (1, 2)))
    document = json.loads(out)
    assert document["screen"]["rows_a_line"] == 5 and document["screen"]["clipped_percent"] <= 0.5
    assert 1 <= document["screen"]["shown_at_percent"] <= 100
    for place, said in (
        ("100,2000", "begins at 0 to"),
        ("a,3", "LINE or LINE,SAMPLE"),
        ("3,b", "must be a number"),
    ):
        code, _, err = run(capsys, *words, "--macro", place)
        assert code == 2 and said in err and err.rstrip("\n").count("\n") == 0


def flashing(tmp_path: Path) -> list[str]:
    """Return the words that make a clip of fields alone, one white and one black."""
    codes = np.zeros((480, 64, 3), np.uint8)
    codes[0::2] = 255
    Image.fromarray(codes).save(tmp_path / "lines.png")
    words = [
        "predict",
        str(tmp_path / "lines.png"),
        "--chain",
        "interlace",
        "--view",
        "seen,screen",
        "--json",
    ]
    return [*words, "--height", "60", "--seconds", "0.5", "--metrics", "combing", "--flicker-clip"]


def test_no_card_on_the_users_word(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The caution stays in the words, the document and beside the clip."""
    out_folder = tmp_path / "shown"
    words = [*flashing(tmp_path), "--clip", "webp", "--no-card", "--out", str(out_folder)]
    code, out, err = run(capsys, *words)
    clip = json.loads(out)["clips"]["screen"]
    assert code == 0 and clip["caution_s"] == 0 and clip["frames"] == 31 and "seizures" in clip["caution"]
    page = (out_folder / "index.html").read_text("utf-8")
    assert "No caution goes before screen.webp (left out as asked for). It flashes" in page
    assert "nothing: left out as asked for" in page and "does not pass" in page
    assert "No caution goes before screen.webp" in err and "seizures" in err
    assert "seizures" in json.loads((out_folder / "screen.webp.flashes.json").read_text("utf-8"))["caution"]


@pytest.mark.slow
def test_a_short_webp_has_its_card(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = [*flashing(tmp_path), "--clip", "webp", "--out", str(tmp_path / "shown")]
    code, out, _ = run(capsys, *words)
    assert code == 0 and json.loads(out)["clips"]["screen"]["caution_s"] == 3


@pytest.mark.slow
def test_a_clip_that_fails_does_not_lose_the_others(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """WebP cannot hold the screen's pictures: told, exit code 2; the other view and the stills are there."""
    monkeypatch.setattr("scalesim.io.clips.write.MOST_SAMPLES", 40 * 960 * 1280)
    words = [*flashing(tmp_path), "--clip", "webp", "--out", str(tmp_path / "shown")]
    words[words.index("60")] = "2000"
    code, out, err = run(capsys, *words)
    document = json.loads(out)
    assert code == 2 and "the screen clip was not written: " in err
    assert "takes at most" in document["clips"]["screen"]["failed"]
    assert document["clips"]["seen"]["frames"] == 30
    assert {"seen", "screen", "seen-clip", "seen-clip-flashes"} <= set(document["files"])
    assert "screen-clip" not in document["files"]
    page = (tmp_path / "shown" / "index.html").read_text("utf-8")
    assert "The screen clip was not written: " in page and "nothing: none is needed" in page
    assert not list((tmp_path / "shown").glob("*partial*"))
