"""Motion: does a box tear, drop or repeat pictures?"""

from scalesim.job import Input, Job

JOB = Job(
    name="motion",
    step=75,
    about="""Find every torn, repeated, dropped, mixed and out-of-order picture of a CAPTURE.

Example: scalesim motion capture.mp4

CAPTURE is a clip of the counter chart (scalesim chart counter) after the box: each of its lines says which
source picture it shows. Of an interlaced capture each field is read by itself. With --source it is held
against the clip that was played instead, which tells less. Writes every event as CSV, which source picture
every line shows, a plot over time and a page. Ends with 1 when the chart is not found in the capture.""",
    function="scalesim.jobs.motion.motion:motion",
    inputs=(
        Input("capture", "clip", "clip of what the box gives"),
        Input("source", "clip", "the clip that was played, when it was not the counter chart", True, False),
        Input("chain", "chain", "the boxes between the source clip and the capture", True, False),
    ),
    moded=True,
)
