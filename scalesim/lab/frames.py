"""The frames a lab knows: drawn ones, those named when it was started, uploads, and arrivals in a watched
folder.

A page names a frame by its id and never by a path: nothing it sends is opened. An id is made of the
content, so that an upload that is sent again after a restart is the same frame.
"""

from __future__ import annotations

import hashlib
import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from scalesim.core.clip import Clip, still_clip
from scalesim.core.files import shown
from scalesim.core.limits import PICTURE_MEGABYTES
from scalesim.errors import ParameterError, ReadError
from scalesim.io.read import read
from scalesim.lab.traces import Traces

Kind = Literal["demo", "named", "upload", "watched"]

MOST_UPLOADS = 64
UPLOAD_MEGABYTES = PICTURE_MEGABYTES // 2
"""Of one file; a plain 16-bit picture of 36 megapixels and three channels is 216."""
MOST_HELD = 6
"""Frames kept decoded; a 4K one is 100 MB."""


@dataclass(frozen=True)
class Known:
    """A frame that may be looked at.

    Parameters:
        id : what the page calls it; name : for people and for folders
        load : reads it, in a mode or by its size
        path : of the file, None of a drawn frame
    """

    id: str
    name: str
    kind: Kind
    load: Callable[[str | None], Clip] = field(repr=False)
    path: Path | None = None


class Frames:
    """All frames of one lab; safe to use from several threads."""

    def __init__(self, store: Path) -> None:
        """Begin with the drawn frames; `store` is a folder for uploads that is the lab's own.

        `traces` are those of oscilloscopes, which are given in the same way and are no frames.
        """
        self._store, self._lock = store, threading.Lock()
        self.traces = Traces(store)
        self._known: dict[str, Known] = {each.id: each for each in _drawn()}
        self._held: OrderedDict[tuple[str, str | None], Clip] = OrderedDict()

    def add_file(self, path: Path, kind: Kind, mode: str | None = None) -> Known:
        """Know a file that the user named, or that arrived where they said.

        Parameters:  mode : that it is read in unless another is asked for; None guesses it
        Raises: ReadError, ParameterError for what is no picture or clip
        """
        clip = read(path, mode=mode)
        self._check_still(clip, path.name)
        digest = _digest(path.read_bytes())
        return self._keep(
            Known(digest, shown(path.name), kind, lambda other: read(path, mode=other or mode), path), clip
        )

    def add_upload(self, name: str, content: bytes) -> Known:
        """Know an uploaded picture.

        Raises: ReadError for what is no picture; ParameterError for too many, or too large a one
        """
        uploads = sum(each.kind == "upload" for each in self._known.values())
        digest = _digest(content)
        if digest in self._known:
            return self._known[digest]
        if uploads >= MOST_UPLOADS:
            raise ParameterError(f"the lab holds {uploads} uploads, as many as it takes; start it again")
        ending = Path(name).suffix.lower()
        path = self._store / (digest + (ending if ending.isascii() and ending[1:].isalnum() else ""))
        path.write_bytes(content)
        plain = shown(Path(name.replace("\\", "/")).name)[:80] or "upload"

        def load(mode: str | None) -> Clip:
            return _named(read(path, mode=mode), plain)

        try:
            clip = load(None)
            self._check_still(clip, plain)
        except Exception as error:  # whatever it is, the file must not stay; it is raised again
            path.unlink(missing_ok=True)
            if isinstance(error, ReadError):
                raise ReadError(str(error).replace(str(path), plain)) from None
            raise
        return self._keep(Known(digest, plain, "upload", load, path), clip)

    def known(self, id: str) -> Known:
        """Return what is known by an id; raise ParameterError for one that is not."""
        found = self._known.get(id) if isinstance(id, str) else None
        if found is None:
            raise ParameterError("this frame is not here any more: give its file again")
        return found

    def clip(self, id: str, mode: str | None = None) -> Clip:
        """Return a frame, decoded once as long as it is used."""
        known, key = self.known(id), (id, mode)
        with self._lock:
            if key in self._held:
                self._held.move_to_end(key)
                return self._held[key]
        clip = known.load(mode)
        self._hold(key, clip)
        return clip

    def described(self, known: Known) -> dict[str, Any]:
        """Return what the page is told of a frame; drawn ones are told without being drawn."""
        from scalesim.demo.bench import SCENES

        scene = next((each for each in SCENES if each.key == known.id), None)
        if scene is not None and (known.id, None) not in self._held:
            from scalesim.core.mode import mode_named

            mode = mode_named(scene.mode)
            size = {"mode": scene.mode, "lines": mode.frame_lines, "samples": mode.samples}
            return {"id": known.id, "name": known.name, "kind": known.kind, **size, "notes": [scene.about]}
        clip = self.clip(known.id)
        size = {"mode": clip.mode, "lines": clip.raster.frame_lines, "samples": clip.raster.samples}
        notes = [scene.about] if scene else list(clip.notes)
        return {"id": known.id, "name": known.name, "kind": known.kind, **size, "notes": notes}

    def all(self) -> list[Known]:
        """Return every frame, in the order they came, the drawn ones first."""
        return list(self._known.values())

    def _keep(self, known: Known, clip: Clip) -> Known:
        with self._lock:
            self._known.setdefault(known.id, known)
        self._hold((known.id, None), clip)
        return self._known[known.id]

    def _hold(self, key: tuple[str, str | None], clip: Clip) -> None:
        with self._lock:
            self._held[key] = clip
            while len(self._held) > MOST_HELD:
                self._held.popitem(last=False)

    @staticmethod
    def _check_still(clip: Clip, name: str) -> None:
        if not clip.is_still:
            raise ParameterError(f"{shown(name)}: is a clip; the lab looks at stills: give one picture of it")


def _drawn() -> list[Known]:
    from scalesim.demo.bench import SCENES

    def loader(key: str, mode: str) -> Callable[[str | None], Clip]:
        return lambda asked: _of_codes(next(s for s in SCENES if s.key == key).draw(), asked or mode, key)

    return [Known(scene.key, scene.title, "demo", loader(scene.key, scene.mode)) for scene in SCENES]


def _of_codes(codes: Any, mode: str, name: str) -> Clip:
    import numpy as np

    return still_clip(codes.astype(np.float32) / np.float32(255), mode=mode, name=f"{name}.png")


def _named(clip: Clip, name: str) -> Clip:
    from dataclasses import replace

    return replace(clip, name=name)


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()[:24]
