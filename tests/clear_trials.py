"""Trials of "clear": is the setting that tuning calls clear best on frames it has not seen?

Frames of `frames30` are tuned on in groups, as they are (nothing lies on a grid: *unaligned*) and made
into art of a third of their size and scaled three times, its grid at one residue for a whole group
(*3:1 art*; nearest neighbour, so the truth is known: the best position is minus the residue, every
three lines). The verdict is then asked of frames of the same kind and residue that were left out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from frames30 import Frame
from numpy.typing import NDArray

from scalesim.core.clip import still_clip
from scalesim.errors import NotMeasurable
from scalesim.jobs.tune.tune import tune
from scalesim.search.certainty import Certainty, certainty_of
from scalesim.search.objective import make_objective
from scalesim.search.verdict import HOLDS, Verdict, judge

CHAINS = {
    "average 240": "position, line-average lines=240",
    "linear 240": "position, resample lines=240 kernel=linear",
    "480i": "position, line-average lines=480, interlace",
    "480i 1/2/1": "position, line-average lines=480, flicker-filter taps=1/2/1, interlace",
}
FIRST, LAST, STEP = -3.0, 3.0, 0.25
VALUES = np.arange(FIRST, LAST + STEP / 2, STEP)
SWEEP = f"position.lines={FIRST:g}:{LAST:g}:{STEP:g}"


@dataclass(frozen=True)
class Trial:
    """One group tuned on, and what frames left out say: "art" or "unaligned", and whether it held."""

    kind: str
    chain: str
    frames: int
    clear: bool
    held: bool | None


@cache
def curve(frame: Frame, chain: str, residue: int | None) -> NDArray | None:
    """Return the cost at every position of one frame; None where the measure does not exist.

    Parameters:  residue : of the grid of 3:1 art, in lines; None for the frame as it is, cut to 720 lines
    """
    picture = frame.load()
    picture = picture[:720, :1280] if residue is None else as_art(picture, residue)
    try:
        found = tune(chain, [still_clip(picture, name=frame.name)], vary=SWEEP)
    except NotMeasurable:
        return None
    scores = [np.nan if point.score is None else point.score for point in found.curve]
    return None if np.isnan(scores).any() else np.array(scores)


def as_art(picture: NDArray, residue: int) -> NDArray:
    """Return a picture as art of 240 lines at most, three times its size, its grid `residue` lines down."""
    step = max(1, picture.shape[0] // 240)
    small = np.pad(picture[::step, ::step][:240, :426], ((0, 1), (0, 0), (0, 0)), mode="edge")
    large = np.repeat(np.repeat(small, 3, axis=0), 3, axis=1)
    return np.ascontiguousarray(large[3 - residue : 723 - residue])


def verdict_of(curves: Sequence[NDArray]) -> tuple[Verdict, Certainty]:
    """Return the verdict over frames whose curves are given, as tuning makes it."""
    tie = make_objective("line_doubling").tie
    costs = {(k,): np.array([c[k] for c in curves]) for k in range(len(VALUES))}
    means = {place: float(cost.mean()) for place, cost in costs.items()}
    verdict = judge(
        means,
        [True],
        tie=tie,
        holds=HOLDS * tie,
        distance=lambda place: abs(VALUES[place[0]]),
        sizes=[len(VALUES)],
    )
    return verdict, certainty_of(costs, verdict.best, verdict.rival, list(costs), tie)


def held(best: int, repeats: int | None, left_out: Sequence[NDArray]) -> bool:
    """Return whether a place is best on other frames: within one step (or repeats of it), or a tie."""
    mean = np.mean(left_out, axis=0)
    floor = np.flatnonzero(mean <= mean.min() + make_objective("line_doubling").tie)
    off = np.abs(floor - best)
    if repeats is not None:
        off = np.minimum(off % repeats, repeats - off % repeats)
    return bool(off.min() <= 1)


def trials(
    frames: Sequence[Frame], residue: int | None, sizes: Sequence[int], seed: int, draws: int
) -> Iterator[Trial]:
    """Yield trials of groups drawn from frames of one kind."""
    random = np.random.RandomState(seed)
    for chain, text in CHAINS.items():
        curves = [c for c in (curve(frame, text, residue) for frame in frames) if c is not None]
        for size in sizes:
            if len(curves) < size:
                continue
            for _ in range(draws):
                order = random.permutation(len(curves))
                verdict, sure = verdict_of([curves[k] for k in order[:size]])
                others = [curves[k] for k in order[size:]]
                good = held(verdict.best[0], verdict.repeats, others) if others else None
                yield Trial("unaligned" if residue is None else "art", chain, size, sure.clear, good)


def table(done: Sequence[Trial]) -> list[str]:
    """Return one row per kind, chain and size: groups, called clear, and of those held on other frames."""
    rows = [f"{'kind':10} {'chain':12} {'n':>2} {'groups':>6} {'clear':>6} {'held':>6}"]
    for kind, chain, size in dict.fromkeys((t.kind, t.chain, t.frames) for t in done):
        own = [t for t in done if (t.kind, t.chain, t.frames) == (kind, chain, size)]
        shares = f"{clear_share(own):6.0%} {held_share(own):6.0%}"
        rows.append(f"{kind:10} {chain:12} {size:2} {len(own):6} {shares}")
    return rows


def clear_share(done: Sequence[Trial]) -> float:
    """Return the share of groups whose best setting is called clear."""
    return float(np.mean([t.clear for t in done])) if done else float("nan")


def held_share(done: Sequence[Trial]) -> float:
    """Return the share of settings called clear that held on frames left out."""
    told = [t.held for t in done if t.clear and t.held is not None]
    return float(np.mean(told)) if told else float("nan")
