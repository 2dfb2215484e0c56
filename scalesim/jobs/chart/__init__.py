"""Chart: what to play through a box or on a tube."""

from scalesim.job import Job

JOB = Job(
    name="chart",
    step=50,
    about="Write a chart to play through a box or on a tube.",
    function="scalesim.jobs.chart.chart:chart",
)
