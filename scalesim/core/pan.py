"""Synthetic motion: a still that scrolls, as a game scrolls its background, for a stated time."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import ceil, floor, isfinite

import numpy as np
from numpy.typing import NDArray

from scalesim.core.clip import Clip
from scalesim.core.picture import Picture
from scalesim.core.raster import Raster
from scalesim.errors import ParameterError

LONGEST = 3600.0


def panned(clip: Clip, *, samples: float, lines: float, seconds: float) -> Clip:
    """Return the moving clip of a still whose picture scrolls evenly and wraps around at the edges.

    Picture k shows the frame moved by floor(speed * k / rate + 1/2), whole samples and whole frame
    lines, as a game scrolls. With fields, each shows the lines of its parity at its own time.

    Parameters:
        clip : a still
        samples : speed to the right, in samples per second; negative to the left
        lines : speed down, in lines of the frame per second; negative up
        seconds : duration, above 0, at most 3600; rounded up to whole frames
    Raises: ParameterError for a clip that moves already, a number outside its range, and a speed that passes
        the whole picture between one and the next, which the wrap would show as another speed
    """
    if clip.frame is None:
        raise ParameterError(
            f"{clip.name}: moves already; a pan is made of a still: choose one picture of it"
        )
    for name, value in (("samples", samples), ("lines", lines), ("seconds", seconds)):
        if not isfinite(value):
            raise ParameterError(f"pan: {name} is {value}; it must be a finite number")
    if not 0 < seconds <= LONGEST:
        raise ParameterError(f"pan: seconds is {seconds:g}; it must be above 0 and at most {LONGEST:g}")
    raster, frame = clip.raster, clip.frame
    for name, value, size in (("samples", samples, raster.samples), ("lines", lines, raster.frame_lines)):
        fastest = float(size * raster.rate)
        if abs(value) > fastest:
            raise ParameterError(
                f"pan: {name} is {value:.6g}; {clip.name} has {size} {name}, so that the picture passes "
                f"whole between one and the next above {fastest:.6g} a second: move it more slowly"
            )
    # A hair is taken off so that 0.1 s, which no binary number is, gives 6 pictures and not 7.
    frames = ceil(Fraction(seconds) * raster.rate / raster.period - Fraction(1, 10**6))
    count = max(frames, 1) * raster.period
    speed = Fraction(lines), Fraction(samples)
    note = f"Synthetic motion: {samples:g} samples and {lines:g} lines per second, wrapped around."
    return Clip(
        raster,
        lambda: _pan(frame, raster, speed, count),
        f"{clip.name} panned",
        clip.mode,
        (*clip.notes, note),
        length=count,
    )


def _pan(frame: NDArray, raster: Raster, speed: tuple[Fraction, Fraction], count: int) -> Iterator[Picture]:
    for k in range(count):
        time = k / raster.rate
        down, right = (floor(s * time + Fraction(1, 2)) for s in speed)
        parity = raster.fields[k % raster.period].parity
        rows = (np.arange(parity, raster.frame_lines, raster.period) - down) % raster.frame_lines
        yield Picture(np.roll(frame[rows], right, axis=1), raster, time)
