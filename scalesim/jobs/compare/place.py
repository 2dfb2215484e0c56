"""A chain's place in a ranking."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any


@dataclass(frozen=True)
class Place:
    """A chain's place among those it is ranked with.

    Parameters:
        raster : what they share: the lines on the screen, and the note's value when grouped by one
        rank, score : 1 is best; the mean of its ranks
        reason : why, in words
        medians : metric key -> median over the frames
        frames : how many frames the ranking goes over
    """

    raster: str
    chain: str
    rank: int
    score: float
    reason: str
    medians: Mapping[str, float | None]
    frames: int

    def to_dict(self) -> dict[str, Any]:
        """Return the place as plain values."""
        return asdict(self)
