"""Tune: which setting to dial in."""

from scalesim.job import Job

JOB = Job(
    name="tune",
    step=40,
    about="Find the setting at which frames suffer least.",
    function="scalesim.jobs.tune.tune:tune",
)
