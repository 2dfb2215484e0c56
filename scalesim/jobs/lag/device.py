"""One device, or one run, of a log: what was studied, in which rate, and in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from numpy.typing import NDArray

from scalesim.signal.laglog.study import Study

NAMES = {
    "constant": "constant",
    "jitter": "jitter within a frame",
    "uniform": "anywhere in a frame",
    "two-level": "two levels",
    "drift": "drifts and wraps",
    "drift+jitter": "drifts, with jitter",
    "unknown": "cannot tell",
}


@dataclass(frozen=True, eq=False)
class Device:
    """A device.

    Parameters:
        label : its name; study : of its readings; rate : of the frames
        measured : the log itself told that rate
        heights : height in the picture -> (readings, median as read in ms), {} without such a column
        corrected : the scan down to each height was taken out
    """

    label: str
    study: Study
    rate: Fraction
    measured: bool = False
    heights: Mapping[float, tuple[int, float]] = field(default_factory=dict)
    corrected: bool = False

    @property
    def name(self) -> str:
        """What kind of lag it has, in a few words."""
        return NAMES[self.study.found.kind]

    @property
    def astray(self) -> NDArray:
        """(n,) whether a reading lies far from what was fitted."""
        return self.study.astray
