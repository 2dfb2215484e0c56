"""Position: where the picture sits now."""

from scalesim.job import Input, Job

JOB = Job(
    name="position",
    step=42,
    about="""Tell where a captured picture sits, against where a chain puts it, from a CAPTURE of a known
    frame.

Example: scalesim position now.png --source frame.png --chain "line-average lines=480, interlace"

Writes how far it must be moved, in source lines and scan lines, with standard errors.""",
    function="scalesim.jobs.position.position:capture_position",
    inputs=(
        Input("capture", "picture", "capture of the present state", named="name"),
        Input("source", "frame", "The frame that was sent.", True),
        Input("chain", "chain", "The boxes in series, as they are believed to be set.", True),
    ),
    moded=True,
)
