"""What trying settings found, as numbers; `Tuning` puts it into words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from scalesim.chain import Chain
from scalesim.chain.dial import Dial
from scalesim.chain.vary import Varied
from scalesim.core.raster import Raster
from scalesim.jobs.frames import FrameSource
from scalesim.jobs.settings.carry import Carrier
from scalesim.jobs.settings.point import Point
from scalesim.search.certainty import Certainty, Gain, gain_of
from scalesim.search.objective import Objective
from scalesim.search.verdict import HOLDS


@dataclass(frozen=True, eq=False)
class Findings:
    """The setting to dial in, how sure that is, and the whole curve, as numbers.

    Parameters:
        chain : with the best setting; before : as it was given
        source : the raster of the first frame that counted
        dials : what varied
        frames : names of those that counted; left_out : frame -> reason
        objective : what counted as better
        best, present : the chosen setting and the one before
        ties : all settings within a tie of the best score
        margin : how much worse the next different optimum scores: beyond the best one's surroundings (the
            settings joined to it within `hold_distance`), repeats of it folded; None when there is none
        rival : that optimum; at an end of what was tried it need not be one
        certainty : how sure the best is, paired over the frames
        repeats : by how much of the one dial's unit the curve repeats, None when it does not
        softens : a position whose fractions of a line no scaler of the chain can take, so that they
            interpolate and soften (`certainty` then compares settings that soften alike); "" for none
        carriers : which scalers took the fractions of positions (`chain` and `before` have them there)
        curve : every setting tried, in the order of the grid
        holds : per numeric key, how far it may be off, (low, high) from the best, with the score within
            `hold_distance`
        how : "fast" (strips) or "full" (whole predictions), and why; the scores mean the same
        whole_grid : False when the dials were searched coarse to fine
        sources : the frames that counted, read again when a page shows them
    """

    chain: Chain
    before: Chain
    source: Raster
    dials: tuple[Varied, ...]
    frames: tuple[str, ...]
    left_out: Mapping[str, str]
    objective: Objective
    best: Point
    present: Point
    ties: tuple[Point, ...]
    margin: float | None
    rival: Point | None
    certainty: Certainty
    repeats: float | None
    softens: str
    carriers: tuple[Carrier, ...]
    curve: tuple[Point, ...]
    holds: Mapping[str, tuple[float, float]]
    how: str
    how_reason: str
    whole_grid: bool
    sources: tuple[FrameSource, ...]

    @property
    def score(self) -> float:
        """The score of the best setting."""
        assert self.best.score is not None
        return self.best.score

    @property
    def clear(self) -> bool:
        """Whether the best setting can be told from a typical one and from the next optimum."""
        return self.certainty.clear

    @property
    def on_present(self) -> Gain | None:
        """What the best setting saves on the present one; None where that has no score."""
        if self.present.score is None:
            return None
        own, now = (self.objective.costs(np.array(p.per_frame, float)) for p in (self.best, self.present))
        return gain_of(own, now, self.objective.tie)

    @property
    def worst_score(self) -> float:
        """The mean score of the worst setting."""
        most = self.certainty.most
        return -most if self.objective.higher_is_better else most

    @property
    def hold_distance(self) -> float:
        """A setting holds while the score stays this near to the best."""
        return HOLDS * self.objective.tie

    @cached_property
    def presses(self) -> dict[str, int | None]:
        """Key -> steps of the box's dial from the present setting to the best; None off the dial.

        Keys without a dial in the chain are left out.
        """
        dials: dict[str, Dial] = {dial.key: dial for dial in self.before.dials}
        return {
            key: dials[key].presses(self.present.values[key], value)
            for key, value in self.best.values.items()
            if key in dials
        }

    @property
    def worst_frame(self) -> tuple[str, float]:
        """The frame that scores worst at the best setting, and its score."""
        scores = [score for score in self.best.per_frame if score is not None]
        worst = min(scores) if self.objective.higher_is_better else max(scores)
        return self.frames[scores.index(worst)], worst
