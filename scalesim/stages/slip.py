"""The stage of a box whose output clock is not the source's: torn, repeated and dropped pictures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from scalesim.core.clocks import spoken_rate
from scalesim.core.picture import Picture
from scalesim.core.raster import Raster
from scalesim.core.slip import SlipLaw
from scalesim.schema import param
from scalesim.stages._base import FrameStage, stage


@stage("slip", example={"rate_in": 60, "rate_out": 50})
@dataclass(frozen=True, kw_only=True)
class Slip(FrameStage):
    """Put pictures out at a clock of its own: torn, repeated and dropped frames.

    - `buffer=tear`: one buffer is read while it is written, so a picture may hold lines of two source
      pictures, with a tear between them that rolls;
    - `buffer=frame`: each output picture is the newest whole source picture, so some are repeated or dropped.

    The law of every line is `scalesim.core.slip`, exact in fractions; 59.94 stands for 60000/1001.
    """

    rate_in: Fraction | None = param(
        None,
        type="exact",
        unit="Hz",
        at_least=1,
        at_most=1000,
        doc="pictures the source makes a second; the rate before the stage if left out",
    )
    rate_out: Fraction = param(
        type="exact", unit="Hz", at_least=1, at_most=1000, doc="pictures the box puts out a second"
    )
    buffer: str = param(
        "tear", type="choice", choices=("tear", "frame"), doc="one buffer, or a frame-locked double buffer"
    )
    start: Fraction = param(
        Fraction(0),
        type="exact",
        unit="source pictures",
        at_least=0,
        at_most=1,
        doc="how far the source is ahead when the first output picture begins",
    )
    fill: Fraction = param(
        Fraction(0),
        type="exact",
        unit="of a source period",
        at_least=0,
        at_most=1,
        doc="time to write a picture into the one buffer; 0 changes it at once, 1 writes it line by line",
    )
    scan: Fraction = param(
        Fraction(1),
        type="exact",
        unit="of an output period",
        above=0,
        at_most=1,
        doc="time to read a picture out of it",
    )

    def raster(self, before: Raster) -> Raster:
        """Return the raster at the output's rate."""
        return before.with_(rate=spoken_rate(self.rate_out))

    def pace(self, before: Raster) -> Fraction:
        """Return output pictures for each picture that comes in."""
        return 1 / self.law(before).ratio

    def law(self, before: Raster) -> SlipLaw:
        """Return which source picture each line of an output picture shows."""
        rate_in = before.rate if self.rate_in is None else spoken_rate(self.rate_in)
        return SlipLaw(
            ratio=rate_in / spoken_rate(self.rate_out),
            lines=before.lines,
            whole=self.buffer == "frame",
            start=self.start,
            fill=self.fill,
            scan=self.scan,
            period=before.period,
        )

    def apply(self, pictures: Iterator[Picture], before: Raster) -> Iterator[Picture]:
        """Yield the output's pictures as long as every line of them has its source picture."""
        law, after = self.law(before), self.raster(before)
        held: dict[int, Picture] = {}
        read, number, begin = 0, 0, Fraction(0)
        while True:
            shown = law.shown(number)
            low, high = int(shown.min()), int(shown.max())
            while read <= high:
                picture = next(pictures, None)
                if picture is None:
                    return
                begin = begin if read else picture.time
                # what is passed over is never held
                if read >= low - law.period:
                    held[read] = picture
                read += 1
            held = {n: picture for n, picture in held.items() if n > low - law.period}
            values = held[low].values
            if high > low:
                values = values.copy()
                for n in range(low + law.period, high + 1, law.period):
                    rows = np.flatnonzero(shown == n)
                    values[rows] = held[n].values[rows]
            yield Picture(values, after, begin + number / after.rate)
            del values
            number += 1
