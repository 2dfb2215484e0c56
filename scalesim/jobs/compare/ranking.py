"""Ranking: mean of ranks over frames and measures, each place with its reason, each group with a verdict."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from scalesim.jobs.compare.contest import Contest, Scored, contest
from scalesim.jobs.compare.lead import leads
from scalesim.jobs.compare.place import Place, Ranking
from scalesim.jobs.compare.reasons import place_reason
from scalesim.jobs.compare.verdict import judge

DEFAULT_BY = (
    "detail_kept",
    "false_detail",
    "line_doubling",
    "lost_lines",
    "flicker_percent",
    "detail_kept_samples",
)

R = TypeVar("R", bound=Scored)


def rank(
    rows: Sequence[R],
    by: tuple[str, ...],
    *,
    group: Callable[[R], str],
    kinds: Mapping[str, str] | None = None,
    captured: Iterable[str] = (),
) -> Ranking:
    """Return the places, group by group, best first, and what may be said of them.

    For every frame and measure the chains are ranked, 1 the best; a difference below the measure's own
    resolution is a tie, and a tie counts half. A chain's score is the mean of its ranks over the frames,
    then over the measures. See `contest` for measures that some frames do not have, and `judge` for what
    makes a leader. A capture that agrees with a prediction shares its place (`Contest.standings`).

    Parameters:
        group : says with whom a row is ranked
        kinds : frame -> what it is a frame of, where that is known
        captured : labels of captured boxes, whose differences count from their own resolution on
    """
    groups: dict[str, list[R]] = {}
    for row in rows:
        groups.setdefault(group(row), []).append(row)
    places: list[Place] = []
    verdicts, contests = [], []
    for name, members in groups.items():
        own = contest(name, members, by, frozenset(captured))
        sure = leads(own)
        places += _places(own, sure)
        verdicts.append(judge(own, sure, kinds or {}))
        contests.append(own)
    return Ranking(tuple(places), tuple(verdicts), tuple(contests))


def _places(own: Contest, sure: NDArray | None) -> list[Place]:
    """Return the places of a contest; those that cannot be ranked come last."""
    alone = len(own.chains) == 1 and _has_any(own)
    scores, standings = (np.ones(1), np.ones(1)) if alone else (own.scores, own.standings)
    known = standings[np.isfinite(standings)]
    found = []
    for index in np.argsort(standings, kind="stable"):  # NaN comes last
        score = float(scores[index])
        ranked = bool(np.isfinite(score))
        number = 1 + int((known < standings[index] - 1e-9).sum()) if ranked else None
        found.append(
            Place(
                own.name,
                own.chains[index],
                number,
                score if ranked else None,
                place_reason(own, int(index), number),
                {m.key.name: m.median(int(index)) for m in own.measures},
                {m.key.name: int(np.isfinite(m.values[:, index]).sum()) for m in own.measures},
                len(own.frames),
                None if sure is None or not ranked else float(sure[index]),
                tuple(m.key.name for m in own.deciding if not m.rated[index]),
            )
        )
    return found


def _has_any(own: Contest) -> bool:
    return any(bool(np.isfinite(m.values).any()) for m in own.measures)
