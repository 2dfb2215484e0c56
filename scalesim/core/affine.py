"""Where on the source a place on the output looks: one straight line per axis.

A coordinate has its edges at integers (line i covers [i, i+1), line 0 on top), so a line's centre
is i + 1/2. Every stage that moves or scales the picture is ``before = scale * after + offset`` on
each axis; stages in series compose, and the inverse tells where a source outline went.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TypeVar

T = TypeVar("T")


@dataclass(frozen=True)
class Affine:
    """The map ``before = scale * after + offset`` of a coordinate along one axis.

    `scale` is source units per output unit (3.0 when 720 lines become 240) and never zero;
    `offset` is in source units, positive when the output looks further down (or right).
    """

    scale: float = 1.0
    offset: float = 0.0

    def __call__(self, after: T) -> T:
        """Return the source coordinate that the output coordinate `after` shows (a number or an array)."""
        return self.scale * after + self.offset  # type: ignore[operator,return-value]  # number or array

    def after(self, first: Affine) -> Affine:
        """Return the map through both: this stage's output, back through `first`, to its input."""
        return Affine(first.scale * self.scale, first.scale * self.offset + first.offset)

    def inverse(self) -> Affine:
        """Return the map from the source to the output."""
        return Affine(1.0 / self.scale, -self.offset / self.scale)


IDENTITY = Affine()


def mean_affine(maps: Iterable[Affine]) -> Affine:
    """Return the mean of several maps: where the fields of a still look, taken together."""
    members = list(maps)
    return Affine(sum(m.scale for m in members) / len(members), sum(m.offset for m in members) / len(members))
