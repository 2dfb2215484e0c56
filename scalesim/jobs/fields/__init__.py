"""Fields: what successive fields carry."""

from scalesim.job import Input, Job

JOB = Job(
    name="fields",
    step=60,
    about="""Tell true interlace from one picture sent twice, from a CAPTURE of a box's fields.

Example: scalesim fields capture.mkv

CAPTURE is a clip, or pictures in the order of time: woven frames (400 to 640 or 1000 to 1088 lines,
whether marked interlaced or not), or one field each (240, 288). Textured, still pictures tell most;
what moves tells fields from whole progressive pictures. Writes the mean field of each parity and
result.json. Where a display draws the fields cannot be seen in a capture, so landing_offset is
null. confidence is the chance that the offset lies on this side of the nearest limit (1/4 and 3/4
line), its error being normal. Ends with 1 when the fields cannot be told apart.""",
    function="scalesim.jobs.fields.fields:fields",
    inputs=(Input("captures", "clips", "clips or pictures in the order of time"),),
    moded=True,
)
