"""How sure a first place is: how often it stays first when the frames are drawn anew."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.jobs.compare.contest import Contest
from scalesim.metrics.key import MANY_FRAMES

RESAMPLES = 1000
_SEED = 20


def leads(contest: Contest) -> NDArray | None:
    """Return for each contestant the share of resamples of the frames in which it alone is first.

    The frames are drawn with replacement, as many as there are, 1000 times from one seed (the
    bootstrap, B. Efron, "Bootstrap methods: another look at the jackknife", Annals of Statistics 7,
    1979). None below six frames: a resample of one frame is that frame, which says nothing of others.
    """
    counts = frame_counts(contest)
    return None if counts is None else alone_first(contest.scores_over(counts))


def frame_counts(contest: Contest) -> NDArray | None:
    """Return how often each frame counts in each resample, (1000, frames) float64; None below six frames."""
    if contest.least_frames < MANY_FRAMES:
        return None
    count = len(contest.frames)
    drawn = np.random.RandomState(_SEED).randint(count, size=(RESAMPLES, count))
    return np.stack([np.bincount(row, minlength=count) for row in drawn]).astype(float)


def alone_first(scores: NDArray) -> NDArray:
    """Return for each contestant in what share of (resamples, contestants) scores it alone has the least."""
    known = np.where(np.isfinite(scores), scores, np.inf)
    first = known <= known.min(axis=1, keepdims=True) + 1e-9
    return np.asarray((first & (first.sum(axis=1, keepdims=True) == 1)).mean(axis=0))
