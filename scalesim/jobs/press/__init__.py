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


JOB = Job(
    name="press",
    step=41,
    about="""Measure what one press of a box's dial does, from captures BEFORE and AFTER some presses.

Example: scalesim press before.png after.png --presses 5

Both show one picture that stands still. With --back, a third capture after as many presses back, it also
tells the hysteresis. Writes the movement in lines and samples of the capture, with standard errors.""",
    function="scalesim.jobs.press.press:calibrate",
    inputs=(
        Input("before", "picture", "capture before the presses"),
        Input("after", "picture", "capture after them"),
        Input(
            "back", "picture", "A third capture, after as many presses back: shows hysteresis.", True, False
        ),
    ),
    keys=Keys,
)
