"""The luma of stored frames, one at a time: what is enough where no colour is asked for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, eq=False)
class Luma:
    """The luma of one stored frame.

    Parameters:
        values : (frame lines, samples) uint8 codes as stored, of full or limited range; woven with fields
        seconds : when it is shown, counted from the first frame
    """

    values: NDArray[np.uint8]
    seconds: float
