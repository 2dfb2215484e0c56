"""Footage for a study: which frames are taken out of clips and pictures, and how each is read."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from scalesim.core.clip import Clip
from scalesim.core.files import shown
from scalesim.errors import ParameterError, ReadError, ScalesimError
from scalesim.io.clips.cuts import scene_middles
from scalesim.io.clips.index import index_clip
from scalesim.io.clips.sequence import is_sequence
from scalesim.io.clips.stills import ClipStills
from scalesim.io.read import is_moving, read
from scalesim.sampled import Footage, Frame, WholeFrames, step_of

SCENES = "scene"
"""How `every` asks for the middle of every scene."""

_SAMPLES, _SAMPLE_BYTES = 64, 2**16
Span = tuple[Fraction, Fraction | None]
"""Seconds from and to; None for the end."""


@dataclass(frozen=True)
class Reading:
    """How files are read, see `scalesim.io.read.read`."""

    mode: str | None = None
    limited: bool = False
    trim: Any = None
    native: Any = None

    @property
    def keys(self) -> dict[str, Any]:
        """Its keywords."""
        return {"mode": self.mode, "limited": self.limited, "trim": self.trim, "native": self.native}

    @property
    def framed(self) -> bool:
        """Whether something is taken off."""
        return self.trim is not None or self.native is not None


@dataclass(frozen=True)
class FileStills:
    """Frames of a picture, or of a clip that is read from its first frame on."""

    path: str
    reading: Reading
    numbers: tuple[int, ...]

    def stills(self) -> Iterator[Frame]:
        """Yield every frame by its number, as a still clip, or why it cannot be had."""
        try:
            clip = read(self.path, **self.reading.keys)
            if clip.is_still:
                yield from ((number, clip) for number in self.numbers)
                return
            frames = WholeFrames(clip)
        except ScalesimError as error:
            yield from ((number, error) for number in self.numbers)
            return
        for number in self.numbers:
            found: Clip | ScalesimError
            try:
                found = frames.still(number)
            except ScalesimError as error:
                found = error
            yield number, found


def footage(
    path: str | os.PathLike[str],
    *,
    every: str | None = None,
    spans: Sequence[Span] = (),
    name: str = "",
    settings: dict[str, Any] | None = None,
    kind: str = "",
    mode: str | None = None,
    limited: bool = False,
    trim: Any = None,
    native: Any = None,
) -> Footage:
    """Return a picture or a clip, with the frames that are taken of it, for `compare`.

    Parameters:
        every : time from frame to frame ("1s"), their number ("30"), or "scene" for the middle of every
            scene; None takes the first of every span
        spans : (from, to) in seconds, to None for the end; () is the whole clip
        name, settings, kind : for tables, see `Footage`; the others : see `scalesim.io.read.read`
    Raises: ReadError, ParameterError; what is damaged in a clip is told, and does not stop it
    """
    place, reading = os.fspath(path), Reading(mode, limited, trim, native)
    name = name or shown(Path(place).name)
    told: dict[str, Any] = {"settings": settings or {}, "kind": kind}
    mark = f"{_digest(place)} {reading}"
    if not is_moving(place):
        return Footage(name, mark, (0,), None, _part(place, reading), **told)
    told["kind"] = kind or name
    if not is_sequence(place) and not reading.framed:
        index = index_clip(place, mode=mode, limited=limited)
        frames, notes = _frames(place, index.frames, index.rate, every, spans, name)
        return Footage(
            name,
            mark,
            frames,
            index.rate,
            lambda numbers: ClipStills.of(place, index, numbers),
            index.key_before,
            notes=notes,
            damage=index.damage,
            **told,
        )
    clip = read(place, **reading.keys)
    if clip.is_still:
        return Footage(name, mark, (0,), None, _part(place, reading), **told)
    period = clip.raster.period
    count = (sum(1 for _ in clip.pictures()) if clip.length is None else clip.length) // period
    rate = clip.raster.rate / period
    frames, notes = _frames(place, count, rate, every, spans, name)
    return Footage(name, mark, frames, rate, _part(place, reading), whole=True, notes=notes, **told)


def _part(place: str, reading: Reading) -> Any:
    return lambda numbers: FileStills(place, reading, tuple(numbers))


def _frames(
    place: str, count: int, rate: Fraction, every: str | None, spans: Sequence[Span], name: str
) -> tuple[Sequence[int], tuple[str, ...]]:
    """Return which frames are taken, and what is said of it."""
    if not count:
        raise ParameterError(f"{name}: has no whole frame; export it again")
    taken = [_span(span, count, rate, name) for span in spans] or [range(count)]
    if every == SCENES:
        middles = scene_middles(place, count)
        return sorted({k for k in middles if any(k in span for span in taken)} or {taken[0][0]}), ()
    step = step_of(every, rate)
    if step is None:
        said = "is a clip: its first whole frame is taken; --every 1s takes one each second."
        return sorted({span[0] for span in taken}), () if spans else (f"{name} {said}",)
    if len(taken) == 1:
        return taken[0][::step], ()
    return sorted({k for span in taken for k in span[::step]}), ()


def _span(span: Span, count: int, rate: Fraction, name: str) -> range:
    first = -(-span[0] * rate // 1)
    last = count if span[1] is None else min(count, -(-span[1] * rate // 1))
    if first >= last:
        to = "its end" if span[1] is None else f"{float(span[1]):g} s"
        raise ParameterError(
            f"{name}: from {float(span[0]):g} s to {to} holds no frame; it has {float(count / rate):.2f} s"
        )
    return range(int(first), int(last))


def _digest(place: str) -> str:
    """Return what tells a file's content from another's: of its size and of samples over its whole length."""
    found = hashlib.sha256()
    path = Path(place)
    try:
        if not path.is_file():  # several files
            told = sorted((p.name, p.stat().st_size, p.stat().st_mtime_ns) for p in path.parent.iterdir())
            found.update(repr((path.name, told)).encode())
            return found.hexdigest()
        size = path.stat().st_size
        found.update(str(size).encode())
        with path.open("rb") as file:
            for k in range(_SAMPLES):
                file.seek(max(0, (size - _SAMPLE_BYTES) * k // (_SAMPLES - 1)))
                found.update(file.read(_SAMPLE_BYTES))
                if size <= _SAMPLE_BYTES:
                    break
    except OSError as error:
        raise ReadError(f"{shown(place)}: cannot be read ({error.strerror})") from None
    return found.hexdigest()
