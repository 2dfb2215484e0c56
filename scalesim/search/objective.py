"""What counts as better: one metric, a weighted sum, or the mean of several; and limits to keep.

- one key: its own value, in the direction the metric says;
- several keys: each is put on 0 (its best over all candidates, frame by frame) to 1 (its worst), and
  the mean is taken; where a metric's best and worst are nearer than ten ties, ten ties count as the
  distance, so that one that hardly changes hardly counts;
- weights: the sum of weight times value in the metrics' own units, lower being better; a metric of
  which more is better is subtracted.

A *tie* is a difference that says nothing; each metric states its own. Definitions of this project.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import ParameterError
from scalesim.metrics import check_metrics, key_of
from scalesim.metrics.key import HOLDS, SHARE_TIE

Limits = Mapping[str, tuple[float | None, float | None]]

_LIMIT = re.compile(r"\s*([a-z0-9_]+)\s*(<=|>=)\s*([+-]?\d+(?:\.\d+)?)\s*")


@dataclass(frozen=True)
class Objective:
    """How candidates are scored.

    Parameters:
        weights : metric key -> weight; all 1 unless `how` is "sum"
        how : "one" metric, the "mean" of several, or their weighted "sum"
        limits : metric key -> (least, most) a candidate must keep to, None for no limit
    """

    weights: Mapping[str, float]
    how: Literal["one", "mean", "sum"]
    limits: Limits

    @property
    def keys(self) -> tuple[str, ...]:
        """The metrics the score is made of."""
        return tuple(self.weights)

    @property
    def names(self) -> tuple[str, ...]:
        """Every metric that has to be measured."""
        return tuple(dict.fromkeys([*self.weights, *self.limits]))

    @property
    def text(self) -> str:
        """The objective as it is said: "line_doubling", or "mean of …"."""
        if self.how == "one":
            return self.keys[0]
        if self.how == "mean":
            return "mean of " + ", ".join(self.keys)
        return " + ".join(f"{weight:g} {key}" for key, weight in self.weights.items())

    @property
    def higher_is_better(self) -> bool:
        """Direction of the score."""
        return self.how == "one" and key_of(self.keys[0]).better == "higher"

    @property
    def tie(self) -> float:
        """Scores that differ by no more than this are equal."""
        if self.how == "one":
            return key_of(self.keys[0]).tie
        if self.how == "mean":
            return SHARE_TIE
        return sum(abs(weight) * key_of(key).tie for key, weight in self.weights.items())

    def scores(self, values: Mapping[str, NDArray]) -> NDArray:
        """Return every candidate's score on every frame, NaN where a value is missing.

        Parameters:  values : metric key -> (candidates, frames), NaN for none
        """
        if self.how == "one":
            return np.asarray(values[self.keys[0]])
        if self.how == "sum":
            weighted = [weight * _sign(key) * values[key] for key, weight in self.weights.items()]
            return np.sum(weighted, axis=0)
        return np.mean([_spread(values[key], key) for key in self.keys], axis=0)

    def costs(self, scores: NDArray) -> NDArray:
        """Return the scores so that lower is better."""
        return -scores if self.higher_is_better else scores


def make_objective(by: str | Iterable[str] | Mapping[str, float], where: Any = None) -> Objective:
    """Return the objective of ``by`` and the limits of ``where``.

    Parameters:
        by : a metric key, several (a list, or separated by commas), or key -> weight
        where : key -> (least, most) with None for open, or texts such as "cropped_percent<=2"
    Raises: ParameterError for unknown keys, keys without a direction, weights or limits that are none
    """
    weights = dict(by) if isinstance(by, Mapping) else dict.fromkeys(check_metrics(by), 1.0)
    keys = check_metrics(list(weights))
    if not keys:
        raise ParameterError("by is empty; name at least one metric, such as line_doubling")
    for key in keys:
        if key_of(key).better == "neither":
            raise ParameterError(f"by: {key} has no better or worse; tune by another metric")
        if not _is_number(weights[key]) or weights[key] <= 0:
            raise ParameterError(f"by: weight of {key} is {weights[key]!r}; it must be a number above 0")
    how: Literal["one", "mean", "sum"] = "mean"
    if isinstance(by, Mapping):
        how = "sum"
    if len(keys) == 1:
        how, weights = "one", {keys[0]: 1.0}
    return Objective({key: float(weights[key]) for key in keys}, how, _limits(where))


def _sign(key: str) -> float:
    return -1.0 if key_of(key).better == "higher" else 1.0


def _spread(values: NDArray, key: str) -> NDArray:
    """Return the values on 0 (best) to 1 (worst); the axis of candidates is the first."""
    cost = _sign(key) * values
    known = np.isfinite(cost)
    least = cost.min(axis=0, where=known, initial=np.inf)
    most = cost.max(axis=0, where=known, initial=-np.inf)
    return (cost - least) / np.maximum(most - least, HOLDS * key_of(key).tie)


def _limits(where: Any) -> Limits:
    if where is None:
        return {}
    if isinstance(where, str):
        where = where.split(",")
    if not isinstance(where, Mapping):
        found: dict[str, tuple[float | None, float | None]] = {}
        for text in where:
            key, limits = _limit_of(text)
            old = found.get(key, (None, None))
            found[key] = tuple(new if new is not None else was for new, was in zip(limits, old, strict=True))  # type: ignore[assignment]  # two of two
        where = found
    check_metrics(list(where))
    return {key: _checked_limit(key, limit) for key, limit in where.items()}


def _limit_of(text: Any) -> tuple[str, tuple[float | None, float | None]]:
    match = _LIMIT.fullmatch(text) if isinstance(text, str) else None
    if match is None:
        raise ParameterError(f"where is {text!r}; write a limit such as cropped_percent<=2")
    number = float(match[3])
    return match[1], (None, number) if match[2] == "<=" else (number, None)


def _checked_limit(key: str, limit: Any) -> tuple[float | None, float | None]:
    good = isinstance(limit, Sequence) and not isinstance(limit, str) and len(limit) == 2
    if not good or not all(end is None or _is_number(end) for end in limit):
        raise ParameterError(f"where: limits of {key} are {limit!r}; give (least, most), None for no limit")
    least, most = limit
    if least is not None and most is not None and least > most:
        raise ParameterError(f"where: limits of {key} are {least:g} to {most:g}; the first is the least")
    return least, most


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value)
