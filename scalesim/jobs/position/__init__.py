"""Position: where the picture sits now."""

from dataclasses import dataclass
from typing import ClassVar

from scalesim.job import Input, Job
from scalesim.schema import param


@dataclass(frozen=True, kw_only=True)
class Keys:
    """Which places are tried, and by what."""

    kind: ClassVar[str] = "position"
    vary: str | None = param(
        None,
        type="text",
        doc="Places to try, such as position.lines=-4:4:1/8; default: what the chain's dial can reach",
    )
    by: str = param("line_doubling", type="text", doc="Metric keys that decide, separated by commas")


JOB = Job(
    name="position",
    step=42,
    about="""Tell where a captured picture sits, and where it would be best, from a CAPTURE of a known frame.

Example: scalesim position now.png --source frame.png --chain "line-average lines=480, interlace"

Writes where it is, where the best place for that frame is, and the move between them in lines and presses
of the chain file's dial, with standard errors.""",
    function="scalesim.jobs.position.position:capture_position",
    inputs=(
        Input("capture", "picture", "capture of the present state", named="name"),
        Input("source", "frame", "The frame that was sent.", True),
        Input("chain", "chain", "The boxes in series, as they are believed to be set.", True),
    ),
    keys=Keys,
    moded=True,
)
