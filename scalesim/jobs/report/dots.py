"""Pictures cropped and enlarged as an article asks: whole dots, so that every pixel stays what it was."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.codes import to_codes
from scalesim.errors import ParameterError
from scalesim.jobs.report.reference import Reference
from scalesim.result import Picture

MOST_DOTS = 36_000_000
"""Of a picture after it was enlarged; 7680x4320 is 33 million."""


def asked_of(item: Any, asked: Reference, at: str) -> Any:
    """Return a picture cropped and enlarged as it was asked for; of another item nothing may be asked.

    Raises: ParameterError for a crop outside the picture, or an enlarged picture larger than `MOST_DOTS`
    """
    plain = not asked.crop and asked.zoom == (0, 0)
    if not isinstance(item, Picture):
        if not plain:
            raise ParameterError(f"{at}: only pictures are cropped or enlarged; leave zoom and crop out")
        return item
    if plain:
        return item
    values = partial(_dots, item, asked, at)
    return replace(
        item, values=values, size=None, shown="", whole=None, quiet="", looks=_looks(item.looks, asked)
    )


def _looks(looks: tuple[tuple[float, float], ...], asked: Reference) -> tuple[tuple[float, float], ...]:
    """Return where the cropped and enlarged picture looks on the source."""
    begin, times = asked.crop[:2] or (0, 0), (max(1, each) for each in asked.zoom)
    return tuple(
        (scale / k, offset + scale * first)
        for (scale, offset), first, k in zip(looks, begin, times, strict=False)
    )


def codes(values: Any) -> NDArray[np.uint8]:
    """Return a picture's dots as (lines, samples, 3) uint8 codes, made now if need be."""
    found: NDArray = values() if callable(values) else np.asarray(values)
    return found if found.dtype == np.uint8 else to_codes(found)


def _dots(picture: Picture, asked: Reference, at: str) -> NDArray[np.uint8]:
    dots = codes(picture.values)
    lines, samples = dots.shape[:2]
    if asked.crop:
        top, left, height, width = asked.crop
        if top + height > lines or left + width > samples:
            raise ParameterError(
                f"{at}: crop {','.join(map(str, asked.crop))} leaves the picture, "
                f"which has {lines} lines and {samples} samples"
            )
        dots = dots[top : top + height, left : left + width]
    down, across = (max(1, times) for times in asked.zoom)
    size = dots.shape[0] * down * dots.shape[1] * across
    if size > MOST_DOTS:
        raise ParameterError(
            f"{at}: zoom {down}x{across} makes {size / 1e6:.0f} million dots; the limit is "
            f"{MOST_DOTS / 1e6:.0f}: crop it, or enlarge it less"
        )
    return np.ascontiguousarray(dots.repeat(down, axis=0).repeat(across, axis=1))
