"""Fields: what successive fields carry."""

from scalesim.job import Input, Job

JOB = Job(
    name="fields",
    step=60,
    about="""Tell true interlace from one picture sent twice, from a CAPTURE of a box's fields.

Example: scalesim fields capture.mkv

CAPTURE is a clip, or pictures in the order of time: woven frames (480, 576 or 1080 lines), or one
field each (240, 288). Textured, still pictures tell most. Writes the mean field of each parity and
result.json. Where a display draws the fields cannot be seen in a capture, so landing_offset is
null. confidence is erf(t / sqrt 2), t the distance of the offset to the nearest limit (1/4 and 3/4
line) in units of three standard errors. Ends with 1 when the fields cannot be told apart.""",
    function="scalesim.jobs.fields.fields:fields",
    inputs=(Input("captures", "clips", "clips or pictures in the order of time"),),
    moded=True,
)
