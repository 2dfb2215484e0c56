"""Pictures on their way into a file: a stream with its rate."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from numpy.typing import NDArray


@dataclass(frozen=True, eq=False)
class Moving:
    """Pictures to be written.

    Parameters:
        view : "raster", "seen" or "screen"
        pictures : uint8 codes (screen) or float code values, (lines, samples, 3), one pass
        rate : pictures per second, exact
        first_field : which field of a woven frame is the earlier; None when the pictures are progressive
        count : number of pictures when it is known
    """

    view: str
    pictures: Iterator[NDArray]
    rate: Fraction
    first_field: Literal["top", "bottom"] | None
    count: int | None
