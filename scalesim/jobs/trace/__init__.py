"""Trace: levels and sync from what an oscilloscope exported."""

from dataclasses import dataclass
from typing import ClassVar

from scalesim.job import Input, Job
from scalesim.schema import param


@dataclass(frozen=True, kw_only=True)
class Keys:
    """What it takes besides the records."""

    kind: ClassVar[str] = "trace"
    columns: str | None = param(
        None,
        type="text",
        unit="role=n,...",
        doc="What columns hold, such as csync=2,red=3 (from 1, time included) or csync=CH1. Roles: csync, "
        "video, sog, red, green, blue, hsync, vsync. Guessed and told when left out.",
    )
    load: str = param(
        "75",
        type="choice",
        choices=("75", "open"),
        doc="75: measured on a line that is terminated. open: no termination; levels are halved to what a "
        "terminated line has.",
    )
    probe: str = param(
        "1",
        type="choice",
        choices=("1", "10"),
        doc="10: a 10:1 probe whose factor the oscilloscope was not told.",
    )
    rate: float | None = param(
        None, unit="MS/s", above=0, at_most=1e6, doc="Samples a second, where the file has no time."
    )
    plan: bool = param(False, type="switch", doc="Tell how long and how fast to record, instead.")
    points: int | None = param(
        None,
        type="whole",
        unit="points",
        at_least=100,
        at_most=10**9,
        doc="Of the plan: what the oscilloscope can export.",
    )


JOB = Job(
    name="trace",
    step=65,
    about="""Tell levels, line and field rate, and interlaced or progressive from an oscilloscope's FILES.

Example: scalesim trace scope.csv

FILES are CSV as oscilloscopes export it, NumPy or WAV; several are short records of one signal. Sync may
be composite, on video or green, or separate. Record 60 ms at 2 MS/s or more; --plan says how. Writes
plots, every pulse as CSV, and result.json. sync_mv is the height of sync, peak_mv the highest lasting
level above blanking, blank_mv where blanking lies in the record; over_mv is peak_mv less what the system
asks. half_line_offset is how much further in its line each field begins than the one before; of fields
that begin early and late in turn, how far those lie apart. confidence is the chance that every field's
offset lies on its side of the nearest limit (1/4 and 3/4 line), its error being normal. Ends with 1 when
it cannot tell interlaced from progressive.

Measure on a terminated line, follow the manuals of oscilloscope and equipment, and never open a set.""",
    function="scalesim.jobs.trace.trace:trace",
    inputs=(
        Input("files", "traces", "records of one signal", required=False),
        Input(
            "display",
            "displays",
            "A display whose [vertical] tells where it lands the fields of this sync; give several.",
            option=True,
            required=False,
        ),
    ),
    keys=Keys,
)
