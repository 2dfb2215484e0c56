"""Standard output and error in other locales, with names that are no text, and with libraries that talk."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from few import few
from PIL import Image

CHAIN = "line-drop lines=24"
ASCII = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
pytestmark = pytest.mark.skipif(os.name != "posix", reason="names of files are bytes on POSIX only")


def run(folder: Path, *words: str | bytes, **more: str) -> tuple[int, bytes, bytes]:
    """Run the program in a folder; return its exit code and what it printed."""
    path = os.pathsep.join(os.path.abspath(part) for part in sys.path if part)
    environment = {**os.environ, "PYTHONPATH": path, **more}
    done = subprocess.run(
        [sys.executable, "-m", "scalesim", *words],
        cwd=folder,
        env=environment,
        capture_output=True,
        timeout=120,
    )
    assert b"Traceback" not in done.stderr and b"fault of the program" not in done.stderr, done.stderr
    return done.returncode, done.stdout, done.stderr


def frame(path: bytes | Path) -> None:
    with open(path, "wb") as file:
        Image.new("RGB", (64, 48), (200, 90, 60)).save(file, "PNG")


def test_json_is_utf_8_whatever_the_locale(tmp_path: Path) -> None:
    """RFC 8259, section 8.1: JSON is UTF-8."""
    frame(tmp_path / "bé.png")
    words = (
        "predict",
        "bé.png",
        "--chain",
        f"é: {CHAIN}",
        "--metrics",
        "lost_lines",
        "--json",
        "--out",
        "ré",
    )
    code, out, _ = run(tmp_path, *words, **ASCII)
    told = json.loads(out.decode("utf-8"))
    assert code == 0 and told["source"] == "bé.png" and told["chain"].startswith("é: ")
    assert told["out"] == str(tmp_path / "ré") and Path(told["files"]["result"]).is_file()
    kept = json.loads((tmp_path / "ré" / "result.json").read_text(encoding="utf-8"))
    assert kept["source"] == "bé.png"
    assert "é" in (tmp_path / "ré" / "index.html").read_text(encoding="utf-8")


@pytest.mark.parametrize("command", few(["compare", "predict", "fields", "chart"], 1))
def test_any_letter_under_an_ascii_locale(tmp_path: Path, command: str) -> None:
    frame(tmp_path / "bé.png")
    asked = {
        "predict": ("predict", "bé.png", "--chain", f"é: {CHAIN}", "--metrics", "lost_lines"),
        "compare": (
            "compare",
            "bé.png",
            "--chain",
            f"é: {CHAIN}",
            "--by",
            "lost_lines",
            "--capture",
            "ü=bé.png",
        ),
        "fields": ("fields", "bé.png", "bé.png"),
        "chart": ("chart", "kernel", "--mode", "240p60", "--seconds", "0.1"),
    }[command]
    code, out, _ = run(tmp_path, *asked, "--out", "oé", **ASCII)
    assert code in (0, 1, 2) and (tmp_path / "oé" / "result.json").is_file(), out


@pytest.mark.skipif(sys.platform == "darwin", reason="the file system takes UTF-8 only")
def test_names_that_are_no_text(tmp_path: Path) -> None:
    r"""The byte E9 alone is no UTF-8; JSON has it as ``\udce9``, by which Python finds the file again."""
    frame(os.fsencode(tmp_path) + b"/n\xe9.png")
    words = (
        "predict",
        b"n\xe9.png",
        "--chain",
        CHAIN,
        "--metrics",
        "lost_lines",
        "--json",
        "--out",
        b"r\xe9",
    )
    code, out, _ = run(tmp_path, *words)
    told = json.loads(out.decode("utf-8"))
    assert code == 0 and os.path.isfile(told["files"]["result"])
    code, _, err = run(tmp_path, "predict", b"no\xe9.png", "--chain", CHAIN)
    assert code == 2 and err.decode("utf-8").startswith("scalesim: no\\udce9.png: there is no such file")


def test_what_libraries_say_stays_off_the_error_channel(tmp_path: Path) -> None:
    """A damaged LZW strip makes libtiff print, a warning raised inside NumPy makes Python print."""
    picture = Image.linear_gradient("L")
    picture.save(tmp_path / "a.tif", compression="tiff_lzw")
    data = bytearray((tmp_path / "a.tif").read_bytes())
    data[400:440] = bytes(40)
    (tmp_path / "a.tif").write_bytes(data)
    code, _, err = run(tmp_path, "predict", "a.tif", "--chain", CHAIN)
    assert code == 2 and err.startswith(b"scalesim: a.tif: ") and err.count(b"\n") == 1, err
    script = "import sys, warnings\nfrom scalesim.cli import main\n"
    script += "main._silence_libraries()\nwarnings.warn('noise')\n"
    script += "import logging\nlogging.getLogger('some.library').warning('noise')\n"
    path = os.pathsep.join(os.path.abspath(part) for part in sys.path if part)
    done = subprocess.run(
        [sys.executable, "-c", script],
        env={**os.environ, "PYTHONPATH": path},
        capture_output=True,
        timeout=60,
    )
    assert done.returncode == 0 and done.stderr == b"", done.stderr
