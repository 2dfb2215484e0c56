"""Pictures of a page: files beside it, and inside it as far as they are light enough.

All go into the page when all fit; else those that the page itself shows, close looks above all, as far as
they fit, and what only the viewer shows lies beside it.

A page opened as a file may show picture files beside it but not read their values. So for the viewer
every picture that is not inside the page gets a small script beside it that hands it over when asked for.
"""

from __future__ import annotations

import base64
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from numpy.typing import NDArray

from scalesim.core.files import shown
from scalesim.errors import WriteError
from scalesim.io.pictures.write import write_png

INLINE_LIMIT = 7_000_000
"""Bytes of pictures, as text, that a page may hold; with its words and plots it stays below 8 MB."""
ONE_FILE = 10**12
"""The limit of a page that is to hold everything."""

INLINE_FOLDER = "pictures/"
"""Pictures whose names begin so may go into the page; others are results of their own, and stay beside it."""

Source = str | dict[str, str]


class PictureStore:
    """Pictures by name, on disk as they come.

    Parameters:  folder : of the page; limit : bytes of picture data, as text, that the page may hold
    """

    def __init__(self, folder: Path, limit: int = INLINE_LIMIT) -> None:
        self._folder, self._limit = folder, limit
        self._sizes: dict[str, int] = {}
        self._shown: dict[str, bool] = {}
        self._taken = 0

    def add(self, name: str, values: NDArray[Any], palette: Sequence[tuple[int, int, int]] = ()) -> None:
        """Write a picture as `<name>.png`, once."""
        if name in self._sizes:
            return
        path = self._folder / f"{name}.png"
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise WriteError(
                f"{shown(path.parent)}: cannot be made ({error.strerror}); make room or choose another --out"
            ) from None
        self._sizes[name] = write_png(path, values, palette)

    @property
    def inline(self) -> bool:
        """True when all pictures of the inline folder go into the page."""
        sizes = (_as_text(size) for name, size in self._sizes.items() if name.startswith(INLINE_FOLDER))
        return sum(sizes) <= self._limit

    def image(self, name: str) -> str:
        """Return what an `img` shows: a data URI as long as there is room for it, or the file's place."""
        if name not in self._shown:
            room = self._taken + _as_text(self._sizes[name]) <= self._limit
            self._shown[name] = name.startswith(INLINE_FOLDER) and (self.inline or room)
            self._taken += _as_text(self._sizes[name]) if self._shown[name] else 0
        return self._uri(name) if self._shown[name] else f"{name}.png"

    def source(self, name: str) -> Source:
        """Return what the viewer loads: a data URI, or a script that is written now."""
        if name.startswith(INLINE_FOLDER) and self.inline:
            return self._uri(name)
        key = name.removeprefix(INLINE_FOLDER)
        script = f"registerPicture({json.dumps(key)}, {json.dumps(self._uri(name))});\n"
        (self._folder / f"{name}.js").write_text(script, encoding="utf-8", newline="\n")
        return {"script": f"{name}.js", "key": key}

    def _uri(self, name: str) -> str:
        data = (self._folder / f"{name}.png").read_bytes()
        return "data:image/png;base64," + base64.b64encode(data).decode()


def _as_text(size: int) -> int:
    """Return how many letters so many bytes take in base64."""
    return -(-size // 3) * 4
