"""Clocks: what two rates that are not locked do to each other."""

from dataclasses import dataclass
from typing import ClassVar

from scalesim.job import Job
from scalesim.schema import param

_RATE = "a number of Hz (59.94 stands for 60000/1001), a fraction, or a mode such as 720p59.94"


@dataclass(frozen=True, kw_only=True)
class Keys:
    """What it takes."""

    kind: ClassVar[str] = "clocks"
    source: str | None = param(None, type="text", unit="Hz", doc=f"Rate of the source: {_RATE}.")
    box: str | None = param(None, type="text", unit="Hz", doc="Rate that a box between them puts out.")
    display: str | None = param(None, type="text", unit="Hz", doc="Rate of the display.")
    ppm: float = param(
        0.0,
        unit="ppm",
        at_least=0,
        at_most=1000,
        doc="How far each clock may be off its rate (crystals: 20 to 100).",
    )


JOB = Job(
    name="clocks",
    step=69,
    about="""Tell drift, wrap, repeats, drops and tears of clocks that are not locked.

Example: scalesim clocks --source 59.94 --box 60 --display 240p

Give at least two rates; without any, a table of the standard pairs is written. drift_us_per_s is by how
much the output falls behind the source each second, wrap_s in what time by one source picture: so often a
frame buffer repeats or drops a picture, or a tear passes through. 50 Hz into 60 Hz and back is worked out,
with what it costs in judder. Rates are exact fractions; measured ones are taken as they are given.""",
    function="scalesim.jobs.clocks.clocks:clocks",
    keys=Keys,
)
