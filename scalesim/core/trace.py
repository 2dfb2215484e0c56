"""A trace: what an oscilloscope recorded, as volts at equal steps of time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from numpy.typing import NDArray


@dataclass(frozen=True, eq=False)
class Trace:
    """A record of one to four channels.

    Parameters:
        name : of its file, for people
        interval_s : seconds between samples, positive; nan where the file does not tell
        channels : name -> (samples,) float32 volts, all of one length, in the order of the file's columns
        start_s : time of the first sample as the file tells it
        columns : number of each channel's column in its file, from 1
        notes : how the file was read: separators, units, what was guessed
    """

    name: str
    interval_s: float
    channels: Mapping[str, NDArray]
    start_s: float = 0.0
    columns: tuple[int, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def samples(self) -> int:
        """Samples of each channel."""
        return next((len(values) for values in self.channels.values()), 0)

    @property
    def seconds(self) -> float:
        """Length of the record."""
        return self.samples * self.interval_s
