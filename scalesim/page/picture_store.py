"""Pictures of a page: all inside it when they are light enough, else files beside it.

A page opened as a file may show picture files beside it but not read their values. So for the viewer
every picture file gets a small script beside it that hands it over when it is asked for.
"""

from __future__ import annotations

import base64
import io
import json
import shutil
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import WriteError

INLINE_LIMIT = 20_000_000
"""Bytes of picture data, as text, that one page file may hold."""

Source = str | dict[str, str]


def png(codes: NDArray) -> bytes:
    """Return (lines, samples, 3) uint8 as a PNG; equal pictures give equal bytes."""
    from PIL import Image

    packed = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(codes)).save(packed, format="PNG", compress_level=6)
    return packed.getvalue()


class PictureStore:
    """Pictures by name, on disk until it is known how many there are.

    Parameters:  folder : of the page; limit : bytes of inlined picture data
    """

    def __init__(self, folder: Path, limit: int = INLINE_LIMIT) -> None:
        self._folder, self._limit = folder / "pictures", limit
        self._sizes: dict[str, int] = {}

    def add(self, name: str, data: bytes) -> str:
        """Keep a PNG under a name of its own, and return that."""
        try:
            self._folder.mkdir(exist_ok=True)
            (self._folder / f"{name}.png").write_bytes(data)
        except OSError as error:
            raise WriteError(
                f"{self._folder.name}/{name}.png: cannot be written ({error.strerror}); choose another folder"
            ) from None
        self._sizes[name] = len(data)
        return name

    @property
    def inline(self) -> bool:
        """True when all pictures go into the page."""
        return sum(-(-size // 3) * 4 for size in self._sizes.values()) <= self._limit

    def image(self, name: str) -> str:
        """Return what an `img` shows: a data URI, or the file's place."""
        return self._uri(name) if self.inline else f"pictures/{name}.png"

    def source(self, name: str) -> Source:
        """Return what the viewer loads: a data URI, or a script that is written now."""
        if self.inline:
            return self._uri(name)
        script = f"registerPicture({json.dumps(name)}, {json.dumps(self._uri(name))});\n"
        (self._folder / f"{name}.js").write_text(script, encoding="utf-8")
        return {"script": f"pictures/{name}.js", "key": name}

    def _uri(self, name: str) -> str:
        data = (self._folder / f"{name}.png").read_bytes()
        return "data:image/png;base64," + base64.b64encode(data).decode()

    def close(self) -> None:
        """Remove the files of pictures that went into the page."""
        if self.inline and self._sizes:
            shutil.rmtree(self._folder)
