"""Where to look: one tube face for all chains of a frame, and one window on the same piece of the picture.

All pictures of a frame are placed on one *face*, the tube's front in units that are whole numbers of
every raster's lines (960 units high for 240 and 480 lines: 4 units to a line of the one, 2 of the
other). A chain's full raster fills the face; what the tube hides of it is left out. Everything is
drawn by the nearest line and sample, never smoothed.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.core.encoding import code_to_light, luma
from scalesim.core.raster import Geometry, Raster, visible_slices
from scalesim.errors import ParameterError, nearest
from scalesim.jobs.predict.outcome import TUBES, Outcome
from scalesim.result import Box

Crop = tuple[int, int, int, int]
"""(top, left, height, width) in source lines and samples."""

_USUAL_HEIGHT = 960
_HEIGHTS = range(880, 1201)
_LEAST_CROP = 8
_GRID_LINES = 240
"""Places down the picture at which chains are compared to find the window; enough for a window."""


@dataclass(frozen=True)
class Face:
    """The tube's front: its size in units, and the units to a line of its coarsest raster."""

    width: int
    height: int
    pitch: float


def face_for(rasters: Iterable[Raster], tube: str) -> Face:
    """Return the face on which most of the rasters' lines are whole units tall, about 960 units high.

    Raises: ParameterError for a tube that is not known
    """
    if tube not in TUBES:
        raise ParameterError(f"tube is {tube!r}; {nearest(str(tube), TUBES)}")
    lines = [raster.landed_lines for raster in rasters]
    fits = {height: sum(height % count == 0 for count in lines) for height in _HEIGHTS}
    height = min(fits, key=lambda each: (-fits[each], abs(each - _USUAL_HEIGHT)))
    return Face(round(height * TUBES[tube]), height, height / min(lines))


@dataclass(frozen=True, eq=False)
class Shown:
    """A picture on the face: uint8 codes (lines, samples, 3), what the tube shows of them, and where."""

    codes: NDArray
    place: Box


def visible_on(face: Face, codes: NDArray, raster: Raster, lower: float = 0.0) -> Shown:
    """Return the visible part of a picture that fills the face, drawn `lower` units further down."""
    lines, samples = visible_slices(raster, *codes.shape[:2])
    down, across = face.height / codes.shape[0], face.width / codes.shape[1]
    place = Box(
        samples.start * across,
        lines.start * down + lower,
        (samples.stop - samples.start) * across,
        (lines.stop - lines.start) * down,
    )
    return Shown(codes[lines, samples], place)


def drawn(shown: Shown, window: Box, height: int, width: int) -> NDArray:
    """Return a window of the face as (height, width, 3) uint8 dots; black where there is no picture."""
    lines = _indices(window.y, window.height, height, shown.place.y, shown.place.height, shown.codes.shape[0])
    samples = _indices(window.x, window.width, width, shown.place.x, shown.place.width, shown.codes.shape[1])
    dots = np.zeros((height, width, 3), np.uint8)
    inside = np.ix_(lines >= 0, samples >= 0)
    dots[inside] = shown.codes[np.ix_(lines[lines >= 0], samples[samples >= 0])]
    return dots


def _indices(start: float, extent: float, dots: int, origin: float, filled: float, count: int) -> NDArray:
    """Return for every dot the line or sample it falls in, -1 outside."""
    middles = start + (np.arange(dots) + 0.5) * extent / dots
    found = np.floor((middles - origin) / filled * count).astype(np.int64)
    return np.where((found >= 0) & (found < count), found, -1)


@dataclass(frozen=True)
class Placing:
    """What places a chain's picture: the source's raster, its own, and where it looks on the source."""

    source: Raster
    raster: Raster
    geometry: Geometry

    def window(self, face: Face, crop: Crop, size: tuple[float, float] | None = None) -> Box:
        """Return the window on the face about what the chain made of the crop's middle.

        It begins on a line of the coarsest raster, so that windows of all chains show whole lines.

        Parameters:  size : (height, width) in units; None is the crop's own size when it fills the face
        """
        top, left, lines, samples = crop
        if size is None:
            size = (
                lines * face.height / self.source.frame_lines,
                samples * face.width / self.source.samples,
            )
        height = min(face.height, max(1, round(size[0] / face.pitch)) * face.pitch)
        width = min(face.width, max(1, round(size[1])))
        line = self.geometry.landed(self.raster).inverse()(top + lines / 2)
        sample = self.geometry.samples.inverse()(left + samples / 2)
        y = line * face.height / self.raster.landed_lines - height / 2
        x = sample * face.width / self.raster.samples - width / 2
        return Box(
            float(np.clip(round(x), 0, face.width - width)),
            float(np.clip(round(y / face.pitch) * face.pitch, 0, face.height - height)),
            width,
            height,
        )


