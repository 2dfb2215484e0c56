"""A film of a tube: lines of its first clear frame, where fields land by its timing, its aligned mean."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import chain, islice

import numpy as np
from numpy.typing import NDArray

from scalesim.core.photo import Film, FilmFrame
from scalesim.errors import NotMeasurable
from scalesim.jobs.glass.answer import GlassRead
from scalesim.jobs.glass.asked import Asked
from scalesim.jobs.glass.measured import Measured, measure
from scalesim.jobs.glass.options import bezel_of, shutter_of, view_of_corners
from scalesim.jobs.glass.read import Filmed
from scalesim.signal.glass.film import Reader, Rows
from scalesim.signal.glass.find import reduced
from scalesim.signal.glass.pair import room_of
from scalesim.signal.glass.timing import Timed, timed

VERDICT_FRAMES = 24
TRIED = 8
"""Frames that are looked at for lines before a film is given up."""
OTHER_RATE = 50.0
USUAL_RATE = 59.94
LOST = 12
"""Frames in a row without the lines that end a film: the camera turned away, or a cut."""
AGREE = 0.5
FOR_FILM = "a film's frames are measured for where fields land only; take a photo of one field or less"


def read_film(film: Film, asked: Asked) -> GlassRead:
    """Return what a film shows; an answer that cannot tell carries the reason."""
    rect = None if asked.corners is None else view_of_corners(asked.corners, (film.rows, film.columns))
    shutter = None if asked.shutter is None else shutter_of(asked.shutter)
    frames = film.frames()
    notes = film.notes
    if film.curve != "bt709":
        notes += (f"it is tagged {film.curve.upper()}, whose curve was undone",)
    first: FilmFrame | None = None
    found: Measured | None = None
    reason = "the film has no frames"
    shown = np.zeros((film.rows, film.columns, 3), dtype=np.uint8)
    for frame in islice(frames, TRIED):
        shown = _shown(frame.light)
        try:
            found = measure(frame.light, rect=rect, expected=asked.lines, fields=None, landed=False)
        except NotMeasurable as error:
            reason = str(error)
            continue
        first = frame
        break
    if found is None or first is None:
        return GlassRead(film.name, None, reason, notes, shown, 1, rect)
    bezel = None if asked.bezel is None else bezel_of(asked.bezel)
    room = None if bezel is None else room_of(found.found, bezel)
    reader = Reader.of(found.found, room)
    most = None if asked.whole else VERDICT_FRAMES
    filmed = _filmed(reader, islice(chain((first,), frames), most), found, asked.field_rate, shutter)
    landing = filmed.timed.landing
    why = {**found.why, "jitter_lines": FOR_FILM}
    rate = filmed.timed.rate
    exposure = shutter if shutter is not None else filmed.timed.exposure_s
    found = replace(
        found, landing=landing, jitter=None, why=why, fields=None if exposure is None else exposure * rate
    )
    return GlassRead(film.name, found, "", notes, shown, 1, rect, filmed)


def _filmed(
    reader: Reader, frames: Iterator[FilmFrame], found: Measured, field_rate: float, shutter: float | None
) -> Filmed:
    rows: list[Rows] = []
    total: NDArray[np.float64] | None = None
    lost = kept = 0
    for frame in frames:
        own = reader.rows(frame)
        lost = lost + 1 if own.coherence < AGREE else 0
        if lost >= LOST:
            break
        if own.coherence < AGREE:
            continue
        rows.append(own)
        small = reduced(frame.light, reader.found.view.factor)
        laid = _laid(small, own, rows[0], found.period / reader.found.view.factor)
        total = laid if total is None else total + laid
        kept += 1
    rates = (field_rate, OTHER_RATE) if field_rate == USUAL_RATE else (field_rate,)
    told = [_timed(rows[:VERDICT_FRAMES], reader, found, rate, shutter) for rate in rates]
    best = max(told, key=lambda each: (each.landing.sets == "two", each.landing.confidence))
    times = np.array([each.time for each in rows])
    z = np.array([each.z.sum() for each in rows])
    rate = float(1 / np.median(np.diff(times))) if len(times) > 1 else 0.0
    mean = np.zeros((1, 1), np.float32) if total is None else (total / kept).astype(np.float32)
    light = np.array([each.light for each in rows])
    return Filmed(best, len(rows), rate, times, np.angle(z) / (2 * np.pi), light, _shown(mean))


def _timed(rows: list[Rows], reader: Reader, found: Measured, rate: float, shutter: float | None) -> Timed:
    lasting = 262.5 if rate > 55 else 312.5
    return timed(
        rows, reader.lines, reader.places, rate=rate, field_lines=lasting, shutter=shutter, pitch=found.period
    )


def _laid(light: NDArray[np.float32], own: Rows, first: Rows, pitch: float) -> NDArray[np.float64]:
    """Return a frame moved down or up so that its lines lie on the first frame's, half a pitch left as it
    is."""
    turned = own.z.sum() * np.conj(first.z.sum())
    half = np.angle(turned**2) / (4 * np.pi)  # half a pitch is the other field, not a motion
    shift = -half * pitch
    rows = np.arange(len(light)) + shift
    low = np.clip(np.floor(rows).astype(int), 0, len(light) - 1)
    high = np.minimum(low + 1, len(light) - 1)
    part = (rows - np.floor(rows))[:, None]
    return np.asarray(light[low] * (1 - part) + light[high] * part, dtype=np.float64)


def _shown(light: NDArray[np.float32]) -> NDArray[np.uint8]:
    """Return 8-bit grey codes of light, by the inverse of V^2.4."""
    codes = (255 * np.clip(light, 0, 1) ** (1 / 2.4) + 0.5).astype(np.uint8)
    return np.repeat(codes[..., None], 3, axis=2)
