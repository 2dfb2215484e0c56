"""From a film's file to a stream of light with times."""

from __future__ import annotations

import os
from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.files import shown
from scalesim.core.photo import Film, FilmFrame
from scalesim.io.clips.facts import ClipFacts, look_through
from scalesim.io.clips.ffmpeg import frames_of, opened

_CURVES = {16: "pq", 18: "hlg"}
"""Transfer characteristics of Recommendation ITU-T H.273, table 3."""
_FULL = 2
"""FFmpeg's number of full range."""


def read_film(path: str | os.PathLike[str]) -> Film:
    """Return a film; it is decoded afresh whenever its frames are asked for, one at a time.

    Only luma is taken. Times are those of the file. Raises ReadError for what FFmpeg cannot decode.
    """
    name = shown(path)
    facts = look_through(path, name, limited=False)
    with opened(path, name) as (container, stream):
        first = next(frames_of(container, stream), None)
        curve = _CURVES.get(int(getattr(first, "color_trc", 0) or 0), "bt709")
        turned = int(getattr(first, "rotation", 0) or 0) % 360 // 90
    rows, columns = (facts.lines, facts.samples) if turned % 2 == 0 else (facts.samples, facts.lines)
    # only luma is looked at, turned as the file asks
    idle = ("left as stored", "colour matrix", "Chroma")
    notes = tuple(n for n in (*facts.notes, *facts.timing.notes) if not any(word in n for word in idle))
    return Film(
        lambda: _frames(path, name, facts, curve, turned),
        rows,
        columns,
        facts.timing.rate,
        os.path.basename(name),
        notes,
        facts.frames,
        curve,
    )


def _frames(path: Any, name: str, facts: ClipFacts, curve: str, turned: int) -> Iterator[FilmFrame]:
    begin: float | None = None
    with opened(path, name) as (container, stream):
        for count, frame in enumerate(frames_of(container, stream)):
            time = float(frame.time) if frame.time is not None else count / float(facts.timing.rate)
            begin = time if begin is None else begin
            yield FilmFrame(time - begin, np.rot90(_light(frame, curve), turned))


def _light(frame: Any, curve: str) -> NDArray[np.float32]:
    """Return relative light of a decoded frame's luma, by a table of its codes."""
    component, plane = frame.format.components[0], frame.planes[0]
    if component.bits > 16 or not frame.format.name.startswith(("yuv", "nv", "p010", "gray")):
        codes, bits, full = frame.to_ndarray(format="gray"), 8, True
    else:
        bits = component.bits if not frame.format.name.startswith("p010") else 16
        kind, size = (np.uint8, 1) if bits == 8 else (np.dtype("<u2"), 2)
        codes = np.frombuffer(plane, kind).reshape(frame.height, plane.line_size // size)[:, : frame.width]
        full = "yuvj" in frame.format.name or int(frame.color_range or 0) == _FULL
    low, span = (0, 2**bits - 1) if full else (16 << bits - 8, 219 << bits - 8)
    luma = (np.arange(2**bits) - low) / span
    table = film_light(luma.astype(np.float32), curve)
    return np.asarray(table[codes])


def film_light(luma: NDArray[np.float32], curve: str) -> NDArray[np.float32]:
    """Return relative light of a film's luma.

    Parameters:  luma : codes, 0 black and 1 white
        curve : "bt709" is V^2.4 of ITU-R BT.1886 with black at 0; "hlg" and "pq" are the inverse curves of
            ITU-R BT.2100-2, tables 5 and 4, to 0..1 of their own white
    """
    v = np.clip(luma, 0, 1)
    if curve == "hlg":
        a, b, c = 0.17883277, 0.28466892, 0.55991073
        return np.where(v <= 0.5, v * v / 3, (np.exp((v - c) / a) + b) / 12).astype(np.float32)
    if curve == "pq":
        m1, m2, c1, c2, c3 = 2610 / 16384, 2523 / 32, 3424 / 4096, 2413 / 128, 2392 / 128
        p = v ** (1 / m2)
        return np.asarray((np.maximum(p - c1, 0) / (c2 - c3 * p)) ** (1 / m1), dtype=np.float32)
    return np.asarray(v**2.4, dtype=np.float32)
