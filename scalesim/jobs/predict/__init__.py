"""Predict: what a frame looks like after a chain."""

from scalesim.job import Input, Job

JOB = Job(
    name="predict",
    step=10,
    about="Predict what a frame looks like after a chain, and measure it.",
    function="scalesim.jobs.predict.predict:predict",
    inputs=(Input("source", "frame", "the frame"), Input("chain", "chain", "The boxes in series.", True)),
    moded=True,
)
