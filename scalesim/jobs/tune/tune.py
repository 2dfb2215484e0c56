"""Tune: which setting to dial in on the box, how sure that is, and the whole curve.

Every candidate is measured on every frame; the score of a candidate is the mean over the frames.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from math import prod
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain, as_chain
from scalesim.chain.keys import get_key
from scalesim.chain.vary import Varied, parse_vary, varied
from scalesim.core.clip import Clip, still_clip
from scalesim.core.picture import check_reference
from scalesim.errors import NotMeasurable, ParameterError
from scalesim.jobs.frames import FrameSource, named_apart
from scalesim.jobs.tune.candidates import Trials
from scalesim.jobs.tune.table import TrialTable
from scalesim.jobs.tune.tuning import Tuning
from scalesim.metrics import key_of
from scalesim.metrics.key import HOLDS
from scalesim.search.grid import Place, planned, search
from scalesim.search.objective import make_objective
from scalesim.search.verdict import Verdict, judge
from scalesim.stages import Stage

MOST_CANDIDATES = 20_000
"""More candidates than this are refused unless they are said to be meant."""


def tune(
    chain: Chain | str | Stage | Sequence[Stage],
    frames: Iterable[Clip | FrameSource | NDArray],
    *,
    vary: Mapping[str, Any] | str | Iterable[str] | None = None,
    by: str | Iterable[str] | Mapping[str, float] = "line_doubling",
    where: Any = None,
    yes: bool = False,
    reference: str | NDArray = "ideal",
    advance: Callable[[str], None] = lambda _: None,
) -> Tuning:
    """Return the setting of a chain's keys at which frames score best.

    Parameters:
        chain : a `Chain`, its text, or stages; the keys as they are now are the present setting
        frames : stills, read one at a time
        vary : ``{"position.lines": (-4, 4, 1/8)}`` (first, last, step) or a list of values, or texts
            such as "position.lines=-4:4:1/8"; None varies the chain's dials
        by : a metric key, several (their mean), or key -> weight; see `objective`
        where : limits a candidate must keep to, such as ``{"cropped_percent": (None, 2)}`` or
            "cropped_percent<=2", on the mean over the frames
        yes : try more than 20000 candidates all the same
        reference : what fidelity metrics compare with
        advance : called with what is worked on
    Raises: ParameterError for keys, values, metrics or limits that are none, and when no candidate can
        be had; NotMeasurable when no frame has the metrics at any candidate
    """
    chain, objective = as_chain(chain), make_objective(by, where)
    dials = _dials(chain, vary, yes)
    _check_count(dials, yes)
    check_reference(reference)
    sources = named_apart(_as_source(frame, number) for number, frame in enumerate(frames, start=1))
    if not sources:
        raise ParameterError("no frames to tune on; name at least one picture")
    keys = tuple(dial.key for dial in dials)
    trials = Trials(chain.stages, keys, sources, objective.names, reference, advance)
    if not trials.frames:
        raise ParameterError("no frame could be read: " + "; ".join(trials.failed.values()))
    table = TrialTable(dials, trials, objective, {key: get_key(chain.stages, key) for key in keys})
    places = search([len(d.values) for d in dials], [d.ordered for d in dials], table.costs)
    return _answer(chain, table, places)


def _dials(chain: Chain, vary: Any, yes: bool) -> tuple[Varied, ...]:
    if vary is not None:
        return parse_vary(chain.stages, vary, most=None if yes else MOST_CANDIDATES)
    if not chain.dials:
        raise ParameterError(
            "nothing to vary: give vary such as position.lines=-4:4:1/8, or a chain file with [[dial]] tables"
        )
    return tuple(varied(chain.stages, dial.key, dial.steps) for dial in chain.dials)


def _check_count(dials: Sequence[Varied], yes: bool) -> None:
    count = planned([len(d.values) for d in dials], [d.ordered for d in dials])
    if count > MOST_CANDIDATES and not yes:
        each = " times ".join(str(len(dial.values)) for dial in dials)
        raise ParameterError(
            f"vary: {each} is {count} candidates; at most {MOST_CANDIDATES} unless yes is given "
            "(larger steps, or shorter ranges)"
        )


def _as_source(frame: Any, number: int) -> FrameSource:
    if isinstance(frame, FrameSource):
        return frame
    clip = frame if isinstance(frame, Clip) else still_clip(frame, name=f"frame {number}")
    return FrameSource(clip.name, lambda: clip)


def _answer(chain: Chain, table: TrialTable, places: Sequence[Place]) -> Tuning:
    """Return the verdict over the places tried.

    Raises: NotMeasurable when no frame is left, ParameterError when no candidate is
    """
    scored, objective = table.scored, table.objective
    if not scored.frames:
        raise NotMeasurable("no frame can be tuned on: " + next(iter(scored.left_out.values())))
    points = {place: table.point(place) for place in places}
    costs = dict(zip(scored.places, objective.costs(scored.score).tolist(), strict=True))
    known = {place: cost for place, cost in costs.items() if not np.isnan(cost)}
    if not known:
        first = scored.why[0]
        raise ParameterError(f"none of the {len(places)} settings has a score: {first}")
    ordered = [dial.ordered for dial in table.dials]
    verdict = judge(known, ordered, tie=objective.tie, holds=HOLDS * objective.tie, distance=table.distance)
    best = points[verdict.best]
    return Tuning(
        chain=chain.with_keys(best.values),
        before=chain,
        source=table.trials.rasters[scored.frames[0]],
        dials=tuple(table.dials),
        frames=tuple(table.trials.frames[index].name for index in scored.frames),
        left_out={**table.trials.failed, **scored.left_out},
        objective=objective,
        best=best,
        present=table.point(None),
        ties=tuple(points[place] for place in verdict.ties),
        margin=verdict.margin,
        clear=_is_clear(table, verdict, known),
        curve=tuple(points[place] for place in places),
        holds=_holds(table, verdict),
        how=table.trials.how,
        how_reason=table.trials.slow_because,
        whole_grid=len(places) == prod(len(dial.values) for dial in table.dials),
        sources=tuple(table.trials.frames[index] for index in scored.frames),
    )


def _is_clear(table: TrialTable, verdict: Verdict, known: Mapping[Place, float]) -> bool:
    """Return whether some metric's worst is far enough from its value at the best place.

    With several metrics the score itself must vary by more than 30 % of its worst, too.
    """
    scored, objective = table.scored, table.objective
    rows = [row for row, place in enumerate(scored.places) if place in known]
    best = scored.places.index(verdict.best)
    for key in map(key_of, objective.keys):
        values = scored.all_values[key.name][rows]
        own = float(scored.all_values[key.name][best])
        worst = float(values.min() if key.better == "higher" else values.max())
        if key.is_clear(own, worst):
            break
    else:
        return False
    costs = list(known.values())
    return objective.how == "one" or max(costs) - min(costs) > 0.3 * max(map(abs, costs))


def _holds(table: TrialTable, verdict: Verdict) -> dict[str, tuple[float, float]]:
    """Return, per numeric dial, how far its value may be off: (lowest, highest) from the best."""
    found = {}
    for dial, at, (first, last) in zip(table.dials, verdict.best, verdict.holds, strict=True):
        if dial.ordered and len(dial.values) > 1:
            ends = sorted((dial.values[first], dial.values[last]))
            found[dial.key] = (float(ends[0] - dial.values[at]), float(ends[1] - dial.values[at]))
    return found
