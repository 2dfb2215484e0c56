"""A reader that stops reading (`… | head`) is no error of the command."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest

from scalesim.cli.main import _reader_went_away


@pytest.mark.parametrize("unbuffered", ["", "1"])
@pytest.mark.parametrize(
    "words", [["schema", "chain"], ["--help"], ["chart", "levels", "--mode", "240p60", "--seconds", "0.1"]]
)
def test_a_reader_that_went_away(tmp_path: Path, words: list[str], unbuffered: str) -> None:
    """The pipe is closed before a word is written, at once or at the end: exit code 0 and not a word."""
    path = os.pathsep.join(os.path.abspath(part) for part in sys.path if part)
    ready, tell = os.pipe()
    os.close(ready)
    done = subprocess.run(
        [sys.executable, "-m", "scalesim", *words],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": path, "PYTHONUNBUFFERED": unbuffered},
        stdout=tell,
        stderr=subprocess.PIPE,
        timeout=60,
    )
    os.close(tell)
    assert done.returncode == 0, done.stderr
    assert not any(word in done.stderr for word in (b"scalesim: ", b"Exception", b"Error"))


@pytest.mark.parametrize(
    ("error", "system", "gone"),
    [
        (BrokenPipeError(errno.EPIPE, "Broken pipe"), "posix", True),
        (OSError(errno.EINVAL, "Invalid argument"), "nt", True),
        (OSError(errno.EINVAL, "Invalid argument"), "posix", False),
        (OSError(errno.EINVAL, "Invalid argument", "out/a*b.png"), "nt", False),
        (OSError(errno.ENOSPC, "No space left on device"), "nt", False),
    ],
)
def test_how_systems_say_it(error: OSError, system: str, gone: bool) -> None:
    """On Windows the C library has EINVAL for it (bpo-35754 of Python); a bad name of a file has one."""
    assert _reader_went_away(error, system) is gone
