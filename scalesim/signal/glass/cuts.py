"""Cuts of a film of a tube: where a frame shows something else than the one before it.

A tube filmed with a short shutter shows level bands that run over the picture. They are no cuts, so pictures
are compared after every row was divided by its own mean, and a film whose frames are never alike has no cuts
that its pictures could tell; that lines end where they were is told by their carrier.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

ROWS, COLUMNS = 24, 32
DIM = 0.05
"""Of the mean light, added to what a row is divided by: rows without light are not noise."""
CUT, STEADY, EVEN = 0.3, 0.4, 0.15
"""A frame is another picture when it is so much less alike than usual, where frames are usually at least
`STEADY` alike and never `EVEN` less than usual."""
KEPT, FEWEST = 64, 3
"""Likenesses of the last frames that are kept, and how many tell what is usual."""


def thumbnail(light: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return (ROWS, COLUMNS) mean light of parts of a frame.

    All of its pixels are in it: every fourth column alone would beat with a mask of four pixels a triad.
    """
    rows, columns = light.shape[0] // ROWS, light.shape[1] // COLUMNS
    if not rows or not columns:
        return np.zeros((ROWS, COLUMNS), np.float32)
    part = light[: rows * ROWS, : columns * COLUMNS]
    down = part.reshape(ROWS, rows, -1).sum(axis=1)
    across = down.reshape(ROWS, COLUMNS, columns).sum(axis=2)
    return np.asarray(across / np.float32(rows * columns), dtype=np.float32)


def likeness(a: NDArray[np.float32], b: NDArray[np.float32]) -> float:
    """Return how alike two thumbnails are, -1..1: the correlation of their rows, each over its own mean."""
    one, two = _even(a), _even(b)
    over = float(np.sqrt(np.sum(one**2) * np.sum(two**2)))
    return float(np.sum(one * two)) / over if over > 1e-9 else 0.0


def _even(small: NDArray[np.float32]) -> NDArray[np.float32]:
    own = small / (small.mean(axis=1, keepdims=True) + DIM * small.mean() + 1e-9)
    return np.asarray(own - own.mean())


@dataclass(eq=False)
class Cuts:
    """Tells cuts in a stream of frames; holds one thumbnail and the last likenesses."""

    before: NDArray[np.float32] | None = None
    usual: list[float] = field(default_factory=list)

    def at(self, small: NDArray[np.float32]) -> bool:
        """Return whether this frame shows another picture than the one before it."""
        before, self.before = self.before, small
        if before is None:
            return False
        alike = likeness(before, small)
        if len(self.usual) < FEWEST:
            self.usual.append(alike)
            return False
        usual = float(np.median(self.usual))
        cut = alike < usual - CUT and usual >= STEADY and min(self.usual) >= usual - EVEN
        if not cut:
            self.usual = [*self.usual[-KEPT + 1 :], alike]
        return cut
