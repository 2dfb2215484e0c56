"""Identify: what a box does to lines."""

from scalesim.job import Input, Job

JOB = Job(
    name="identify",
    step=55,
    about="Learn what a box does from captures of the kernel chart.",
    function="scalesim.jobs.identify.identify:identify",
    inputs=(Input("captures", "clips", "captures of the chart"),),
)
