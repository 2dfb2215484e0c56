"""Demo: the whole bench on drawn frames."""

from scalesim.job import Job

JOB = Job(
    name="demo",
    step=99,
    about="Show the whole bench on drawn frames.",
    function="scalesim.jobs.demo.demo:demonstrate",
)
