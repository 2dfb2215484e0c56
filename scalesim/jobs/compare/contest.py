"""A contest: those who are ranked together, the measures that decide, and their ranks frame by frame.

A contestant that misses a measure on more than half of the frames is not rated on it. A measure is
ranked over the frames on which all that are rated have it; when these are fewer than half, or fewer
than two contestants are rated, it decides nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from scalesim.metrics import key_of
from scalesim.metrics.key import Key


class Scored(Protocol):
    """What ranking needs of a row."""

    @property
    def frame(self) -> str: ...
    @property
    def chain(self) -> str: ...
    @property
    def metrics(self) -> Mapping[str, float | None]: ...


@dataclass(frozen=True, eq=False)
class Measure:
    """One measure of a contest.

    Parameters:
        key : what it is
        values : (frames, contestants) float64, NaN where it cannot be had
        rated : (contestants,) bool, who has it on half of the frames at least
        shared : (frames,) bool, where all that are rated have it
        captured : (contestants,) bool, whose values come from a capture
    """

    key: Key
    values: NDArray
    rated: NDArray
    shared: NDArray
    captured: NDArray

    @property
    def frames(self) -> int:
        """On how many frames contestants can be ranked by it."""
        if self.rated.sum() >= 2:
            return int(self.shared.sum())
        return int((np.isfinite(self.values).sum(axis=1) >= 2).sum())

    @property
    def decides(self) -> bool:
        """Whether two at least are rated, on half of the frames at least."""
        return bool(self.rated.sum() >= 2 and self.shared.any() and 2 * self.shared.sum() >= self.shared.size)

    @cached_property
    def outcomes(self) -> NDArray:
        """(frames, contestants, contestants) int8: +1 where the first beats the second, 0 for a tie.

        0 also where one of them is not rated, and on frames that are not shared.
        """
        values = np.where(self.rated & self.shared[:, None], self.merits, np.nan)
        one, other = values[:, :, None], values[:, None, :]
        captured = self.captured[:, None] | self.captured[None, :]
        ties = np.where(captured, self._ties(one, other, True), self._ties(one, other, False))
        better = (one - other) * (1.0 if self.key.better == "higher" else -1.0)
        # a difference that is the tie but for rounding is a tie
        with np.errstate(invalid="ignore"):
            return (better > ties + 1e-9).astype(np.int8) - (better < -ties - 1e-9).astype(np.int8)

    def _ties(self, one: NDArray, other: NDArray, captured: bool) -> NDArray:
        least, share = self.key.difference_parts(captured=captured)
        return np.maximum(least, share * np.maximum(np.abs(one), np.abs(other)))

    @cached_property
    def ranks(self) -> NDArray:
        """(frames, contestants) float64, NaN where nobody is ranked.

        One more than the number of those that beat a contestant, and half for each that ties with it: no
        chain of ties makes the first equal to the last.
        """
        worse = (self.outcomes < 0).sum(axis=2)
        rated = int(self.rated.sum())
        ties = rated - (self.outcomes != 0).sum(axis=2) - 1
        ranks = 1.0 + worse + 0.5 * ties
        return np.where(self.rated & self.shared[:, None], ranks, np.nan)

    @property
    def merits(self) -> NDArray:
        """(frames, contestants) what the values count as, see `Key.merit`."""
        return self.values if self.key.enough is None else np.minimum(self.values, self.key.enough)

    def median(self, contestant: int) -> float | None:
        """Return a contestant's median over the frames that are ranked; else over those where it has it."""
        own = self.values[:, contestant]
        ranked = self.decides and self.rated[contestant]
        own = own[self.shared] if ranked else own[np.isfinite(own)]
        return float(np.median(own)) if own.size else None

    def printed_apart(self, one: int, other: int) -> bool:
        """Return whether two medians read differently as printed, more than enough as enough."""
        pair = self.median(one), self.median(other)
        if pair[0] is None or pair[1] is None:
            return False
        merits = [self.key.merit(value) for value in pair if value is not None]
        return self.key.number(merits[0]) != self.key.number(merits[1])

    def won(self, one: int, other: int) -> int:
        """Return on how many frames one is better than another."""
        return int((self.outcomes[self.shared, one, other] > 0).sum())

    def differing(self, one: int, other: int) -> int:
        """Return on how many frames two differ by more than the measure resolves."""
        return int((self.outcomes[self.shared, one, other] != 0).sum())

    def beats(self, one: int, other: int) -> bool:
        """Return whether one is better than another on more than half of the frames, and reads so."""
        return 2 * self.won(one, other) > self.frames and self.printed_apart(one, other)


