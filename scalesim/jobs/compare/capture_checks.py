"""What a capture must be before it is scored, and what about it is to be told."""

from __future__ import annotations

from math import radians, tan

import numpy as np
from numpy.typing import NDArray

from scalesim.core.encoding import luma
from scalesim.core.framing import repeats
from scalesim.core.raster import Raster
from scalesim.errors import NotIdentifiable
from scalesim.signal.registration.register import Registration
from scalesim.signal.rescaled import traces_of_rescaling

MOST_LINES = 625
"""More lines than any 15 kHz signal has, blanking included (ITU-R BT.1700: 525 and 625 lines a frame)."""
MOST_OF_A_FIELD = 312
"""Whole lines of the longest field (ITU-R BT.1700: 312.5), blanking included."""
_NATIVE = (240, 243, 288, 480, 486, 576)
"""Lines that boxes give: when some repeat there, the picture that was sent may say so itself."""

_SAME_SCALE = 0.005
_TILTED = 0.5
_FLAT = 1.0 / 255
_NEAR = (-2, -1, -0.5, 0, 0.5, 1, 2)
"""Of a place of a capture, in its lines and samples: what it may hold of the source lies within."""


def check_enlarged(label: str, frame: NDArray, *, woven: bool = True) -> None:
    """Refuse a capture that was enlarged: its lines would be counted for the box's.

    Of 240, 480, 576 lines and their like none is refused: fields of one content repeat each line, and so
    may large art.

    Parameters:  woven : it can hold two fields, so that more lines than one field has are those of two
    Raises: NotIdentifiable naming the remedy
    """
    lines = frame.shape[0]
    times = repeats(frame)
    if times > 1 and lines not in _NATIVE:
        raise NotIdentifiable(
            f"{label}: its {lines} lines are {lines // times}, each {times} times: it was enlarged; give "
            f"--native auto (or --native {lines // times}), or capture at its own size"
        )
    if woven and MOST_OF_A_FIELD < lines <= MOST_LINES and lines not in _NATIVE:
        raise NotIdentifiable(
            f"{label}: has {lines} lines; a 15 kHz signal shows {MOST_OF_A_FIELD} in a field at most, and "
            "two fields are captured as 480, 486 or 576: it was enlarged or cut, or has a border; capture at "
            "its own size, or take a border off with --trim"
        )
    if lines > MOST_LINES:
        raise NotIdentifiable(
            f"{label}: has {lines} lines, and a 15 kHz signal has {MOST_LINES} at most: it was enlarged or "
            "has a border; give --trim and --native, or capture at its own size"
        )


def enlarged_notes(label: str, frame: NDArray) -> tuple[str, ...]:
    """Return that the lines of a capture look interpolated, () where they do not.

    It is told and not refused: a box that makes 480 lines of 720 may leave the trace of an enlargement by 2.
    """
    found = [trace for trace in traces_of_rescaling(np.asarray(frame, np.float32)) if trace.along == "lines"]
    return tuple(
        f"{label}: its lines look interpolated, as by an enlargement of about {trace.scales[0]:.2f} times. "
        "If a capture program did that, all that is measured down the picture is of its lines and not of the "
        "box's: capture at the box's own size. A box that scales may leave this, too."
        for trace in found
    )


def geometry_notes(label: str, found: Registration, output: Raster, source: Raster) -> tuple[str, ...]:
    """Return what is odd about where a capture lies: smaller or larger than its raster, or tilted."""
    notes = []
    lines = output.frame_lines if output.period == 2 else output.lines
    whole = source.frame_lines / lines
    size = whole / abs(found.lines.scale)
    if abs(size - 1) > _SAME_SCALE:
        border = " or added a border (--trim auto takes that off)" if size < 1 else ""
        notes.append(
            f"{label}: the frame is {100 * size:.1f} % as tall as the capture: its box sized or cut it, "
            f"or a capture program scaled it{border}."
        )
    across = abs(tan(radians(found.rotation_deg))) * output.samples
    if across > _TILTED:
        notes.append(
            f"{label}: is tilted by about {across:.1f} lines from left to right, which splits outlines that "
            "the box did not split; set the capture straight."
        )
    return tuple(notes)


def flat_noise(frame: NDArray, source: NDArray, found: Registration) -> float | None:
    """Return the noise of a capture where the frame that was sent is flat, as 0..1; None without such places.

    The spread of each value about the mean of its 3 x 3 neighbours, by the median (a few places that are not
    flat after all do not count), where the source changes by less than one code of 255 within two of the
    capture's lines and samples. (lines, samples, 3) code values.
    """
    sent = luma(source)
    lines, samples = frame.shape[:2]
    looked = [_looked_at(found, lines, samples, sent.shape, d, a) for d in _NEAR for a in _NEAR]
    around = np.stack([sent[np.ix_(*place)][1:-1, 1:-1] for place in looked])
    flat = np.ptp(around, axis=0) < _FLAT
    if flat.sum() < 200:
        return None
    own = np.asarray(frame, np.float64)
    windows = np.lib.stride_tricks.sliding_window_view(own, (3, 3), axis=(0, 1))
    apart = own[1:-1, 1:-1] - windows.mean(axis=(-2, -1))
    # the middle is one of the nine that are averaged: 8/9 of the variance is left
    return float(np.median(np.abs(apart[flat])) / 0.6745 * np.sqrt(9 / 8))


def _looked_at(
    found: Registration, lines: int, samples: int, size: tuple[int, ...], down: float, along: float
) -> tuple[NDArray, NDArray]:
    places = []
    for to, count, limit, by in (
        (found.lines, lines, size[0], down),
        (found.samples, samples, size[1], along),
    ):
        at = to(np.arange(count) + 0.5 + by)
        places.append(np.clip(np.floor(at), 0, limit - 1).astype(np.int64))
    return places[0], places[1]
