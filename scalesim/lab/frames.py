"""The frames a lab knows: drawn ones, those named when it was started, uploads, and arrivals in a watched
folder; clips too, for the jobs that take them.

A page names a frame by its id and never by a path: nothing it sends is opened. An id is made of the
content, so that an upload that is sent again after a restart is the same frame; with "@" and a mode behind it
is the same frame read in that mode. Uploads and arrivals are kept as files of the lab's own.
"""

from __future__ import annotations

import hashlib
import threading
from collections import OrderedDict, defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import Any, Literal

from scalesim.core.clip import Clip, still_clip
from scalesim.core.files import shown
from scalesim.core.limits import PICTURE_MEGABYTES
from scalesim.core.mode import MODES, mode_named
from scalesim.errors import ParameterError, ReadError
from scalesim.io.read import is_moving, read
from scalesim.lab.readings import Readings

Kind = Literal["demo", "named", "upload", "watched"]

MOST_UPLOADS = 64
UPLOAD_MEGABYTES = PICTURE_MEGABYTES // 2
"""Of a picture; a plain 16-bit one of 36 megapixels and three channels is 216."""
CLIP_MEGABYTES = 4096
"""Of a clip; a minute of 1080p60 packed without loss is about 7000, and a few seconds are enough."""
MOST_HELD = 6
"""Frames kept decoded; a 4K one is 100 MB."""


