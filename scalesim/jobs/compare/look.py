"""One tube face for all chains of a frame: where the linked pictures lie.

All pictures of a frame are placed on one *face*, the tube's front in units that are whole numbers of
every raster's lines (960 units high for 240 and 480 lines: 4 units to a line of the one, 2 of the
other). A chain's full raster fills the face; what the tube hides of it is left out. Everything is
drawn by the nearest line and sample, never smoothed.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from numpy.typing import NDArray

from scalesim.core.raster import Raster, visible_slices
from scalesim.errors import ParameterError, nearest
from scalesim.jobs.predict.outcome import TUBES
from scalesim.result import Box

_USUAL_HEIGHT = 960
_HEIGHTS = range(880, 1201)


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
    return Shown(codes[lines, samples], place_on(face, codes.shape, raster, lower))


def place_on(face: Face, shape: tuple[int, ...], raster: Raster, lower: float = 0.0) -> Box:
    """Return where the visible part of a picture of (lines, samples, …) lies, see `visible_on`."""
    lines, samples = visible_slices(raster, *shape[:2])
    down, across = face.height / shape[0], face.width / shape[1]
    return Box(
        samples.start * across,
        lines.start * down + lower,
        (samples.stop - samples.start) * across,
        (lines.stop - lines.start) * down,
    )
