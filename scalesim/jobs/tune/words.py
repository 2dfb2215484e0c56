"""A tuning's answer in a reviewer's words."""

from __future__ import annotations

from scalesim.chain.keys import find_key
from scalesim.jobs.settings.findings import Findings
from scalesim.jobs.settings.point import value_text
from scalesim.jobs.settings.words import amount, count_text, of_frames, score_text, standing
from scalesim.metrics import key_of
from scalesim.stages.geometry import Position
from scalesim.stages.lines import LineDrop

_MORE_CROPPED = 2.0
"""Percentage points of the picture lost beyond what is lost now that are worth a note."""
_ENOUGH_FRAMES = 6


def tuning_sentences(tuning: Findings) -> list[str]:
    """Return the best setting, what it gains and how sure that is; or that the setting cannot cure it."""
    if not tuning.certainty.matters:
        return _cannot_cure(tuning)
    parts = [_moves(tuning), *_holding(tuning)]
    said = [f"{_best(tuning)}: {standing(tuning)}.", "; ".join(parts) + ".", _sureness(tuning)]
    said += [f"{part[:1].upper()}{part[1:]}." for part in _gains(tuning)]
    if len(tuning.frames) > 1:
        worst, score = tuning.worst_frame
        said.append(
            f"The worst of the {len(tuning.frames)} frames is {worst} with {score_text(tuning, score)}."
        )
    return said + _others(tuning)


def _best(tuning: Findings) -> str:
    values = " and ".join(f"{key} {_value(tuning, key)}" for key in tuning.best.values)
    if tuning.clear:
        return f"{values} is best"
    return f"{values} scores best of {len(tuning.curve)} settings, not clearly"


def _value(tuning: Findings, key: str) -> str:
    value = tuning.best.values[key]
    place = find_key(tuning.before.stages, key)
    moves = isinstance(tuning.before.stages[place.stage], Position) and value != 0
    return f"{value:+g}" if moves else value_text(value)


def _sureness(tuning: Findings) -> str:
    """Return the gain on a typical setting with its interval, against the measure's resolution."""
    sure = tuning.certainty
    alike = " that softens alike" if tuning.softens else ""
    if sure.typical is None:
        return f"Too few settings were tried to say what a typical one{alike} costs ({count_text(tuning)})."
    gain = sure.typical
    said = (
        f"Against a typical setting{alike} it saves {amount(tuning, gain.mean)}, "
        f"{amount(tuning, gain.low)} to {amount(tuning, gain.high)} by the spread over frames; less than "
        f"{amount(tuning, sure.resolution)} says nothing ({count_text(tuning)})."
    )
    if not tuning.clear and len(tuning.frames) < _ENOUGH_FRAMES:
        said += " More frames of the same kind would tell."
    return said


def _others(tuning: Findings) -> list[str]:
    """Return the next different optimum, repeats, and settings that are as good."""
    said = []
    if tuning.repeats is not None:
        unit = tuning.dials[0].unit.split()[-1] if tuning.dials[0].unit else ""
        said.append(f"The curve repeats every {value_text(tuning.repeats)} {unit}".rstrip() + ".")
    rival = tuning.certainty.rival
    if tuning.margin is not None and tuning.margin > tuning.objective.tie and rival is not None:
        sign = -1 if tuning.objective.higher_is_better else 1
        score = tuning.score + sign * tuning.margin
        said.append(
            f"The next different optimum is {score_text(tuning, score)} (worse on {rival.better} "
            f"{of_frames(rival.frames)})."
        )
    others = len(tuning.ties) - 1
    if others:
        plural = "s are" if others > 1 else " is"
        near = "; this one asks for the least change" if tuning.present.score is not None else ""
        said.append(f"{others} other setting{plural} as good{near}.")
    return said


def tuning_notes(tuning: Findings) -> list[str]:
    """Return what to keep in mind."""
    notes = [f"{frame} was left out: {reason}." for frame, reason in tuning.left_out.items()]
    notes += _fraction_notes(tuning)
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


