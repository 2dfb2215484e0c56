"""Evidence made from a frame and a chain, as predict makes it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.chain.best_place import best_place
from scalesim.chain.coverage import coverage
from scalesim.core.clip import still_clip
from scalesim.core.landed import landed
from scalesim.metrics import Evidence


def evidence_of(frame: NDArray, chain: str, mode: str | None = None) -> Evidence:
    """Return what a metric sees of a frame after a chain."""
    clip = still_clip(frame.astype(np.float32), mode=mode)
    members = Chain(chain)
    plan = members.resolve(clip.raster)
    cycle = tuple(p.values for p in members.run_still(clip.raster, clip.pictures()))
    return Evidence(
        clip.frame,
        clip.raster,
        cycle,
        landed(cycle, plan.output),
        plan.output,
        plan.geometry,
        coverage(plan),
        floor=best_place(members.stages, clip.raster),
    )


def grey(lines: NDArray, samples: int = 480) -> NDArray:
    """Return a frame whose lines have the given code values, all samples and channels alike."""
    return np.repeat(np.repeat(lines[:, None, None], samples, 1), 3, 2).astype(np.float32)
