"""The time column: whether there is one, its step, and whether it runs evenly."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import ReadError

_LOOKED_AT = 2000
_JUMP = 20


def looks_like_time(values: NDArray) -> bool:
    """Tell whether a column's beginning only grows, in steps that are alike but for their rounding."""
    first = values[:_LOOKED_AT]
    steps = np.diff(first)
    if len(steps) < 1 or not np.isfinite(first).all() or not (steps > 0).any():
        return False
    quantum = float(np.median(steps[steps > 0]))
    # a column that runs back or jumps now and then is time all the same, and is refused as such
    breaks = np.flatnonzero((steps < 0) | (steps > _JUMP * quantum))
    if len(breaks) > 0.02 * len(steps) + 1:
        return False
    longest = max(np.split(first, breaks + 1), key=len)
    mean = float(longest[-1] - longest[0]) / max(1, len(longest) - 1)
    line = longest[0] + mean * np.arange(len(longest))
    return bool(mean > 0 and (np.abs(longest - line) < 3 * max(mean, quantum)).mean() > 0.9)


class Clock:
    """A time column as its parts come.

    Parameters:  scale : to seconds; name, head_lines : for errors
    `by_ones` tells whether it is 0, 1, 2 ..., as numbers of rows are.
    """

    def __init__(self, scale: float, name: str, head_lines: int) -> None:
        self.scale, self.name, self.head_lines = scale, name, head_lines
        self.first = self.last = 0.0
        self.count = 0
        self.largest, self.quantum = 0.0, np.inf
        self.largest_row = 0
        self.by_ones = True

    def add(self, times: NDArray) -> None:
        """Take the next part of the column."""
        if not np.isfinite(times).all():
            raise ReadError(f"{self.name}: a time is no finite number; export the trace again")
        steps = np.diff(times, prepend=self.last) if self.count else np.diff(times)
        if len(steps):
            least = int(np.argmin(steps))
            if steps[least] < 0:
                row = self.count + least + (1 if self.count else 2)
                raise ReadError(
                    f"{self.name}: time runs back at line {row + self.head_lines}; export one record, not "
                    "several below each other"
                )
            grown = steps[steps > 0]
            self.quantum = min(self.quantum, float(grown.min()) if len(grown) else np.inf)
            widest = int(np.argmax(steps))
            if steps[widest] > self.largest:
                self.largest, self.largest_row = float(steps[widest]), self.count + widest + 1
            self.by_ones = self.by_ones and bool((steps == 1).all())
        if not self.count:
            self.first = float(times[0])
        self.count += len(times)
        self.last = float(times[-1])

    def settled(self) -> tuple[float, float]:
        """Return seconds between samples, and the first sample's time.

        Raises: ReadError where time stands still, or samples are missing
        """
        step = (self.last - self.first) / max(1, self.count - 1)
        if not step > 0:
            raise ReadError(f"{self.name}: time stands still; export the time column, or use --rate")
        if self.largest > 5 * step + 2 * self.quantum:
            raise ReadError(
                f"{self.name}: time jumps by {self.largest / step:.0f} samples at line "
                f"{self.largest_row + 1 + self.head_lines}; export one unbroken record"
            )
        return step * self.scale, self.first * self.scale
