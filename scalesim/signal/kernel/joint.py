"""Both fields explained by one method at one place: phases fitted together, as a chain has them.

Each field by itself may ask for a phase of its own. A chain has one: the bottom field of an interlaced
picture looks half a step below the first, one that shows the same lines looks at the same place. A method
whose two phases lie otherwise is no answer, however well it explains each field alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.kernel.field_identity import Fitted, Prepared
from scalesim.signal.kernel.line_operator_fit import measured
from scalesim.signal.kernel.method_fit import Trial

_SAME = 0.12
"""Shares of a step by which two fields' lines may miss where a relation has them."""
_SEARCH = 24
_HAIR = 1e-9


@dataclass(frozen=True)
class Relation:
    """How the lines of two fields lie to each other.

    Parameters:
        name : "same", "half-line", "swapped", "progressive" or "unknown"
        apart : steps (frame sources) or source lines (single fields) from the top field's phase to the
            lower one's
        reversed : the field captured second is the upper one
        naive : each field is scaled with one phase, whatever its parity
    """

    name: str
    apart: float = 0.0
    reversed: bool = False
    naive: bool = False


@dataclass(frozen=True)
class Joint:
    """A method at phases that one chain gives.

    Parameters:
        trials : one per field, the top field first
        relation : of the fields
        span : phases [low, high) of the first trial for which all fields choose the same whole lines; None
            where weights change smoothly
    """

    trials: tuple[Trial, ...]
    relation: Relation
    span: tuple[float, float] | None

    @property
    def misfit(self) -> float:
        """Sum of squares left over, all fields."""
        return sum(trial.misfit for trial in self.trials)


def joined(
    fitted: Fitted, source: str, parities: Sequence[int | None], *, woven: bool, shared: bool
) -> tuple[Joint, ...]:
    """Return every method that survived, its fields' phases tied to each other, least misfit first.

    Parameters:
        source : "frame" or "fields", the lines that the box worked on
        woven : the fields were captured in one frame, whose order says which is the upper one
        shared : both fields show the same lines and were fitted as one
    """
    if len(fitted.fields) == 1:
        relation = Relation("same" if shared else "progressive")
        found = [Joint(trials, relation, chosen_span(trials[0], fitted.fields[0])) for trials in fitted.joint]
    else:
        found = [_tied(trials, fitted, source, parities, woven) for trials in fitted.joint]
    return tuple(sorted(found, key=lambda joint: joint.misfit))


def _tied(
    trials: tuple[Trial, ...], fitted: Fitted, source: str, parities: Sequence[int | None], woven: bool
) -> Joint:
    options = _relations(trials[0].step, source, parities, woven)
    tied = [_at(trials, fitted, option) for option in options]
    fits = [one for one in tied if one is not None]
    if fits:
        return min(fits, key=lambda joint: joint.misfit)
    return Joint(trials, Relation("unknown"), None)


def _relations(step: float, source: str, parities: Sequence[int | None], woven: bool) -> list[Relation]:
    """Return the relations that a chain can give, `apart` in source lines."""
    turned = "swapped" if woven else "half-line"
    if source == "frame":
        half = step / 2
        return [Relation("same"), Relation("half-line", half), Relation(turned, half, reversed=True)]
    if parities[0] == parities[1]:
        return [Relation("same"), Relation("half-line", step / 2)]
    back = parities[0] == 1
    name = turned if back else "half-line"
    naive = name if abs(step - 1) < 2 * _SAME else "unknown"
    return [Relation(name, (step - 1) / 2, back), Relation(naive, 0.0, back, naive=True)]


def _at(trials: tuple[Trial, ...], fitted: Fitted, relation: Relation) -> Joint | None:
    """Return the trials with phases `relation.apart` lines apart, or None when they are far from that."""
    turn = -1 if relation.reversed else 1
    upper, lower = trials[::turn]
    fields = fitted.fields[::turn]
    miss = lower.phase - relation.apart - upper.phase
    if abs(miss) > max(_SAME * upper.step, 0.0 if upper.method.base.steady else 1.05):
        return None
    if upper.method.base.steady:
        both = _placed((upper, lower), fields, upper.phase + miss / 2, relation.apart)
        return Joint(both, relation, None)
    span = _common(upper, lower, fields, relation.apart)
    if span is None:
        middle = upper.phase + miss / 2
        reach = abs(miss) / 2 + 1 / 32
        tried = middle + reach * np.linspace(-1, 1, 2 * _SEARCH + 1)
        all_tried = [_placed((upper, lower), fields, float(phase), relation.apart) for phase in tried]
        least = min(_total(both) for both in all_tried)
        alike = [both for both in all_tried if _total(both) <= least * (1 + _HAIR) + _HAIR**2]
        both = alike[len(alike) // 2]
        span = _common(both[0], both[1], fields, relation.apart)
    else:
        both = _placed((upper, lower), fields, (span[0] + span[1]) / 2, relation.apart)
    return Joint(both, relation, span)


def _placed(
    pair: tuple[Trial, Trial], fields: Sequence[Prepared], phase: float, apart: float
) -> tuple[Trial, ...]:
    places = (phase, phase + apart)
    return tuple(
        measured(p.lines, p.seen.rows, replace(trial, phase=place))
        for p, trial, place in zip(fields, pair, places, strict=True)
    )


def _total(trials: Sequence[Trial]) -> float:
    return sum(trial.misfit for trial in trials)


def _common(
    upper: Trial, lower: Trial, fields: Sequence[Prepared], apart: float
) -> tuple[float, float] | None:
    """Return the phases of the top field that choose both fields' lines, or None."""
    first, second = chosen_span(upper, fields[0]), chosen_span(lower, fields[1])
    assert first is not None and second is not None
    low, high = max(first[0], second[0] - apart), min(first[1], second[1] - apart)
    return (low, high) if high - low > 1e-6 else None


def chosen_span(trial: Trial, prepared: Prepared) -> tuple[float, float] | None:
    """Return the phases [low, high) that choose the same whole lines as a trial; None for smooth weights."""
    if trial.method.base.steady:
        return None
    data = prepared.lines
    taps = trial.method.taps is not None
    starts = _starts(trial.step / 2 if taps else trial.step, 2 * data.lines if taps else data.lines)
    starts = starts + trial.phase + _HAIR
    part = starts - np.floor(starts)
    inside = (starts >= 0) & (starts < len(data.codes))
    part = part[inside] if inside.any() else part
    return trial.phase - float(part.min()) + _HAIR, trial.phase + 1 - float(part.max()) + _HAIR


def _starts(step: float, count: int) -> NDArray:
    return np.arange(count) * step