@dataclass(frozen=True, eq=False)
class Contest:
    """Contestants of one group.

    Parameters:
        name : what they share; chains, frames : labels; measures : all of the ranking's
    """

    name: str
    chains: tuple[str, ...]
    frames: tuple[str, ...]
    measures: tuple[Measure, ...]

    @cached_property
    def deciding(self) -> tuple[Measure, ...]:
        """The measures that decide."""
        return tuple(measure for measure in self.measures if measure.decides)

    @property
    def least_frames(self) -> int:
        """The fewest frames that a measure which decides is ranked over, 0 without one."""
        return min((measure.frames for measure in self.deciding), default=0)

    @cached_property
    def scores(self) -> NDArray:
        """(contestants,) float64: mean over frames, then over the measures; NaN without any."""
        return self.scores_over(np.ones((1, len(self.frames))))[0]

    def scores_over(self, counts: NDArray, weights: NDArray | None = None) -> NDArray:
        """Return (resamples, contestants) scores, each frame counted so often.

        Parameters:  counts : (resamples, frames); weights : (measures that decide,) how much each counts
            for, 0 and above; None is 1 for all
        """
        means = [_means(measure.ranks, counts) for measure in self.deciding]
        if not means:
            return np.full((len(counts), len(self.chains)), np.nan)
        stacked = np.stack(means)
        shares = (np.ones(len(means)) if weights is None else weights)[:, None, None]
        known = np.isfinite(stacked) * shares
        total = (np.where(np.isfinite(stacked), stacked, 0.0) * shares).sum(axis=0)
        weight = known.sum(axis=0)
        return np.where(weight > 0, total / np.where(weight > 0, weight, 1.0), np.nan)

    def relation(self, one: int, other: int) -> tuple[list[Measure], list[Measure]]:
        """Return the measures in which one contestant beats another, and in which it is beaten."""
        both = [m for m in self.deciding if m.rated[one] and m.rated[other]]
        return [m for m in both if m.beats(one, other)], [m for m in both if m.beats(other, one)]

    @property
    def captured(self) -> list[int]:
        """Those whose values come from a capture."""
        return [int(k) for k in np.flatnonzero(self.measures[0].captured)] if self.measures else []

    @property
    def predicted(self) -> list[int]:
        """The others."""
        return [k for k in range(len(self.chains)) if k not in self.captured]

    def agrees(self, one: int, other: int) -> bool:
        """Return whether two differ in no measure by more than it resolves on half of its frames."""
        if not self.deciding or not all(m.rated[one] and m.rated[other] for m in self.deciding):
            return False
        return all(2 * m.differing(one, other) < m.frames for m in self.deciding)

    def agreeing(self, capture: int, scores: NDArray | None = None) -> list[int]:
        """Return the predictions that a capture agrees with, the nearest by score first."""
        known = self.scores if scores is None else scores
        found = [k for k in self.predicted if self.agrees(capture, k)]
        return sorted(found, key=lambda k: abs(known[k] - known[capture]))

    @cached_property
    def standings(self) -> NDArray:
        """(contestants,) float64, what places go by: the scores; of a capture that of whom it agrees with.

        Ties do not chain, so two that tie with each other need not tie with the same others.
        """
        return self.standings_by(self.scores)

    def standings_by(self, scores: NDArray) -> NDArray:
        """Return the same of other scores."""
        found = scores.copy()
        for capture in self.captured:
            agreeing = self.agreeing(capture, scores)
            if agreeing:
                found[capture] = scores[agreeing[0]]
        return found

    def dominates(self, one: int, other: int) -> bool:
        """Return whether one is better in something and worse in nothing, of all the other is rated on."""
        if any(m.rated[other] and not m.rated[one] for m in self.deciding):
            return False
        better, worse = self.relation(one, other)
        return bool(better) and not worse

    @cached_property
    def beaten(self) -> tuple[bool, ...]:
        """Whether another is better than each in something and worse in nothing."""
        known = [k for k in range(len(self.chains)) if np.isfinite(self.scores[k])]
        return tuple(
            any(self.dominates(other, k) for other in known if other != k) for k in range(len(self.chains))
        )


def _means(ranks: NDArray, counts: NDArray) -> NDArray:
    """Return (resamples, contestants) means of ranks over frames counted so often, NaN without frames."""
    known = np.isfinite(ranks).astype(float)
    total, weight = counts @ np.where(np.isfinite(ranks), ranks, 0.0), counts @ known
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(weight > 0, total / weight, np.nan)


def contest(
    name: str, rows: Sequence[Scored], by: Sequence[str], captured: frozenset[str] = frozenset()
) -> Contest:
    """Return the contest of the rows of one group; `captured` are labels of captured boxes."""
    chains = tuple(dict.fromkeys(row.chain for row in rows))
    frames = tuple(dict.fromkeys(row.frame for row in rows))
    shown = np.array([chain in captured for chain in chains])
    found = {(row.frame, row.chain): row.metrics for row in rows}
    measures = []
    for key in map(key_of, by):
        values = np.array(
            [[_value(found.get((frame, chain), {}).get(key.name)) for chain in chains] for frame in frames]
        )
        known = np.isfinite(values)
        rated = 2 * known.sum(axis=0) >= len(frames)
        shared = known[:, rated].all(axis=1) if rated.any() else np.zeros(len(frames), bool)
        measures.append(Measure(key, values, rated, shared, shown))
    return Contest(name, chains, frames, tuple(measures))


def _value(value: float | None) -> float:
    return float("nan") if value is None else float(value)
