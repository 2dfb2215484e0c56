"""From a file to a trace, by what the file holds."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from scalesim.core.files import check_file, shown
from scalesim.core.limits import TRACE_GIGABYTES
from scalesim.core.trace import Trace
from scalesim.errors import ReadError
from scalesim.io.traces.arrays import read_numpy, read_wav
from scalesim.io.traces.text import PART_BYTES as PART_BYTES
from scalesim.io.traces.text import read_text_trace

Advance = Callable[[int], None]
"""Called with the bytes that were read since the last call."""


def read_trace(path: str | Path, advance: Advance = lambda _: None) -> Trace:
    """Return the trace of a file: text in columns, NumPy (.npy, .npz), or WAV.

    Parameters:  advance : called as a long text is read
    Raises: ReadError, one line, with what to change
    """
    check_file(path, "trace", 1000 * TRACE_GIGABYTES, too_large="record less, or export every second sample")
    try:
        with open(path, "rb") as file:
            head = file.read(64)
        if head.startswith((b"RIFF", b"RIFX")):
            return read_wav(Path(path))
        if head.startswith((b"\x93NUMPY", b"PK\x03\x04")):
            return read_numpy(Path(path))
        return read_text_trace(Path(path), advance)
    except ReadError:
        raise
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise ReadError(f"{shown(path)}: cannot be read ({reason}): check the permissions") from None
