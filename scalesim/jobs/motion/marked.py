"""The frames around the first tears as a slow clip, each tear pointed at from both sides of the picture."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from scalesim.core.clip import Clip
from scalesim.core.codes import to_codes
from scalesim.core.landed import woven
from scalesim.core.moving import Moving
from scalesim.draw.letters import CAPITAL_LINES, write
from scalesim.draw.marks import CASING, FAULT
from scalesim.jobs.motion.events import Event
from scalesim.jobs.motion.found import Found

MOST_TEARS = 8
AROUND = 6
"""Frames shown before and after each torn one."""
RATE = Fraction(10)
"""Frames a second: slow enough to be looked at one by one."""
_WEDGE = 0.025
"""Length of a pointer, of the width."""


def marked_frames(found: Found) -> dict[int, list[Event]]:
    """Return frame -> its tears, for the frames to be shown, in their order; none when nothing is torn."""
    torn = [event for event in found.events if event.kind == "torn"]
    chosen = sorted({event.frame for event in torn})[:MOST_TEARS]
    last = found.timeline.frames[-1] if len(found.timeline) else -1
    shown = sorted({k for c in chosen for k in range(max(0, c - AROUND), min(last, c + AROUND) + 1)})
    return {frame: [event for event in torn if event.frame == frame] for frame in shown}


def moving_marked(clip: Clip, found: Found) -> Moving:
    """Return the clip of the frames around the first tears, to be written."""
    frames = marked_frames(found)
    return Moving("raster", _pictures(clip, found, frames), RATE, None, len(frames))


def _pictures(clip: Clip, found: Found, frames: dict[int, list[Event]]) -> Iterator[NDArray[np.uint8]]:
    pictures, at = clip.pictures(), 0
    period = clip.raster.period
    for frame, tears in frames.items():
        skipped = (frame - at) * period
        taken = [picture.values for picture in islice(pictures, skipped, skipped + period)]
        at = frame + 1
        codes = to_codes(woven(taken, clip.raster))
        fields = 2 if found.scan != "progressive" else 1
        for tear in tears:
            _point(codes, tear, fields)
        scale = max(1, codes.shape[0] // 240)
        write(codes, f"FRAME {frame}", 2 * scale, 2 * scale, FAULT, scale=scale, shadow=CASING)
        yield codes


def _point(codes: NDArray[np.uint8], tear: Event, fields: int) -> None:
    """Draw a wedge at each side whose point is at the tear, and which source picture lies above and below."""
    line = (tear.line or 0.0) * fields + (tear.parity or 0)
    lines, samples = codes.shape[:2]
    long = max(6, round(_WEDGE * samples))
    tall = max(3, round(0.4 * long * lines * 16 / (9 * samples)))
    rows = np.arange(lines)[:, None] + 0.5 - line
    along = np.arange(samples)[None, :] + 0.5
    inward = np.minimum(along, samples - along)
    for size, colour in ((1.0, CASING), (0.7, FAULT)):
        inside = np.abs(rows) <= size * tall * (1 - inward / long)
        codes[inside] = colour
    scale = max(1, lines // 240)
    left = long + 2 * scale
    up = round(line) - (CAPITAL_LINES + 3) * scale
    write(codes, f"{tear.source}", up, left, FAULT, scale=scale, shadow=CASING)
    write(codes, f"{tear.other}", round(line) + 3 * scale, left, FAULT, scale=scale, shadow=CASING)
