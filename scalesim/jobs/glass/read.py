"""What a reading found, as data: what its words, its document and its page are made from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.jobs.glass.measured import Measured
from scalesim.signal.rectify.view import View


@dataclass(frozen=True, eq=False)
class Read:
    """What photos or a film of one set-up show.

    Parameters:
        name : of the photo; found : what was measured, None when no lines can be told; reason : why not
        photo : (rows, columns, 3) uint8 codes of the first; count : photos; rect : of the picture's corners
    """

    name: str
    found: Measured | None
    reason: str
    notes: tuple[str, ...]
    photo: NDArray[np.uint8]
    count: int
    rect: View | None = None

    @property
    def sets(self) -> str:
        """ "one", "two" or "unknown"."""
        return "unknown" if self.found is None else self.found.landing.sets
