"""Write grey clips from their luma codes alone: no colour is converted, so it is several times faster.

What is given is what is stored: codes of limited range (black 16, white 235), chroma at its middle.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.files import shown
from scalesim.errors import ParameterError
from scalesim.io.clips.encoder import Encoder, kind_of
from scalesim.io.clips.write import ClipFile, FieldOrder, as_write_error, partial_of

_NEUTRAL = 128
_OPTIONS = {
    ".mkv": {"qp": "0", "preset": "ultrafast", "g": "60"},
    ".mp4": {"crf": "12", "preset": "ultrafast", "g": "60"},
}
"""Exact, and for players that take ordinary H.264 only."""


def write_grey(
    path: str | os.PathLike[str],
    pictures: Iterable[NDArray[np.uint8]],
    rate: Fraction,
    *,
    field_order: FieldOrder | None = None,
    step: Callable[[], None] | None = None,
) -> ClipFile:
    """Write a clip of luma codes; memory does not grow with its length.

    Parameters:
        path : ends in .mkv (exact) or .mp4; an existing file is replaced when the new one is complete
        pictures : (lines, samples) uint8, even numbers of both, all of one shape; woven frames with fields
        rate, field_order, step : as of `write_clip`
    Raises: ParameterError for another ending or no pictures; WriteError; nothing half-written is left
    """
    path = Path(path)
    if path.suffix.lower() not in _OPTIONS:
        raise ParameterError(f"{shown(path)}: a clip of luma is written as {' or '.join(_OPTIONS)}")
    source = iter(pictures)
    first = next(source, None)
    if first is None:
        raise ParameterError(f"{shown(path)}: there are 0 pictures; a clip takes at least 1")
    with partial_of(path) as partial, as_write_error(path):
        encoder = _GreyEncoder(partial, first.shape, Fraction(rate), field_order)
        try:
            encoder.open()
            encoder.push(first)
            count = 1
            for picture in source:
                _say(step)
                encoder.push(picture)
                count += 1
            _say(step)
            encoder.finish()
        finally:
            # Closing flushes; after a failure it may fail again, and the first failure is the one to tell.
            with suppress(Exception):
                encoder.close()
    return ClipFile(path, count, count / Fraction(rate), encoder.width, encoder.height, tuple(encoder.notes))


def _say(step: Callable[[], None] | None) -> None:
    if step is not None:
        step()


class _GreyEncoder(Encoder):
    """Takes luma codes instead of R'G'B'."""

    def __init__(
        self, path: Path, shape: tuple[int, ...], rate: Fraction, field_order: FieldOrder | None
    ) -> None:
        kind = replace(
            kind_of(path), codec="libx264", pixels="yuv420p", options=_OPTIONS[path.suffix.lower()], note=""
        )
        super().__init__(path, kind, (shape[0], shape[1]), rate, field_order)
        self._chroma = np.full((self.height // 2, self.width // 2), _NEUTRAL, np.uint8).tobytes()

    def push(self, picture: NDArray[np.uint8], times: int = 1) -> None:
        """Encode one picture, uint8 (lines, samples), that stands for the time of so many."""
        below, right = self.height - self.lines, self.width - self.samples
        if below or right:
            picture = np.pad(picture, ((0, below), (0, right)), mode="edge")
        frame = self._av.VideoFrame(self.width, self.height, "yuv420p")
        _fill(frame.planes[0], picture)
        for plane in frame.planes[1:]:
            _fill(plane, np.frombuffer(self._chroma, np.uint8).reshape(self.height // 2, self.width // 2))
        frame.pts, frame.time_base = round(self._count / self.rate / self.tick), self.tick
        self._graph.push(frame)
        self._mux(self._graph.pull())
        self._count += times

    def _make_graph(self, av: Any) -> Any:
        """Only the fields are marked."""
        graph = av.filter.Graph()
        graph.threads = 1
        source = graph.add_buffer(
            width=self.width, height=self.height, format=av.VideoFormat("yuv420p"), time_base=self.tick
        )
        mark = graph.add("setfield", {None: "prog", "top": "tff", "bottom": "bff"}[self.field_order])
        sink = graph.add("buffersink")
        source.link_to(mark)
        mark.link_to(sink)
        graph.configure()
        return graph


def _fill(plane: Any, values: NDArray[np.uint8]) -> None:
    rows = np.frombuffer(plane, np.uint8).reshape(-1, plane.line_size)
    rows[: values.shape[0], : values.shape[1]] = values
