"""What trying settings found, in words that tuning and the present position share."""

from __future__ import annotations

from scalesim.jobs.settings.findings import Findings
from scalesim.metrics import key_of


def standing(tuning: Findings) -> str:
    """Return what the best setting scores, where a bad one stands, and on how many frames it is better."""
    worst = tuning.certainty.worst
    what = "the score is"
    if tuning.objective.how == "one":
        key = key_of(tuning.objective.keys[0])
        what = f"{key.short} {'are' if key.plural else 'is'}"
    bad = "a bad place costs" if _places(tuning) else "the worst setting costs"
    return (
        f"{what} {score_text(tuning, tuning.score, full=True)}, "
        f"where {bad} {score_text(tuning, tuning.worst_score)} "
        f"(better on {worst.better} {of_frames(worst.frames)})"
    )


def _places(tuning: Findings) -> bool:
    return all(key.split(".")[0].split("#")[0] == "position" for key in tuning.best.values)


def of_frames(count: int) -> str:
    """Return "frame of 1", "frames of 5"."""
    return f"frame{'' if count == 1 else 's'} of {count}"


def count_text(tuning: Findings) -> str:
    """Return how many frames it rests on."""
    return f"n = {len(tuning.frames)} frame{'' if len(tuning.frames) == 1 else 's'}"


def amount(tuning: Findings, cost: float) -> str:
    """Return a difference of scores: points of a share, or the metric's own unit."""
    if tuning.objective.how != "one":
        return f"{cost:.2f}"
    key = key_of(tuning.objective.keys[0])
    if key.share:
        return f"{key.scaled(cost):.1f} points"
    return f"{cost:.3g} {key.shown_unit}".strip()


def score_text(tuning: Findings, score: float, *, full: bool = False) -> str:
    """Return a score with its unit, "16 %"; in full "16 % of an even split"."""
    if tuning.objective.how != "one":
        return f"{score:.2f}" if full else f"a score of {score:.2f}"
    key = key_of(tuning.objective.keys[0])
    if not full or not key.share:
        return key.text(score)
    return " ".join(key.number(score))
