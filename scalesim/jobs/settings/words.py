"""What trying settings found, in words that tuning and the present position share."""

from __future__ import annotations

from scalesim.jobs.settings.findings import Findings
from scalesim.metrics import key_of
from scalesim.metrics.key import ONE

_SCALES = {
    "mean": "on a scale from 0, every measure at its best of these settings, up to 1, all at their worst",
    "sum": "as a weighted sum in the measures' own units, less being better",
}


def standing(tuning: Findings) -> str:
    """Return what the best setting scores, where a bad one stands, and on how many frames it is better."""
    worst = tuning.certainty.worst
    what = "the score is"
    if tuning.objective.how == "one":
        key = key_of(tuning.objective.keys[0])
        what = f"{key.short} {'are' if key.plural else 'is'}"
    bad = "a bad place" if _places(tuning) else "the worst setting"
    does = "has" if tuning.objective.higher_is_better else "costs"
    return (
        f"{what} {score_text(tuning, tuning.score, full=True)}, "
        f"where {bad} {does} {score_text(tuning, tuning.worst_score)} "
        f"(better on {on_frames(worst.better, worst.frames)})"
    )


def _places(tuning: Findings) -> bool:
    return all(key.split(".")[0].split("#")[0] == "position" for key in tuning.best.values)


def on_frames(some: int, count: int) -> str:
    """Return "1 frame of 2", "3 frames of 5"."""
    return f"{some} frame{'' if some == 1 else 's'} of {count}"


def count_text(tuning: Findings) -> str:
    """Return how many frames it rests on."""
    return f"n = {len(tuning.frames)} frame{'' if len(tuning.frames) == 1 else 's'}"


def amount(tuning: Findings, cost: float) -> str:
    """Return a difference of scores: points of a share, or the metric's own unit."""
    if tuning.objective.how != "one":
        return f"{round(cost, 3) + 0.0:g}"
    key = key_of(tuning.objective.keys[0])
    if key.share:
        return f"{key.scaled(cost):.1f} points"
    return f"{cost:.3g} {'' if key.unit == ONE else key.unit}".strip()


def score_text(tuning: Findings, score: float, *, full: bool = False) -> str:
    """Return a score with its unit, "16 %"; in full "16 % of an even split", or with its scale in words."""
    how = tuning.objective.how
    if how != "one":
        return f"{score:.2f} {_SCALES[how]}" if full else f"a score of {score:.2f}"
    key = key_of(tuning.objective.keys[0])
    return measured_text(key.name, score) if full else key.text(score)


def measured_text(name: str, value: float) -> str:
    """Return a metric's value with its whole unit: "16 % of an even split", "0.97 of 1"."""
    key = key_of(name)
    return " ".join(key.number(value)) if key.share else key.text(value)
