"""Tools for drawing limited-palette pictures dot by dot, without smoothing.

Positions are (line, sample) with (0, 0) the top left dot. Frames are uint8 (lines, samples, 3) and are
changed in place by the verbs `stamp`, `paint`, `segment`, `foliage`; all else returns new arrays.
Everything is deterministic: noise comes from `numpy.random.RandomState`, whose stream is fixed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import ParameterError, ShapeError

Frame = NDArray[np.uint8]
Mask = NDArray[np.bool_]
Levels = NDArray[np.float64]
Blob = tuple[float, float, float, float]  # centre line, centre sample, half height, half width


@dataclass(frozen=True)
class Sprite:
    """A small picture: `dots` uint8 (lines, samples, 3), drawn only where `solid` is true."""

    dots: Frame
    solid: Mask


def ramp(codes: str) -> Frame:
    """Read colours such as ``"1b2a3c f0e0d0"`` (hexadecimal R, G, B) into uint8 (n, 3), dark to light."""
    return np.array([list(bytes.fromhex(code)) for code in codes.split()], dtype=np.uint8)


def rgb(code: str) -> tuple[int, int, int]:
    """Read one colour such as ``"1b2a3c"`` into 8-bit code values."""
    red, green, blue = bytes.fromhex(code)
    return red, green, blue


def tone(colours: Frame, step: int) -> tuple[int, int, int]:
    """Return one step of a ramp as a plain colour."""
    red, green, blue = colours[step].tolist()
    return red, green, blue


def sprite(art: str, colours: Mapping[str, str]) -> Sprite:
    """Read a sprite written as rows of characters; ``.`` and spaces at the right end are empty.

    Raises: ParameterError for a character that `colours` does not list.
    """
    rows = [line.strip() for line in art.strip().splitlines()]
    width = max(len(row) for row in rows)
    dots = np.zeros((len(rows), width, 3), dtype=np.uint8)
    solid = np.zeros((len(rows), width), dtype=np.bool_)
    for line, row in enumerate(rows):
        for sample, mark in enumerate(row):
            if mark == ".":
                continue
            if mark not in colours:
                raise ParameterError(f"sprite: no colour for {mark!r} in row {line}; add it to the colours")
            dots[line, sample] = rgb(colours[mark])
            solid[line, sample] = True
    return Sprite(dots, solid)


def mirrored(art: Sprite) -> Sprite:
    """Turn a sprite to face the other way."""
    return Sprite(art.dots[:, ::-1], art.solid[:, ::-1])


def outlined(art: Sprite, code: str) -> Sprite:
    """Put an outline one dot thick around a sprite, which grows by one dot on every side."""
    dots = np.pad(art.dots, ((1, 1), (1, 1), (0, 0)))
    solid = np.pad(art.solid, 1)
    rim = grown(solid) & ~solid
    dots[rim] = rgb(code)
    return Sprite(dots, solid | rim)


def grown(mask: Mask) -> Mask:
    """Add to a mask every dot that touches it from above, below, left or right."""
    out = mask.copy()
    out[1:] |= mask[:-1]
    out[:-1] |= mask[1:]
    out[:, 1:] |= mask[:, :-1]
    out[:, :-1] |= mask[:, 1:]
    return out


def stamp(frame: Frame, art: Sprite, line: int, sample: int) -> None:
    """Draw a sprite with its top left dot at (line, sample); what falls outside is cut off."""
    top, left = max(line, 0), max(sample, 0)
    bottom = min(line + art.solid.shape[0], frame.shape[0])
    right = min(sample + art.solid.shape[1], frame.shape[1])
    if top < bottom and left < right:
        part = (slice(top - line, bottom - line), slice(left - sample, right - sample))
        frame[top:bottom, left:right][art.solid[part]] = art.dots[part][art.solid[part]]


def paint(frame: Frame, mask: Mask, colours: Frame | tuple[int, int, int]) -> None:
    """Colour the masked dots from a whole picture of colours or with one colour."""
    frame[mask] = colours[mask] if isinstance(colours, np.ndarray) else colours


def grid(lines: int, samples: int) -> tuple[Levels, Levels]:
    """Return the line and the sample number of every dot, float64 (lines, samples)."""
    y, x = np.mgrid[0:lines, 0:samples].astype(np.float64)
    return y, x


def bayer(lines: int, samples: int) -> Levels:
    """Return ordered-dither thresholds in (0, 1), an 8 x 8 matrix repeated.

    Source: B. E. Bayer, "An optimum method for two-level rendition of continuous-tone pictures", 1973.
    """
    matrix = np.zeros((1, 1))
    for _ in range(3):
        matrix = np.block([[4 * matrix, 4 * matrix + 2], [4 * matrix + 3, 4 * matrix + 1]])
    return tiled((matrix + 0.5) / matrix.size, lines, samples)


def tiled(pattern: Levels, lines: int, samples: int) -> Levels:
    """Repeat a pattern (p, q) to fill (lines, samples)."""
    down, across = -(-lines // pattern.shape[0]), -(-samples // pattern.shape[1])
    return np.tile(pattern, (down, across))[:lines, :samples]


def shade(level: Levels, colours: Frame, *, dither: float = 1.0) -> Frame:
    """Turn levels 0..1 (lines, samples) into the nearest colours of a ramp, dithering between two.

    dither: width of the dither in steps of the ramp; 0 leaves hard bands, 1 mixes over the whole step.
    """
    steps = np.clip(level, 0.0, 1.0) * (len(colours) - 1)
    index = np.floor(steps + 0.5 + dither * (bayer(*level.shape) - 0.5))
    return colours[np.clip(index, 0, len(colours) - 1).astype(np.intp)]


def speckle(lines: int, samples: int, seed: int) -> Levels:
    """Return noise without structure, 0..1."""
    return np.random.RandomState(seed).random_sample((lines, samples))


def clouded(lines: int, samples: int, cell: float, seed: int, *, stretch: float = 1.0) -> Levels:
    """Return smooth noise, 0..1, with lumps about `cell` lines high and `cell * stretch` samples wide."""
    y, x = np.arange(lines) / cell, np.arange(samples) / (cell * stretch)
    knots = speckle(int(y[-1]) + 2, int(x[-1]) + 2, seed)
    row, column = y.astype(np.intp), x.astype(np.intp)
    fy, fx = (y - row)[:, None], (x - column)[None, :]
    fy, fx = fy * fy * (3 - 2 * fy), fx * fx * (3 - 2 * fx)
    above = knots[row][:, column] * (1 - fx) + knots[row][:, column + 1] * fx
    below = knots[row + 1][:, column] * (1 - fx) + knots[row + 1][:, column + 1] * fx
    blend: Levels = above * (1 - fy) + below * fy
    return blend


def ridge(samples: int, cell: float, seed: int) -> Levels:
    """Return a skyline 0..1 along the samples: a coarse wave with two finer ones on top."""
    waves = [clouded(1, samples, 1.0, seed + i, stretch=cell / 2**i)[0] / 2**i for i in range(3)]
    skyline: Levels = np.sum(waves, axis=0) / 1.75
    return skyline


def oval(lines: int, samples: int, blob: Blob) -> Mask:
    """Return the mask of a filled ellipse."""
    y, x = grid(lines, samples)
    mask: Mask = ((y - blob[0]) / blob[2]) ** 2 + ((x - blob[1]) / blob[3]) ** 2 <= 1.0
    return mask


def polygon(lines: int, samples: int, corners: Sequence[tuple[float, float]]) -> Mask:
    """Return the mask of a filled polygon with corners (line, sample), by the even-odd rule."""
    y, x = grid(lines, samples)
    inside = np.zeros((lines, samples), dtype=np.bool_)
    for (y0, x0), (y1, x1) in zip(corners, [*corners[1:], corners[0]], strict=True):
        if y0 == y1:
            continue
        crosses = (y0 > y) != (y1 > y)
        inside ^= crosses & (x < x0 + (y - y0) * (x1 - x0) / (y1 - y0))
    return inside


def segment(
    frame: Frame, start: tuple[float, float], end: tuple[float, float], colour: tuple[int, int, int]
) -> None:
    """Draw a straight line one dot thick between two (line, sample) points, cut off at the borders."""
    count = int(max(abs(end[0] - start[0]), abs(end[1] - start[1]))) + 1
    y = np.floor(np.linspace(start[0], end[0], count) + 0.5).astype(np.intp)
    x = np.floor(np.linspace(start[1], end[1], count) + 0.5).astype(np.intp)
    inside = (y >= 0) & (y < frame.shape[0]) & (x >= 0) & (x < frame.shape[1])
    frame[y[inside], x[inside]] = colour


def roundness(lines: int, samples: int, blobs: Sequence[Blob]) -> tuple[Levels, Mask]:
    """Light a heap of ellipsoids from the upper left; return levels 0..1 and the mask they cover."""
    y, x = grid(lines, samples)
    height, level = np.full((lines, samples), -1.0), np.zeros((lines, samples))
    for cy, cx, ry, rx in blobs:
        ny, nx = (y - cy) / ry, (x - cx) / rx
        nz = np.sqrt(np.maximum(1.0 - ny * ny - nx * nx, 0.0))
        # The dome nearest to the viewer hides the others; larger domes stand out further.
        near = np.where(nz > 0, nz * min(ry, rx), -1.0) > height
        height[near] = (nz * min(ry, rx))[near]
        level[near] = (0.42 - 0.42 * ny - 0.28 * nx + 0.12 * nz)[near]
    return np.clip(level, 0.0, 1.0), height > 0


def foliage(frame: Frame, blobs: Sequence[Blob], colours: Frame, seed: int, *, outline: str) -> Mask:
    """Draw a leafy crown made of domes, with leaf-sized texture and a dark outline; return its mask."""
    lines, samples = frame.shape[:2]
    level, mask = roundness(lines, samples, blobs)
    leaf = clouded(lines, samples, 2.2, seed, stretch=1.3) - 0.5
    # Gaps between leaves nibble at the rim, so that the silhouette is not a plain ellipse.
    mask &= ~(grown(~mask) & (leaf > 0.12))
    paint(frame, grown(mask), rgb(outline))
    paint(frame, mask, shade(level + 0.55 * leaf, colours, dither=0.0))
    return mask


def enlarged(native: Frame, times: int) -> Frame:
    """Repeat every dot `times` times along both axes."""
    return native.repeat(times, axis=0).repeat(times, axis=1)


def boxed(picture: Frame, lines: int, samples: int, bar: str) -> Frame:
    """Centre a picture in a larger frame of one colour.

    Raises: ShapeError when the picture does not fit.
    """
    high, wide = picture.shape[:2]
    if high > lines or wide > samples:
        raise ShapeError(f"boxed: picture {wide}x{high} does not fit {samples}x{lines}; use a larger frame")
    frame = np.empty((lines, samples, 3), dtype=np.uint8)
    frame[:] = rgb(bar)
    top, left = (lines - high) // 2, (samples - wide) // 2
    frame[top : top + high, left : left + wide] = picture
    return frame
