"""What to keep in mind about a tuning: what moves fractions of a line, what was left out, what is lost."""

from __future__ import annotations

from scalesim.chain.keys import get_key
from scalesim.jobs.settings.carry import Carrier
from scalesim.jobs.settings.findings import Findings
from scalesim.jobs.settings.point import value_text
from scalesim.jobs.tune.as_good import setting_value
from scalesim.stages.lines import LineDrop

_MORE_CROPPED = 2.0
"""Percentage points of the picture lost beyond what is lost now that are worth a note."""


def tuning_notes(tuning: Findings) -> list[str]:
    """Return what to keep in mind."""
    notes = [f"{frame} was left out: {reason}." for frame, reason in tuning.left_out.items()]
    notes += _fraction_notes(tuning) + _drop_notes(tuning)
    best, now = tuning.best.cropped, tuning.present.cropped or 0.0
    if best is not None and best > now + _MORE_CROPPED:
        notes.append(f"This setting pushes out or hides {best:.0f} % of the picture ({now:.0f} % now).")
    if tuning.how == "full":
        notes.append(f"Every setting was predicted whole: {tuning.how_reason}.")
    if not tuning.whole_grid:
        notes.append(
            f"{len(tuning.curve)} settings were tried, coarse to fine around the best few; "
            "one or two dials are tried at every setting."
        )
    unscored = [point for point in tuning.curve if point.score is None]
    if unscored:
        notes.append(f"{len(unscored)} of {len(tuning.curve)} settings have no score: {unscored[0].why}.")
    return notes


def _drop_notes(tuning: Findings) -> list[str]:
    """Return what a tuning by splits leaves out where lines are dropped."""
    keys = tuning.objective.keys
    drops = any(isinstance(stage, LineDrop) for stage in tuning.chain.stages)
    if not drops or "line_doubling" not in keys or "lost_lines" in keys:
        return []
    return [
        "Dropping lines can lose thin outlines whole, and line_doubling counts only those that are left: "
        f"tune by {','.join([*keys, 'lost_lines'])} to weigh both."
    ]


def _fraction_notes(tuning: Findings) -> list[str]:
    """Return who moves fractions of a line: a scaler's sampling, or an interpolation that softens."""
    notes = []
    parts = {d.key for d in tuning.dials if d.ordered and any(v != round(v) for v in d.values)}
    for carrier in tuning.carriers:
        if carrier.key in parts:
            notes += _carried(tuning, carrier)
            notes.append(
                f"Fractions of a line in {carrier.key} move the sampling of the chain's scaler "
                f"({carrier.phase}), as a box does; nothing is interpolated for them."
            )
    if tuning.softens:
        notes.append(
            f"No scaler of the chain can take fractions of a line in {tuning.softens}: they interpolate, "
            "which softens the picture, so the best is compared with settings that soften alike."
        )
    return notes


def carried_notes(tuning: Findings) -> list[str]:
    """Return how the best chain writes a position with a fraction that a scaler takes."""
    return [said for carrier in tuning.carriers for said in _carried(tuning, carrier)]


def _carried(tuning: Findings, carrier: Carrier) -> list[str]:
    value = tuning.best.values.get(carrier.key)
    if value is None or value == round(value):
        return []
    written = " and ".join(
        f"{stage} {name}={value_text(get_key(tuning.chain.stages, f'{stage}.{name}'))}"
        for stage, name in (key.rsplit(".", 1) for key in (carrier.key, carrier.phase))
    )
    return [
        f"{carrier.key} {setting_value(tuning, carrier.key, tuning.best)} is written in the best chain as "
        f"{written}, which is the same."
    ]