def _cannot_cure(tuning: Findings) -> list[str]:
    names = " and ".join(dial.key for dial in tuning.dials)
    reasons = []
    for key in map(key_of, tuning.objective.keys):
        known = [v for point in tuning.curve if (v := point.metrics.get(key.name)) is not None]
        low, high = (key.text(end) for end in (min(known), max(known)))
        between = f"stay at {low}" if low == high else f"between {low} and {high}"
        reasons.append(f"{key.short} {between if key.plural else between.replace('stay', 'stays')}")
    said = [
        f"{names} cannot cure this: {', '.join(reasons)} over {len(tuning.curve)} settings, no more than "
        f"the {amount(tuning, tuning.certainty.resolution)} that say nothing ({count_text(tuning)})."
    ]
    drops = any(isinstance(stage, LineDrop) for stage in tuning.chain.stages)
    if drops and tuning.objective.keys == ("line_doubling",):
        said.append("Dropping lines never splits an outline, it loses it: tune by lost_lines.")
    return said


def _moves(tuning: Findings) -> str:
    texts = [_move(tuning, dial.key) for dial in tuning.dials]
    text = " and ".join(texts)
    return text[:1].upper() + text[1:]


def _move(tuning: Findings, key: str) -> str:
    now, best = tuning.present.values[key], tuning.best.values[key]
    unit = next(dial.unit for dial in tuning.dials if dial.key == key)
    place = find_key(tuning.before.stages, key)
    if now == best:
        return f"leave {key} at {value_text(best)}" + _presses(tuning, key)
    if isinstance(tuning.before.stages[place.stage], Position) and place.key in ("lines", "samples"):
        ways = ("down", "up") if place.key == "lines" else ("right", "left")
        way, far = ways[0] if best > now else ways[1], abs(best - now)
        what = _line_name(tuning, place.stage) if place.key == "lines" else "sample"
        return f"move the picture {way} by {value_text(far)} {_plural(what, far)}" + _presses(tuning, key)
    return f"set {key} to {value_text(best)}{f' {unit}' if unit else ''}" + _presses(tuning, key)


def _presses(tuning: Findings, key: str) -> str:
    count = tuning.presses.get(key)
    if not count:
        return ""
    dial = next(dial for dial in tuning.before.dials if dial.key == key)
    of = f" of {dial.label}" if dial.label else ""
    back = " back" if count < 0 else ""
    return f", {abs(count)} {'press' if abs(count) == 1 else 'presses'}{back}{of}"


def _line_name(tuning: Findings, stage: int) -> str:
    """Return what a line is called in front of a stage: of the source, of a field, of a raster."""
    raster = tuning.chain.resolve(tuning.source).rasters[stage]
    if raster.period == 2:
        return "field line"
    return "source line" if raster.lines == tuning.source.lines else f"line of {raster.lines}"


def _plural(what: str, count: float) -> str:
    return what if count == 1 else what.replace("line", "lines", 1).replace("sample", "samples", 1)


def _gains(tuning: Findings) -> list[str]:
    said = []
    for key in map(key_of, tuning.objective.keys):
        now, then = tuning.present.metrics.get(key.name), tuning.best.metrics.get(key.name)
        if then is None:
            continue
        if now is None:
            said.append(f"{key.short} at {key.text(then)}")
        elif key.text(now) == key.text(then):
            said.append(f"{key.short} at {key.text(then)} as now")
        else:
            verb = "fall" if then < now else "rise"
            said.append(
                f"{key.short} {verb if key.plural else verb + 's'} from {key.text(now)} to {key.text(then)}"
            )
    return said


def _holding(tuning: Findings) -> list[str]:
    said = []
    for dial in tuning.dials:
        if dial.key not in tuning.holds or not dial.unit:
            continue
        low, high = tuning.holds[dial.key]
        unit = dial.unit.split()[-1]
        which = f"{dial.key} " if len(tuning.dials) > 1 else ""
        if low == high == 0:
            said.append(f"{which}does not hold one step away")
        elif -low == high:
            said.append(f"{which}holds within ±{value_text(high)} {_one(unit) if high <= 1 else unit}")
        else:
            said.append(f"{which}holds from {value_text(low) if low else '0'} to +{value_text(high)} {unit}")
    return said


def _one(unit: str) -> str:
    return unit[:-1] if unit in ("lines", "samples") else unit


def _fraction_notes(tuning: Findings) -> list[str]:
    """Return who moves fractions of a line: a scaler's sampling, or an interpolation that softens."""
    notes = []
    parts = {d.key for d in tuning.dials if d.ordered and any(v != round(v) for v in d.values)}
    for carrier in tuning.carriers:
        if carrier.key in parts:
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
