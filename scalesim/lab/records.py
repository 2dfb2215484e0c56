"""What the page is sent while a computation runs: records one after another in one answer.

A record is the length of its JSON (4 bytes, the lowest first), the JSON, and as many bytes more as its
`bytes` says: a picture as BMP, which needs no packing and which browsers decode off their main thread.
"""

from __future__ import annotations

import io
import json
from typing import Any

from numpy.typing import NDArray


def record(told: dict[str, Any], more: bytes = b"") -> bytes:
    """Return a record; no NaN may be in it."""
    if more:
        told = {**told, "bytes": len(more)}
    text = json.dumps(told, ensure_ascii=False, allow_nan=False, default=float).encode("utf-8")
    return len(text).to_bytes(4, "little") + text + more


def bmp(codes: NDArray) -> bytes:
    """Return (lines, samples, 3) uint8 codes as an uncompressed BMP."""
    from PIL import Image

    packed = io.BytesIO()
    Image.fromarray(codes).save(packed, "BMP")
    return packed.getvalue()


def failed(error: Exception) -> dict[str, Any]:
    """Return what the page is told of an error of ours: one line, and the place in a chain it is about."""
    from scalesim.lab.editor import place_of
    from scalesim.texts import plain, shortened

    text = plain(shortened(" ".join(str(error).split())))
    return {"error": text, "place": place_of(text)}
