"""From a film's file to a stream of light with times."""

from __future__ import annotations

import os
from collections.abc import Iterator
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.files import shown
from scalesim.core.film_curves import Curve, curve_of, light_table
from scalesim.core.photo import Film, FilmFrame
from scalesim.io.clips.facts import ClipFacts, look_through
from scalesim.io.clips.ffmpeg import frames_of, opened

_FULL = 2
"""FFmpeg's number of full range."""

UNEVEN = "Its pictures do not come evenly: each was taken at the time that the file gives it."


def read_film(path: str | os.PathLike[str]) -> Film:
    """Return a film; it is decoded afresh whenever its frames are asked for, one at a time.

    Only luma is taken. Times are those of the file. Raises ReadError for what FFmpeg cannot decode.
    """
    name = shown(path)
    facts = look_through(path, name, limited=False)
    with opened(path, name) as (container, stream):
        first = next(frames_of(container, stream), None)
        curve = curve_of(int(getattr(first, "color_trc", 0) or 0))
        turned = int(getattr(first, "rotation", 0) or 0) % 360 // 90
    rows, columns = (facts.lines, facts.samples) if turned % 2 == 0 else (facts.samples, facts.lines)
    # only luma is looked at, turned as the file asks, and its curve is undone
    idle = ("left as stored", "colour matrix", "Chroma", "not converted")
    timing = facts.timing.notes if facts.timing.even else (UNEVEN,)
    notes = tuple(n for n in (*facts.notes, *timing) if not any(word in n for word in idle))
    return Film(
        lambda: _frames(path, name, facts, curve, turned),
        rows,
        columns,
        facts.timing.rate,
        os.path.basename(name),
        notes,
        facts.frames,
        curve,
        turned,
    )


def _frames(path: Any, name: str, facts: ClipFacts, curve: Curve, turned: int) -> Iterator[FilmFrame]:
    begin: float | None = None
    tables: dict[tuple[int, bool], tuple[NDArray[np.float32], NDArray[np.float32]]] = {}
    with opened(path, name) as (container, stream):
        for count, frame in enumerate(frames_of(container, stream)):
            time = float(frame.time) if frame.time is not None else count / float(facts.timing.rate)
            begin = time if begin is None else begin
            codes, bits, full = _luma(frame)
            if (bits, full) not in tables:
                low, span = (0, 2**bits - 1) if full else (16 << bits - 8, 219 << bits - 8)
                tables[bits, full] = (
                    light_table(curve.shown, low, span, 2**bits),
                    light_table(curve.light, low, span, 2**bits),
                )
            upright = np.rot90(codes, turned)
            shown, scene = tables[bits, full]
            yield FilmFrame(time - begin, shown.take(upright), partial(_every, scene, upright))


def _every(table: NDArray[np.float32], codes: NDArray, step: int) -> NDArray[np.float32]:
    return table.take(codes[::step, ::step])


def _luma(frame: Any) -> tuple[NDArray, int, bool]:
    """Return the codes of a decoded frame's luma, their bits, and whether black is 0 and white the last."""
    component, plane = frame.format.components[0], frame.planes[0]
    if component.bits > 16 or not frame.format.name.startswith(("yuv", "nv", "p010", "gray")):
        return frame.to_ndarray(format="gray"), 8, True
    bits = component.bits if not frame.format.name.startswith("p010") else 16
    kind, size = (np.uint8, 1) if bits == 8 else (np.dtype("<u2"), 2)
    codes = np.frombuffer(plane, kind).reshape(frame.height, plane.line_size // size)[:, : frame.width]
    return codes, bits, "yuvj" in frame.format.name or int(frame.color_range or 0) == _FULL
