"""Write clips: 8-bit pictures, streamed one at a time into a file that appears only when it is whole.

Which kind, by the name's ending:

- ``.mp4`` H.264 4:2:0, for looking at: plays everywhere, but chroma is halved and detail is lossy;
- ``.mkv`` H.264 in R'G'B' with quantiser 0: exact. FFV1 is exact too, but on drawn frames that move 3
  samples a picture it took 4 to 9 times as long and 30 to 50 times the bytes;
- ``.apng``, ``.png`` and ``.webp``: exact, for pages that loop a short clip.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from fractions import Fraction
from itertools import chain
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from scalesim.core.files import shown
from scalesim.errors import ParameterError, ShapeError, WriteError
from scalesim.io.clips.encoder import KINDS, Encoder, Kind, kind_of
from scalesim.io.clips.ffmpeg import load_av, reason_of
from scalesim.io.output import patience

__all__ = ["KINDS", "ClipFile", "write_clip", "write_clips"]

FieldOrder = Literal["top", "bottom"]
MOST_RATIO = 2**31 - 1
"""Numerator and denominator of a rate, at most: FFmpeg keeps them in 32 bits."""
MOST_SAMPLES = 400_000_000
"""Of a whole WebP clip: its encoder holds every packed picture, about 1.3 bytes a sample, until the end."""


@dataclass(frozen=True)
class ClipFile:
    """A clip that was written.

    path: the file. frames: pictures in it (woven frames when interlaced). seconds: exact duration.
    width, height: samples and lines as stored. notes: sentences on what differs from the pictures given.
    """

    path: Path
    frames: int
    seconds: Fraction
    width: int
    height: int
    notes: tuple[str, ...]


def write_clip(
    path: str | os.PathLike[str],
    pictures: Iterable[NDArray[np.uint8]],
    rate: Fraction,
    *,
    field_order: FieldOrder | None = None,
    step: Callable[[], None] | None = None,
    before: tuple[NDArray[np.uint8], int] | None = None,
) -> ClipFile:
    """Write a clip; memory does not grow with its length, except for WebP, which has a limit.

    Parameters:
        path : ends in one of `KINDS`; an existing file is replaced when the new one is complete
        pictures : uint8 (lines, samples, 3) R'G'B', 0..255, all of one shape; woven frames with fields
        rate : of the pictures given, per second, exact (29.97 for the woven frames of 480i)
        field_order : which field of a woven frame is the earlier; None for progressive pictures
        step : called after each picture that was taken in
        before : a still in front, as large as the pictures, and for how many pictures' time it stands
    Raises: ParameterError for another ending, no pictures, a rate that is not positive, or fields in a
        kind that has none; ShapeError for pictures that do not fit; WriteError when the file cannot be
        written. Whatever happens, no half-written file is left.
    """
    return write_clips([path], pictures, rate, field_order=field_order, step=step, before=before)[0]


def write_clips(
    paths: Sequence[str | os.PathLike[str]],
    pictures: Iterable[NDArray[np.uint8]],
    rate: Fraction,
    *,
    field_order: FieldOrder | None = None,
    step: Callable[[], None] | None = None,
    before: tuple[NDArray[np.uint8], int] | None = None,
) -> list[ClipFile]:
    """Write the same clip to several files as `write_clip` does: each picture is made once; all or none."""
    places = [Path(path) for path in paths]
    kinds = [_checked(path, rate, field_order) for path in places]
    source = iter(pictures)
    first = next(source, None)
    if first is None:
        raise ParameterError(
            f"{', '.join(map(shown, places))}: there are 0 pictures; a clip takes at least 1"
        )
    _check_shape(first, first, 0, field_order)
    for path, kind in zip(places, kinds, strict=True):
        _check_size(path, kind, first.shape)
    with ExitStack() as stack:
        writers = []
        for path, kind in zip(places, kinds, strict=True):
            partial = stack.enter_context(partial_of(path))
            encoder = Encoder(partial, kind, first.shape[:2], Fraction(rate), field_order)
            writers.append(stack.enter_context(_opened(encoder, path)))
        for writer in writers:
            if before is not None:
                writer.hold(*before)
        for count, picture in enumerate(chain([first], source)):
            _check_shape(picture, first, count, None)
            for writer in writers:
                writer.push(picture)
            if step is not None:
                step()
        return [writer.finish() for writer in writers]


class _Writer:
    """An encoder whose errors name the file that is asked for."""

    def __init__(self, encoder: Encoder, path: Path) -> None:
        self._encoder, self._path = encoder, path
        self._held = self._count = 0

    def push(self, picture: NDArray[np.uint8]) -> None:
        """Write a picture."""
        check_room(self._path, picture.shape[0], picture.shape[1], self._count + 1)
        with as_write_error(self._path):
            self._encoder.push(picture)
        self._count += 1

    def hold(self, picture: NDArray[np.uint8], times: int) -> None:
        """Write a still for the time of some pictures: once, where memory grows with every picture."""
        flat = self._encoder.kind.flat
        with as_write_error(self._path):
            for _ in range(times if flat else 1):
                self._encoder.push(picture, 1 if flat else times)
        self._held = times

    def finish(self) -> ClipFile:
        """Write the end and return what was written."""
        with as_write_error(self._path):
            self._encoder.finish()
        made = self._encoder
        count = self._held + self._count
        return ClipFile(self._path, count, count / made.rate, made.width, made.height, tuple(made.notes))


@contextmanager
def _opened(encoder: Encoder, path: Path) -> Iterator[_Writer]:
    try:
        with as_write_error(path):
            encoder.open()
        yield _Writer(encoder, path)
    finally:
        # Closing flushes; after a failure it may fail again, and the first failure is the one to tell.
        with suppress(Exception):
            encoder.close()


def _checked(path: Path, rate: Fraction, field_order: str | None) -> Kind:
    kind = kind_of(path)
    if not rate > 0:
        raise ParameterError(f"{shown(path)}: rate is {rate}; it must be above 0 pictures per second")
    if max(Fraction(rate).as_integer_ratio()) > MOST_RATIO:
        raise ParameterError(
            f"{shown(path)}: rate is {rate}; both of its numbers must be at most "
            f"{MOST_RATIO}: give fewer digits"
        )
    if field_order not in (None, "top", "bottom"):
        raise ParameterError(f"field_order is {field_order!r}; it is 'top', 'bottom' or None (progressive)")
    if field_order and not kind.fields:
        raise ParameterError(
            f"{shown(path)}: {path.suffix} cannot say which field is the earlier; write .mp4 or .mkv"
        )
    return kind


def _check_shape(
    picture: NDArray[Any], first: NDArray[Any], index: int, field_order: FieldOrder | None
) -> None:
    dtype = getattr(picture, "dtype", type(picture).__name__)
    shape: tuple[int, ...] = getattr(picture, "shape", ())
    if dtype != np.uint8 or len(shape) != 3 or shape[2] != 3 or 0 in shape:
        raise ShapeError(
            f"picture {index}: is {dtype} {shape}; a clip takes uint8 (lines, samples, 3) codes 0..255"
        )
    if shape != first.shape:
        raise ShapeError(
            f"picture {index}: is {shape[1]}x{shape[0]}; all of a clip are {first.shape[1]}x"
            f"{first.shape[0]} as its first"
        )
    if field_order and shape[0] % 2:
        raise ShapeError(f"picture {index}: has {shape[0]} lines; a woven frame has an even number")


def _check_size(path: Path, kind: Kind, shape: tuple[int, ...]) -> None:
    """Raise ShapeError for pictures that a kind of clip has no numbers for."""
    if max(shape[:2]) > kind.most:
        raise ShapeError(
            f"{shown(path)}: pictures are {shape[1]}x{shape[0]}; {path.suffix} takes at most "
            f"{kind.most} samples and lines: write .apng, or smaller ones"
        )


def check_room(path: Path, lines: int, samples: int, count: int) -> None:
    """Raise ParameterError when a clip of so many pictures is more than its kind can be."""
    size = lines * samples
    if not kind_of(path).flat and count * size > MOST_SAMPLES and count > 1:
        raise ParameterError(
            f"{shown(path)}: {path.suffix} takes at most {max(MOST_SAMPLES // size, 1)} pictures of "
            f"{samples}x{lines}, as it is held in memory; write .apng, .mkv or .mp4, or less"
        )


@contextmanager
def partial_of(path: Path) -> Iterator[Path]:
    """Give a name beside `path` to write to; it becomes `path` at the end, or is removed."""
    partial = path.with_name(f"{path.stem}.partial{path.suffix}")
    if not path.parent.is_dir():
        raise WriteError(f"{shown(path)}: there is no folder {shown(path.parent)}; make it or choose another")
    if path.is_dir():
        raise WriteError(f"{shown(path)}: is a folder; choose another name for the clip")
    if partial.exists():
        raise WriteError(
            f"{shown(partial)}: is left from a run that was cut off, or another run is writing it; "
            "remove it or choose another name"
        )
    try:
        yield partial
        with as_write_error(path):
            patience.replace(partial, path)
    finally:
        with suppress(OSError):  # a part file that cannot go hides no error of the writing
            partial.unlink(missing_ok=True)


@contextmanager
def as_write_error(path: Path) -> Iterator[None]:
    """Raise what FFmpeg and the disk raise as the one error that names the file."""
    try:
        yield
    except (OSError, ValueError, RuntimeError, load_av().error.FFmpegError) as error:
        # FFmpeg's own errors are of all these kinds, those of its libraries of none but the last.
        raise WriteError(
            f"{shown(path)}: cannot be written ({reason_of(error)}); make room or choose another place"
        ) from None
