"""What a camera gave of a tube: `Photo`, one exposure, and `Film`, a stream of them with their times."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from scalesim.core.film_curves import BT709, Curve

_LUMA = (0.2126, 0.7152, 0.0722)
"""Weights of linear R, G and B in luminance: Recommendation ITU-R BT.709-6, item 3.2; IEC 61966-2-1."""


@dataclass(frozen=True)
class Shot:
    """What the camera wrote beside a picture; None for what it did not say.

    Parameters:
        exposure_s : time the shutter was open; iso, focal_mm, focal_35_mm : as the file says
        merged : it says that several exposures were merged into one
    """

    exposure_s: float | None = None
    iso: float | None = None
    focal_mm: float | None = None
    focal_35_mm: float | None = None
    merged: bool = False


@dataclass(frozen=True, eq=False)
class Photo:
    """One exposure, upright.

    Parameters:
        codes : (rows, columns, 3) uint8 or uint16 code values as stored, full range
        name : for titles; shot : what the camera wrote
        notes : what was done on the way in, in sentences
    """

    codes: NDArray
    name: str = "photo"
    shot: Shot = Shot()
    notes: tuple[str, ...] = field(default=())

    @property
    def light(self) -> NDArray[np.float32]:
        """(rows, columns) relative luminance 0..1 by the curve of IEC 61966-2-1 (sRGB); made anew."""
        return light_of(self.codes)


@dataclass(frozen=True, eq=False)
class FilmFrame:
    """A picture of a film.

    Parameters:
        time : s from the first; light : (rows, columns) as a display would give it, 1 about white
        codes : gives every so many rows' and columns' light of the scene, 1 about white, while the frame is
            the film's latest; None where it is not known apart from `light`
    """

    time: float
    light: NDArray[np.float32]
    codes: Callable[[int], NDArray[np.float32]] | None = None

    def scene(self, step: int = 1) -> NDArray[np.float32]:
        """Return light of the scene, 1 about white, every `step` rows and columns."""
        return self.light[::step, ::step] if self.codes is None else self.codes(step)


@dataclass(frozen=True, eq=False)
class Film:
    """A stream of exposures; nothing holds it whole.

    Parameters:
        frames : called without arguments, gives a fresh iterator over the pictures
        rows, columns : of every picture; rate : mean pictures a second, exact
        name, notes : as for a photo; length : number of pictures when it is known
        curve : by which its codes were taken to light
        turned : quarters of a turn, counterclockwise, by which it was stored otherwise
    """

    frames: Callable[[], Iterator[FilmFrame]]
    rows: int
    columns: int
    rate: Fraction
    name: str = "film"
    notes: tuple[str, ...] = field(default=())
    length: int | None = None
    curve: Curve = BT709
    turned: int = 0


def light_of(codes: NDArray) -> NDArray[np.float32]:
    """Return relative luminance of sRGB code values, a band of rows at a time.

    Parameters:  codes : (rows, columns, 3) uint8, uint16, or float 0..1
    Returns: (rows, columns) float32, 0..1
    Source: IEC 61966-2-1:1999, 5.2 (c <= 0.04045: c/12.92, else ((c+0.055)/1.055)^2.4)
    """
    table = _table(codes.dtype)
    out = np.empty(codes.shape[:2], dtype=np.float32)
    for top in range(0, len(codes), 256):
        band = codes[top : top + 256]
        parts = [table[band[..., c]] if table is not None else srgb_light(band[..., c]) for c in range(3)]
        out[top : top + 256] = sum(np.float32(w) * p for w, p in zip(_LUMA, parts, strict=True))
    return out


def srgb_light(values: NDArray) -> NDArray[np.float32]:
    """Return light of sRGB code values 0..1, float32 of the same shape."""
    v = np.asarray(values, dtype=np.float32)
    light = np.where(v <= 0.04045, v / 12.92, ((np.maximum(v, 0) + 0.055) / 1.055) ** 2.4)
    return light.astype(np.float32)


def _table(dtype: np.dtype) -> NDArray[np.float32] | None:
    if dtype.kind != "u":
        return None
    return srgb_light(np.linspace(0, 1, 2 ** (8 * dtype.itemsize)))
