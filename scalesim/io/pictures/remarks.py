"""What a decoder written in C prints on the error channel: kept off the terminal, and read.

It says there, and nowhere else, that it filled up what was damaged.
"""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from threading import Lock

_CHANNEL = 2
_ALONE = Lock()
"""The channel is the whole process's: one at a time may turn it aside."""


@dataclass
class Remarks:
    """text: what was printed, known when the block is left."""

    text: str = ""


@contextmanager
def library_remarks() -> Iterator[Remarks]:
    """Turn the error channel aside while a library works; give what was printed on it."""
    remarks = Remarks()
    with _ALONE, tempfile.TemporaryFile() as aside:
        if sys.stderr is not None:
            sys.stderr.flush()
        try:
            kept = os.dup(_CHANNEL)
        except OSError:  # a program without the channel
            yield remarks
            return
        try:
            os.dup2(aside.fileno(), _CHANNEL)
            yield remarks
        finally:
            os.dup2(kept, _CHANNEL)
            os.close(kept)
            aside.seek(0)
            remarks.text = aside.read(100_000).decode("utf-8", "replace")