@dataclass(frozen=True)
class Known:
    """A frame that may be looked at, or a clip that a job may take.

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

        `readings` are given in the same way and are no frames.
        """
        self.store, self._lock = store, threading.Lock()
        self.readings = Readings(store)
        self._known: dict[str, Known] = {each.id: each for each in _drawn()}
        self._held: OrderedDict[tuple[str, str | None], Clip] = OrderedDict()
        self._reading: defaultdict[str, threading.Lock] = defaultdict(threading.Lock)

    def add_file(self, path: Path, kind: Kind, mode: str | None = None) -> Known:
        """Know a picture file that the user named.

        Parameters:  mode : that it is read in unless another is asked for; None guesses it
        Raises: ReadError, ParameterError for what is no picture
        """
        clip = read(path, mode=mode)
        name = shown(path.name)
        if not clip.is_still:
            raise ParameterError(f"{name}: is a clip; the lab looks at stills: give one picture of it")
        id = self._id(_digest(path), name, kind)
        return self._keep(Known(id, name, kind, lambda other: read(path, mode=other or mode), path), clip)

    def add_upload(self, name: str, content: bytes, kind: Kind = "upload") -> Known:
        """Know a picture by its content, such as what lay in a watched folder; see `add_stored`."""
        path = self.store / f"arrival-{threading.get_ident()}"
        path.write_bytes(content)
        return self.add_stored(name, path, kind)

    def add_stored(self, name: str, arrived: Path, kind: Kind = "upload") -> Known:
        """Know a picture or clip that was written into the store; it gets a name there made of its content.

        Raises: ReadError for what is neither; ParameterError for too many, or too large a one; nothing of
            it stays then
        """
        plain = shown(Path(name.replace("\\", "/")).name)[:80] or "upload"
        ending = Path(name).suffix.lower()
        digest = _digest(arrived)
        path = self.store / (digest + (ending if ending.isascii() and ending[1:].isalnum() else ""))
        id = self._id(digest, plain, kind)
        if id in self._known:
            arrived.unlink()
            return self._known[id]
        there = path.exists()
        arrived.replace(path)

        def load(mode: str | None) -> Clip:
            return replace(read(path, mode=mode), name=plain)

        try:
            self._check_room(kind, plain, path)
            clip = load(None)
        except Exception as error:  # whatever it is, the file must not stay; it is raised again
            if not there:
                path.unlink(missing_ok=True)
            if isinstance(error, ReadError):
                raise ReadError(str(error).replace(str(path), plain).replace(path.name, plain)) from None
            raise
        return self._keep(Known(id, plain, kind, load, path), clip)

    def _check_room(self, kind: Kind, name: str, path: Path) -> None:
        given = sum(each.kind == "upload" for each in self._known.values())
        if kind == "upload" and given >= MOST_UPLOADS:
            raise ParameterError(f"the lab holds {given} uploads, as many as it takes; start it again")
        if path.stat().st_size > UPLOAD_MEGABYTES * 10**6 and not is_moving(path):
            raise ParameterError(f"{name}: is over {UPLOAD_MEGABYTES} MB, more than the lab takes")

    def _id(self, digest: str, name: str, kind: Kind) -> str:
        """Return the id for a content: one of its own where another frame has the same content."""
        other = self._known.get(digest)
        if other is None or (other.name, other.kind) == (name, kind):
            return digest
        return hashlib.sha256(f"{kind} {name} {digest}".encode()).hexdigest()[:24]

    def known(self, id: str) -> Known:
        """Return what is known by an id; raise ParameterError for one that is not, or its mode."""
        base, _, mode = id.partition("@") if isinstance(id, str) else ("", "", "")
        found = self._known.get(base)
        if found is None:
            raise ParameterError("this frame is not here any more: give its file again")
        if not mode:
            return found
        mode_named(mode)
        return replace(found, id=id, load=lambda other: found.load(other or mode))

    def clip(self, id: str, mode: str | None = None) -> Clip:
        """Return a frame, decoded once as long as it is used."""
        known, key = self.known(id), (id, mode)
        with self._lock:
            reading = self._reading[id]
        with reading:  # the page asks for a frame's picture, its raster and its size at once
            with self._lock:
                if key in self._held:
                    self._held.move_to_end(key)
                    return self._held[key]
            clip = known.load(mode)
            self._hold(key, clip)
            return clip

    def still(self, id: str) -> Clip:
        """Return a frame; raise ParameterError for a clip that moves."""
        clip = self.clip(id)
        if not clip.is_still:
            raise ParameterError(f"{clip.name}: is a clip; the bench takes stills: give one picture of it")
        return clip

    def described(self, known: Known) -> dict[str, Any]:
        """Return what the page is told of a frame; drawn ones are told without being drawn."""
        from scalesim.demo.bench import SCENES

        scene = next((each for each in SCENES if each.key == known.id), None)
        if scene is not None and (known.id, None) not in self._held:
            mode = mode_named(scene.mode)
            size = {"mode": scene.mode, "lines": mode.frame_lines, "samples": mode.samples}
            notes, still = [scene.about], True
        else:
            clip = self.clip(known.id)
            size = {"mode": clip.mode, "lines": clip.raster.frame_lines, "samples": clip.raster.samples}
            notes, still = [scene.about] if scene else list(clip.notes), clip.is_still
        modes = _modes(size["lines"], size["samples"])
        return {
            "id": known.id, "name": known.name, "kind": known.kind, **size, "notes": notes, "still": still,
            "modes": modes,
        }  # fmt: skip

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


def _modes(lines: Any, samples: Any) -> list[str]:
    """Return the modes whose frames have this size."""
    return [name for name, mode in MODES.items() if (mode.frame_lines, mode.samples) == (lines, samples)]


def _drawn() -> list[Known]:
    from scalesim.demo.bench import SCENES

    def loader(key: str, mode: str) -> Callable[[str | None], Clip]:
        return lambda asked: _of_codes(_codes(key), asked or mode, key)

    return [Known(scene.key, scene.title, "demo", loader(scene.key, scene.mode)) for scene in SCENES]


@cache
def _codes(key: str) -> Any:
    """Return a drawn frame's codes: some take seconds to draw, and all of them together have some 25 MB."""
    from scalesim.demo.bench import SCENES

    return next(scene for scene in SCENES if scene.key == key).draw()


def _of_codes(codes: Any, mode: str, name: str) -> Clip:
    import numpy as np

    return still_clip(codes.astype(np.float32) / np.float32(255), mode=mode, name=f"{name}.png")


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()[:24]
