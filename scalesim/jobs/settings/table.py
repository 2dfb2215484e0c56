"""The table of a tuning: every candidate tried so far, and what it scores on the frames that count."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.chain.vary import Varied
from scalesim.jobs.frames import FrameSource
from scalesim.jobs.settings.candidates import Trial, Trials
from scalesim.jobs.settings.point import Point, change_of
from scalesim.search.grid import Place
from scalesim.search.objective import Objective

LEAST_KEPT = 0.5
"""A candidate that shows less than this share of what the present setting shows has no score."""


class TrialTable:
    """Every candidate tried so far, its trial, and its score."""

    def __init__(
        self, dials: Sequence[Varied], trials: Trials, objective: Objective, present: Mapping[str, Any]
    ) -> None:
        self.dials, self.trials, self.objective, self.present = dials, trials, objective, present
        self._trials: dict[Place, Trial] = {}
        (self.present_trial,) = trials.run([present])
        self.scored = Scored.of([], [], self)

    def values(self, place: Place) -> dict[str, Any]:
        """Return key -> value of a candidate."""
        return {dial.key: dial.values[at] for dial, at in zip(self.dials, place, strict=True)}

    def point(self, place: Place | None) -> Point:
        """Return a candidate with its scores; None for the present setting."""
        scored, row = self.scored, -1 if place is None else self.scored.rows[place]
        trial = self.present_trial if place is None else self._trials[place]
        why = scored.why[row]
        per_frame = tuple(None if why else float(score) for score in scored.all_per_frame[row])
        score = None if why else float(scored.all_per_frame[row].mean())
        metrics = {
            name: None if why or np.isnan(array[row]) else float(array[row])
            for name, array in scored.all_values.items()
        }
        values = dict(self.present) if place is None else self.values(place)
        return Point(values, score, per_frame, metrics, trial.cropped, why)

    def distance(self, place: Place) -> float:
        """Return how far a candidate is from the present setting, in shares of each dial's range."""
        return change_of(self.dials, self.present, self.values(place))

    def costs(self, places: Sequence[Place]) -> list[float | None]:
        """Return the cost of each place, trying those not tried before."""
        fresh = [place for place in places if place not in self._trials]
        found = self.trials.run([self.values(place) for place in fresh])
        self._trials.update(zip(fresh, found, strict=True))
        tried = list(self._trials)
        self.scored = Scored.of(tried, [self._trials[place] for place in tried], self)
        costs = self.objective.costs(self.scored.score)
        known = dict(zip(tried, (None if np.isnan(c) else float(c) for c in costs), strict=True))
        return [known[place] for place in places]


@dataclass(frozen=True, eq=False)
class Scored:
    """Scores of the places tried, the present setting last.

    Parameters:
        places : in the order tried
        frames : indices of the frames that have the metrics
        left_out : frame -> reason
        all_per_frame : (places + 1, frames) scores, NaN for none
        all_values : metric key -> (places + 1,) mean over the frames
        why : reason per place (and the present setting) for no score, "" when there is one
    """

    places: tuple[Place, ...]
    frames: tuple[int, ...]
    left_out: Mapping[str, str]
    all_per_frame: NDArray
    all_values: Mapping[str, NDArray]
    why: tuple[str, ...]

    @property
    def score(self) -> NDArray:
        """(places,) mean over the frames, NaN for none."""
        return self.all_per_frame[:-1].mean(axis=1)

    @cached_property
    def rows(self) -> dict[Place, int]:
        """Place -> its row."""
        return {place: row for row, place in enumerate(self.places)}

    @classmethod
    def of(cls, places: Sequence[Place], trials: Sequence[Trial], table: TrialTable) -> Scored:
        """Return the scores of trials of the places, and of the present setting."""
        every = [*trials, table.present_trial]
        sources, names = table.trials.frames, table.objective.names
        counted, left_out = _split_frames(every, names, sources)
        why = [_reason(trial, counted, table) for trial in every]
        values = {name: np.full((len(every), len(counted)), np.nan) for name in names}
        for row, trial in enumerate(every):
            for column, index in enumerate(counted):
                for name in names:
                    if not why[row]:
                        values[name][row, column] = trial.values[index][name]
        means = {name: array.mean(axis=1) if counted else array.sum(axis=1) for name, array in values.items()}
        for name, limits in table.objective.limits.items():
            why = [old or _beyond(name, value, limits) for old, value in zip(why, means[name], strict=True)]
        refused = np.array([bool(reason) for reason in why])
        for array in values.values():
            array[refused] = np.nan
        per_frame = table.objective.scores(values) if counted else np.full((len(every), 1), np.nan)
        return cls(tuple(places), tuple(counted), left_out, per_frame, means, tuple(why))


def _split_frames(
    trials: Sequence[Trial], names: Sequence[str], frames: Sequence[FrameSource]
) -> tuple[list[int], dict[str, str]]:
    """Return the frames that count, and frame -> reason for those that do not.

    A frame counts when it has every metric at some candidate, and at half as many as the frame that has
    them at most: one poor frame shall not leave the others without a score.
    """
    fitting = [trial for trial in trials if not trial.error]
    had, reasons = [], []
    for index in range(len(frames)):
        lacking = [t.why[index] for t in fitting if any(t.values[index][name] is None for name in names)]
        had.append(len(fitting) - len(lacking))
        reasons.append(next(iter(lacking[-1].values())) if lacking else "")
    counted = [k for k, times in enumerate(had) if not fitting or (times and 2 * times >= max(had))]
    left_out = {
        frame.name: reasons[k]
        + (f" (at {len(fitting) - had[k]} of {len(fitting)} settings)" if had[k] else "")
        for k, frame in enumerate(frames)
        if k not in counted
    }
    return counted, left_out


def _beyond(name: str, value: float, limits: tuple[float | None, float | None]) -> str:
    """Return how a mean lies beyond its limits, "" when it does not."""
    least, most = limits
    if least is not None and value < least:
        return f"{name} is {value:.3g}; it must be at least {least:g}"
    if most is not None and value > most:
        return f"{name} is {value:.3g}; it must be at most {most:g}"
    return ""


def _reason(trial: Trial, frames: Sequence[int], table: TrialTable) -> str:
    """Return why a candidate has no score, "" when it has one."""
    if trial.error:
        return trial.error
    shown = table.present_trial.cropped
    least = LEAST_KEPT * (100.0 - (shown or 0.0))
    if trial.cropped is not None and 100.0 - trial.cropped < least:
        return f"pushes or hides {trial.cropped:.0f} % of the picture; {100 - least:.0f} % is the most"
    for index in frames:
        for name in table.objective.names:
            if trial.values[index][name] is None:
                return f"{table.trials.frames[index].name}: {trial.why[index][name]}"
    return ""