def check_crop(crop: Crop, name: str, lines: int, samples: int) -> None:
    """Raise ParameterError unless the crop lies inside a frame and is large enough to see."""
    top, left, height, width = crop
    for what, begin, size, limit, unit in (
        ("height", top, height, lines, "lines"),
        ("width", left, width, samples, "samples"),
    ):
        edge = "top" if what == "height" else "left"
        if size < _LEAST_CROP:
            raise ParameterError(f"crop: {what} is {size}; it must be at least {_LEAST_CROP} {unit}")
        if begin < 0 or begin + size > limit:
            raise ParameterError(
                f"crop: {edge} {begin} and {what} {size} reach {unit} {begin} to {begin + size}, but {name} "
                f"has {unit} 0 to {limit}; keep the crop inside"
            )


def on_source(outcome: Outcome, places: tuple[NDArray, NDArray]) -> NDArray:
    """Return a chain's luminance at places of the source, NaN where it shows nothing.

    Parameters:  places : middles in source lines and samples
    Returns:     (places down, places along) float32, 0..1 of white
    """
    raster, geometry = outcome.raster, outcome.geometry
    window = visible_slices(raster, *outcome.landed.shape[:2])
    maps = (geometry.landed(raster).inverse(), geometry.samples.inverse())
    found = [np.floor(to(at)).astype(np.int64) for to, at in zip(maps, places, strict=True)]
    inside = [(at >= part.start) & (at < part.stop) for at, part in zip(found, window, strict=True)]
    lines, samples = (np.clip(at, p.start, p.stop - 1) for at, p in zip(found, window, strict=True))
    light = luma(code_to_light(outcome.landed[np.ix_(lines, samples)]))
    return np.where(inside[0][:, None] & inside[1], light, np.float32("nan"))


def places_on(lines: int, samples: int) -> tuple[NDArray, NDArray]:
    """Return the middles of a coarse grid over a source, in its lines and samples."""
    step = max(1, lines // _GRID_LINES)
    return np.arange(0, lines, step) + 0.5, np.arange(0, samples, step) + 0.5


def busiest_crop(lights: Sequence[NDArray], lines: int, samples: int) -> tuple[Crop, float]:
    """Return the window in which contestants differ most, and by how much.

    The window is a third of the height, and 5:3 in source samples: three in a row fill a page. The
    difference is the mean over all pairs of contestants and all places of |light - light|, in percent of
    white; places one of them does not show count 0.

    Parameters:  lights : (places down, places along) of each contestant on the grid of `places_on`
    """
    step = max(1, lines // _GRID_LINES)
    differing = _pair_difference(np.stack(lights))
    height, width = max(_LEAST_CROP, lines // 3), max(_LEAST_CROP, min(samples, lines * 5 // 9))
    down, along = (
        min(n, max(1, size // step)) for n, size in zip(differing.shape, (height, width), strict=True)
    )
    sums = np.zeros(tuple(n + 1 for n in differing.shape))
    sums[1:, 1:] = differing.cumsum(0).cumsum(1)
    windows = sums[down:, along:] - sums[:-down, along:] - sums[down:, :-along] + sums[:-down, :-along]
    top, left = np.unravel_index(int(np.argmax(np.round(windows, 9))), windows.shape)
    place = (min(int(top) * step, lines - height), min(int(left) * step, samples - width), height, width)
    return place, float(100 * windows[top, left] / (down * along))


def _pair_difference(lights: NDArray) -> NDArray:
    """Return the mean of |a - b| over all pairs along the first axis, 0 where a value is NaN."""
    count = lights.shape[0]
    ordered = np.sort(lights, axis=0).astype(np.float64)
    # in order, the k-th value is the larger of k pairs and the smaller of the others
    weights = 2.0 * np.arange(count) - count + 1
    total = np.tensordot(weights, ordered, axes=1) / max(1, count * (count - 1) / 2)
    return np.where(np.isnan(lights).any(axis=0), 0.0, total)


@dataclass(frozen=True, eq=False)
class Contestant:
    """One chain's visible picture on the face, and how it came there."""

    label: str
    number: int
    shown: Shown
    placing: Placing
    signal: str


@dataclass(frozen=True, eq=False)
class Look:
    """Everything that close looks and stills of a frame are cut from."""

    name: str
    source: NDArray
    face: Face
    crop: Crop
    contestants: tuple[Contestant, ...]
