"""What kind of pulse each is: line, equalising, broad, a longer block, or none of these."""

from __future__ import annotations

from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.waveform.lines import LineGrid
from scalesim.signal.waveform.slicing import Pulses

Kind = Literal["line", "equalising", "broad", "odd"]
KINDS: tuple[Kind, ...] = get_args(Kind)

_SHORT, _LONG = 0.7, 1.4
"""Of a line pulse: shorter is equalising, longer is odd or broad."""
_BROAD = 0.3
"""Of a line: 19 us of 63.56. Vertical sync of the standards has 27; less is what a box adds or cuts short."""


def kinds_of(pulses: Pulses, grid: LineGrid) -> NDArray:
    """Return (pulses,) numbers into `KINDS`."""
    width = pulses.width_us
    found = np.full(len(width), KINDS.index("odd"), dtype=np.int8)
    found[width < _SHORT * grid.sync_us] = KINDS.index("equalising")
    found[(width >= _SHORT * grid.sync_us) & (width <= _LONG * grid.sync_us)] = KINDS.index("line")
    found[width > _BROAD * grid.period_us] = KINDS.index("broad")
    # what lies off the grid of half lines is neither line nor equalising sync: a picture's or a spike
    phase = grid.phase(pulses.begin_us) * 2
    off = np.abs(phase - np.rint(phase)) > 0.2
    narrow = found != KINDS.index("broad")
    found[off & narrow] = KINDS.index("odd")
    return found


def serrations_us(pulses: Pulses, kinds: NDArray, grid: LineGrid) -> NDArray:
    """Return the gaps between broad pulses that follow each other, in us."""
    broad = kinds == KINDS.index("broad")
    both = broad[:-1] & broad[1:]
    gaps = pulses.begin_us[1:] - pulses.end_us[:-1]
    found: NDArray = gaps[both & (gaps < 0.5 * grid.period_us)]
    return found
