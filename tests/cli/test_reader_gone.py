"""A reader that stops reading (`… | head`) is no error of the command."""

from __future__ import annotations

import errno
import os
import subprocess
import sys

import pytest

from scalesim.cli.main import _reader_went_away


def test_a_document_for_a_reader_that_went_away() -> None:
    """The pipe is closed before a word is written: exit code 0 and not a word."""
    ready, tell = os.pipe()
    os.close(ready)
    done = subprocess.run(
        [sys.executable, "-m", "scalesim", "schema", "chain"], stdout=tell, stderr=subprocess.PIPE, timeout=60
    )
    os.close(tell)
    assert (done.returncode, done.stderr) == (0, b"")


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
