"""Whether the best setting is better than others by more than chance: paired over frames.

Every frame is its own judge: what it costs at one setting less what it costs at another. The mean of
those differences and their standard error say how far the gain can be trusted. Of few frames the spread
is not known, so a spread of `PRIOR_TIES` ties counts as if it had been seen on `PRIOR_FRAMES` more: one
frame alone must gain clearly more than the measure's resolution.

A setting is *clear* when it gains more than a tie on a typical setting, and anything at all on the next
different optimum, both at the lower end of an interval of two standard errors. The constants were chosen
on half of the frames of tests/benchmarks/bench_clear.py, which prints what they give on the others.
Definitions of this project.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.search.grid import Place

PRIOR_TIES = 3.0
PRIOR_FRAMES = 2
_ERRORS = 2.0
_LEAST_ALIKE = 3
"""Fewer settings than this are no typical one."""


@dataclass(frozen=True)
class Gain:
    """What the best setting saves against another, paired over frames, in units of cost.

    Parameters:
        mean : over the frames; low, high : ends of the interval of two standard errors
        better : frames on which the best setting costs less; frames : of so many
    """

    mean: float
    low: float
    high: float
    better: int
    frames: int


@dataclass(frozen=True)
class Certainty:
    """How sure the best setting is.

    Parameters:
        resolution : cost that says nothing (a tie)
        least, most : mean cost of the best and of the worst setting
        worst : gain on the worst setting
        typical : on the median of all settings, frame by frame; None for fewer than three of them
        rival : on the next different optimum; None when there is none
    """

    resolution: float
    least: float
    most: float
    worst: Gain
    typical: Gain | None
    rival: Gain | None

    @property
    def matters(self) -> bool:
        """Whether the settings differ by more than the measure resolves."""
        return self.most - self.least > self.resolution

    @property
    def clear(self) -> bool:
        """Whether the best setting can be told from a typical one and from the next optimum."""
        sure = self.typical is not None and self.typical.low > self.resolution
        return self.matters and sure and (self.rival is None or self.rival.low > 0)


def certainty_of(
    costs: Mapping[Place, NDArray],
    best: Place,
    rival: Place | None,
    alike: Sequence[Place],
    tie: float,
) -> Certainty:
    """Return how sure the best place is.

    Parameters:
        costs : place -> (frames,) costs, at least one place
        rival : the next different optimum, if any
        alike : places a typical setting is made of
        tie : cost that says nothing
    """
    own = costs[best]
    means = {place: float(cost.mean()) for place, cost in costs.items()}
    worst = max(means, key=lambda place: means[place])
    typical = np.median([costs[place] for place in alike], axis=0) if len(alike) >= _LEAST_ALIKE else None
    return Certainty(
        resolution=tie,
        least=means[best],
        most=means[worst],
        worst=gain_of(own, costs[worst], tie),
        typical=None if typical is None else gain_of(own, typical, tie),
        rival=None if rival is None else gain_of(own, costs[rival], tie),
    )


def gain_of(best: NDArray, other: NDArray, tie: float) -> Gain:
    """Return what `best` saves against `other`, (frames,) costs each."""
    saved = np.asarray(other, float) - np.asarray(best, float)
    mean, count = float(saved.mean()), len(saved)
    squares = float(np.sum(np.square(saved - mean))) + PRIOR_FRAMES * (PRIOR_TIES * tie) ** 2
    error = float(np.sqrt(squares / (PRIOR_FRAMES + count - 1) / count))
    return Gain(mean, mean - _ERRORS * error, mean + _ERRORS * error, int(np.sum(saved > 0)), count)
