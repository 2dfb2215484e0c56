"""The findings that head a tuning's page and its parts; none says more than the verdict."""

from __future__ import annotations

from scalesim.jobs.settings.findings import Findings
from scalesim.jobs.tune.words import gain_of, move_of
from scalesim.metrics import key_of
from scalesim.texts import capital


def stays(tuning: Findings) -> bool:
    """Return whether the best setting is the present one."""
    return tuning.best.values == tuning.present.values


def headline(tuning: Findings) -> str:
    """Return what to do and what it brings, as the head of a page."""
    if not tuning.certainty.matters:
        what = " and ".join(dial.key for dial in tuning.dials)
        return f"No setting of {what} makes a difference that counts"
    sure = "" if tuning.clear else ", though the gain does not stand out clearly"
    moves = " and ".join(move_of(tuning, dial.key, presses=False) for dial in tuning.dials)
    brings = gain_of(tuning, key_of(tuning.objective.keys[0])) if tuning.objective.how == "one" else ""
    if stays(tuning) or not brings:
        brings = f"none of {len(tuning.curve)} settings scores better"
    return f"{capital(moves)}: {brings}{sure}"


def curve_title(tuning: Findings) -> str:
    """Return how the settings stand to each other."""
    count = len(tuning.ties)
    if not tuning.certainty.matters:
        return f"All {len(tuning.curve)} settings score alike"
    if count > 1:
        also = f"{count} of {len(tuning.curve)} settings tie for the best"
        return f"{also}, and stand out" if tuning.clear else f"{also}, and do not stand out clearly"
    stands = "stands out" if tuning.clear else "does not stand out clearly"
    return f"One of {len(tuning.curve)} settings scores best, and {stands}"


def frame_said(tuning: Findings, frame: str) -> str:
    """Return how one frame's score goes from the present setting to the best, "" where it has none."""
    at = tuning.frames.index(frame)
    scores = [point.per_frame[at] if point.per_frame else None for point in (tuning.present, tuning.best)]
    if tuning.objective.how != "one" or scores[1] is None:
        return ""
    key = key_of(tuning.objective.keys[0])
    what = capital(key.short)
    if stays(tuning) or scores[0] is None:
        return f"{what} here: {key.text(scores[1])}."
    return f"{what} here: {key.text(scores[0])} before, {key.text(scores[1])} after."
