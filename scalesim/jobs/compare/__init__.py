"""Compare: frames times chains, measured and ranked."""

from scalesim.job import Job

JOB = Job(
    name="compare",
    step=20,
    about="Compare chains over frames.",
    function="scalesim.jobs.compare.compare:compare",
)
