"""The setting at which frames suffer least: every candidate on every frame, and the verdict.

The score of a candidate is the mean over the frames.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from math import prod
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.chain.keys import get_key
from scalesim.chain.vary import Varied, parse_vary, varied
from scalesim.core.clip import Clip, still_clip
from scalesim.errors import NotMeasurable, ParameterError
from scalesim.jobs.frames import FrameSource
from scalesim.jobs.settings.candidates import Trials
from scalesim.jobs.settings.carry import is_lines
from scalesim.jobs.settings.findings import Findings
from scalesim.jobs.settings.table import TrialTable
from scalesim.search.certainty import Certainty, certainty_of
from scalesim.search.grid import Place, planned, search
from scalesim.search.objective import Objective
from scalesim.search.verdict import HOLDS, Verdict, judge

MOST_CANDIDATES = 20_000
"""More candidates than this are refused unless they are said to be meant."""


def find_setting(
    chain: Chain,
    sources: Sequence[FrameSource],
    dials: Sequence[Varied],
    objective: Objective,
    *,
    reference: str | NDArray = "ideal",
    present: Mapping[str, Any] | None = None,
    advance: Callable[[str], None] = lambda _: None,
) -> Findings:
    """Return the setting of the dials at which frames score best.

    Parameters:
        chain : its keys as they are now are the present setting, but for those in `present`
        sources : at least one
        reference : what fidelity metrics compare with
        advance : called with what is worked on
    Raises: ParameterError when no frame can be read or no candidate can be had; NotMeasurable when no
        frame has the metrics at any candidate
    """
    keys = tuple(dial.key for dial in dials)
    trials = Trials(chain.stages, keys, sources, objective.names, reference, advance, lands=chain.lands)
    if not trials.frames:
        raise ParameterError("no frame could be read: " + "; ".join(trials.failed.values()))
    now = {key: get_key(chain.stages, key) for key in keys} | dict(present or {})
    table = TrialTable(dials, trials, objective, now)
    places = search([len(d.values) for d in dials], [d.ordered for d in dials], table.costs)
    return _answer(chain, table, places)


def dials_of(chain: Chain, vary: Any, yes: bool) -> tuple[Varied, ...]:
    """Return what to vary: what is said, else the chain's own dials with their real steps.

    Raises: ParameterError for keys or values that are none, and where there is nothing to vary
    """
    if vary is not None:
        return parse_vary(chain.stages, vary, most=None if yes else MOST_CANDIDATES)
    if not chain.dials:
        raise ParameterError(
            "nothing to vary: give vary such as position.lines=-4:4:1/8, or a chain file with [[dial]] tables"
        )
    return tuple(varied(chain.stages, dial.key, dial.steps) for dial in chain.dials)


def check_count(dials: Sequence[Varied], yes: bool) -> None:
    """Raise ParameterError for more candidates than `MOST_CANDIDATES`, unless that is meant."""
    count = planned([len(d.values) for d in dials], [d.ordered for d in dials])
    if count > MOST_CANDIDATES and not yes:
        each = " times ".join(str(len(dial.values)) for dial in dials)
        raise ParameterError(
            f"vary: {each} is {count} candidates; at most {MOST_CANDIDATES} unless yes is given "
            "(larger steps, or shorter ranges)"
        )


def as_source(frame: Any, number: int) -> FrameSource:
    """Return a still, a clip or a source as a source; one without a name is numbered."""
    if isinstance(frame, FrameSource):
        return frame
    clip = frame if isinstance(frame, Clip) else still_clip(frame, name=f"frame {number}")
    return FrameSource(clip.name, lambda: clip)


def _answer(chain: Chain, table: TrialTable, places: Sequence[Place]) -> Findings:
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
    verdict = judge(
        known,
        [dial.ordered for dial in table.dials],
        tie=objective.tie,
        holds=HOLDS * objective.tie,
        distance=table.distance,
        sizes=[len(dial.values) for dial in table.dials] if _even(table.dials) else (),
    )
    best, source = points[verdict.best], table.trials.rasters[scored.frames[0]]
    soft = _softening(table)
    return Findings(
        chain=chain.with_keys(table.trials.as_set(best.values, source)),
        before=chain.with_keys(table.trials.as_set(table.present, source)),
        source=source,
        dials=tuple(table.dials),
        frames=tuple(table.trials.frames[index].name for index in scored.frames),
        left_out={**table.trials.failed, **scored.left_out},
        objective=objective,
        best=best,
        present=table.point(None),
        ties=tuple(points[place] for place in verdict.ties),
        margin=verdict.margin,
        rival=None if verdict.rival is None else points[verdict.rival],
        certainty=_certainty(table, verdict, known, verdict.rival, soft),
        repeats=_repeat_distance(table, verdict),
        softens=soft,
        carriers=table.trials.carriers(source),
        curve=tuple(points[place] for place in places),
        holds=_holds(table, verdict),
        how=table.trials.how,
        how_reason=table.trials.slow_because,
        whole_grid=len(places) == prod(len(dial.values) for dial in table.dials),
        sources=tuple(table.trials.frames[index] for index in scored.frames),
    )


def _even(dials: Sequence[Varied]) -> bool:
    """Return whether the values of every dial are evenly spaced numbers."""
    return all(d.ordered and np.allclose(np.diff(np.asarray(d.values, float), 2), 0) for d in dials)


def _repeat_distance(table: TrialTable, verdict: Verdict) -> float | None:
    if verdict.repeats is None:
        return None
    values = table.dials[0].values
    return abs(float(values[verdict.repeats] - values[0]))


def _certainty(
    table: TrialTable, verdict: Verdict, known: Mapping[Place, float], rival: Place | None, soft: str
) -> Certainty:
    """Return how sure the best place is; where moves soften, among those that soften alike."""
    scored, objective = table.scored, table.objective
    costs = objective.costs(scored.all_per_frame)
    per_frame = {place: costs[scored.rows[place]] for place in known}
    alike = list(known)
    if soft:
        dial = next(k for k, each in enumerate(table.dials) if each.key == soft)
        part = _part(table, dial, verdict.best)
        alike = [place for place in known if abs(_part(table, dial, place) - part) < 1e-6]
    return certainty_of(per_frame, verdict.best, rival, alike, objective.tie)


def _part(table: TrialTable, dial: int, place: Place) -> float:
    """Return how far a position is from whole lines, either way: 0 to a half."""
    value = float(table.dials[dial].values[place[dial]])
    return abs(value - round(value))


def _softening(table: TrialTable) -> str:
    """Return a position whose fractions of a line interpolate, no scaler taking them; "" when none does."""
    carried = {c.key for raster in table.trials.rasters for c in table.trials.carriers(raster)}
    for dial in table.dials:
        parts = any(value != round(value) for value in dial.values) if dial.ordered else False
        if parts and dial.key not in carried and is_lines(table.trials.stages, dial.key):
            return dial.key
    return ""


def _holds(table: TrialTable, verdict: Verdict) -> dict[str, tuple[float, float]]:
    """Return, per numeric dial, how far its value may be off: (lowest, highest) from the best."""
    found = {}
    for dial, at, (first, last) in zip(table.dials, verdict.best, verdict.holds, strict=True):
        if dial.ordered and len(dial.values) > 1:
            ends = sorted((dial.values[first], dial.values[last]))
            found[dial.key] = (float(ends[0] - dial.values[at]), float(ends[1] - dial.values[at]))
    return found
