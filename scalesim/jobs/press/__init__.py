"""Press: what one press of a dial does."""

from dataclasses import dataclass
from typing import ClassVar

from scalesim.job import Input, Job
from scalesim.schema import param


@dataclass(frozen=True, kw_only=True)
class Keys:
    """What it takes besides captures."""

    kind: ClassVar[str] = "press"
    presses: int = param(1, type="whole", at_least=1, doc="Presses between the two captures.")
    key: str = param(
        "position.lines", type="text", doc="The chain's key that the dial turns: the lines of a position"
    )
    mode: str | None = param(
        None, type="text", doc="Mode of the source, such as 720p, where the chain's lines depend on it"
    )
    label: str | None = param(None, type="text", doc="What the box calls the dial")


JOB = Job(
    name="press",
    step=41,
    about="""Measure what one press of a box's dial does, from captures BEFORE and AFTER some presses.

Example: scalesim press before.png after.png --presses 5

Both show one picture that stands still. With --back, a third capture after as many presses back, it also
tells the hysteresis. Writes the movement in lines and samples of the capture, with standard errors, and
a [[dial]] table for a chain file: in the chain's own lines with --chain, else in capture lines. With the
--source that was sent, too, each capture is compared with what the chain makes of it at many positions,
which leaves no error from where the box samples.""",
    function="scalesim.jobs.press.press:calibrate",
    inputs=(
        Input("before", "picture", "capture before the presses"),
        Input("after", "picture", "capture after them"),
        Input(
            "back", "picture", "A third capture, after as many presses back: shows hysteresis.", True, False
        ),
        Input("chain", "chain", "The boxes in series: the dial is given in its lines.", True, False),
        Input("source", "picture", "The frame that was sent: with --chain the steps are exact.", True, False),
    ),
    keys=Keys,
)
