"""A simulated box with a clock of its own: the counter chart through `slip`, and what `motion` finds."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from scalesim.chain import Chain
from scalesim.chain.run import run
from scalesim.charts.counter.draw import counter_chart, counter_frames
from scalesim.charts.counter.layout import layout
from scalesim.core.clip import Clip, still_clip
from scalesim.core.picture import Picture
from scalesim.jobs.motion.answer import MotionFound
from scalesim.jobs.motion.motion import motion

MODE = "240p"
BOX = "slip rate_in=60.054449 rate_out=59.94 buffer=tear"
FRAMES = 600
"""Ten seconds: in nine the tear rolls once over the picture."""


def tear_evening(advance: Callable[[str], None] = lambda _: None) -> MotionFound:
    """Return what a capture of the box shows: a tear that rolls."""
    advance("looking for tears")
    plan = layout(MODE)
    raster = still_clip(counter_chart(MODE).frame, mode=MODE).raster
    slipped = Chain(BOX).resolve(raster)

    def pictures() -> Iterator[Picture]:
        for number, luma in enumerate(counter_frames(plan, FRAMES)):
            values = ((luma.astype(np.float32) - 16) / 219)[..., None].repeat(3, axis=2)
            yield Picture(values, raster, number / raster.rate)

    return motion(Clip(slipped.output, lambda: run(slipped, pictures()), "simulated capture"))
