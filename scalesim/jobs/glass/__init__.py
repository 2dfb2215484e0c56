"""Glass: what a photo or a film of a tube shows."""

from dataclasses import dataclass
from typing import ClassVar

from scalesim.job import Input, Job
from scalesim.schema import param


@dataclass(frozen=True, kw_only=True)
class Keys:
    """What it takes besides the photos."""

    kind: ClassVar[str] = "glass"
    corners: str | None = param(
        None,
        type="text",
        unit="x,y x,y x,y x,y",
        doc="The picture's left top, right top, right bottom and left bottom corner, in pixels of the photo.",
    )
    lines: int | None = param(
        None,
        type="whole",
        unit="lines",
        at_least=100,
        at_most=700,
        doc="Lines you expect over the picture's height (240, 288, 480 ...), where corners are not known.",
    )
    field_rate: float = param(
        59.94, unit="fields/s", at_least=40, at_most=130, doc="Fields a second that the tube draws."
    )
    shutter: str | None = param(
        None,
        type="text",
        unit="seconds",
        doc="How long the shutter was open, such as 1/30; taken from the photo when left out.",
    )
    bezel: str | None = param(
        None,
        type="text",
        unit="left,top,right,bottom",
        doc="Of several photos: a part that belongs to the tube and not to its picture (bezel, label), in "
        "pixels; found when left out.",
    )
    tripod: bool = param(
        False, type="switch", doc="Several photos were taken from a tripod, so that no bezel is needed."
    )
    chart: str | None = param(
        None,
        type="text",
        unit="mode",
        doc="The photo shows the geometry chart of this mode (720p, or 720p:4:3): it is straightened by its "
        "discs.",
    )
    whole: bool = param(
        False, type="switch", doc="Read a film to its end; two dozen frames are read when left out."
    )
    plan: bool = param(False, type="switch", doc="Tell how to take the photo, instead.")


JOB = Job(
    name="glass",
    step=67,
    about="""Tell how many scan lines a photo or film of a tube shows, one set or two, how still.

Example: scalesim glass photo.jpg --corners "110,80 1810,92 1796,1370 98,1352"

PHOTOS of one set-up: one photo, a burst of short exposures, or a film. --plan says how to take them,
--before and --after lay two photos on each other, --source and --chain tell which chain explains a photo.
Writes the photo set upright, its lines marked, plots, lines.csv and result.json. One set or two is told by
an exposure of 2 or 4 whole fields where the scale is known (--corners, or --lines with the whole picture in
view) and a line is 5 pixels or more; by short exposures registered on the bezel; or by a film's timing.
pixels_per_line is the pitch of the lines that are seen: two sets show half of a field's. landing_offset is
where the second field lies, in pitches of a field's lines. confidence is that of the sets: of a long
exposure and of a film a logistic function of how far their measure lies from its limit (0.88 at 0.1 and
0.12), of n photos with the lines in one place 1 / (1 + 2^(1-n)), 0.98 for two places. beam_grows is whether
lines were seen to grow with the picture, as those of a tube do and slats of a fence never. Ends with 1 when
one set cannot be told from two.

Film of a tube is film of flicker: look at it small. Nobody opens a set.""",
    function="scalesim.jobs.glass.glass:glass",
    inputs=(
        Input("photos", "photos", "photos of one set-up, or a film", required=False),
        Input("before", "photo", "Photo to lay beside --after.", option=True, required=False),
        Input("after", "photo", "Photo to lay beside --before.", option=True, required=False),
        Input("source", "frame", "Frame that was shown.", option=True, required=False),
        Input("chain", "chains", "A chain that may have made the picture; give several.", True, False),
        Input("display", "display", "The tube: a key as predict has, or a file.", True, False),
        Input("camera", "camera", "The camera: phone, system, or a file.", True, False),
    ),
    keys=Keys,
)
