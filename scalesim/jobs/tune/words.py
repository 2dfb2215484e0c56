"""A tuning's answer in a reviewer's words."""

from __future__ import annotations

from scalesim.chain.keys import find_key
from scalesim.chain.vary import Varied
from scalesim.jobs.settings.findings import Findings
from scalesim.jobs.settings.point import value_text
from scalesim.jobs.settings.words import amount, count_text, on_frames, score_text, standing
from scalesim.jobs.tune.as_good import as_good, setting_text, setting_value, signed_value
from scalesim.jobs.tune.plain import line_name, period_text, several_lines
from scalesim.metrics import key_of
from scalesim.metrics.key import ONE, Key
from scalesim.search.certainty import Gain
from scalesim.stages.geometry import Position
from scalesim.texts import capital

_ENOUGH_FRAMES = 6


def tuning_sentences(tuning: Findings) -> list[str]:
    """Return the best setting, what it gains and how sure that is; or that the setting cannot cure it."""
    if not tuning.certainty.matters:
        return _cannot_cure(tuning)
    parts = [_moves(tuning), *_holding(tuning)]
    said = [f"{_best(tuning)}: {standing(tuning)}.", "; ".join(parts) + ".", _sureness(tuning)]
    said += [f"{capital(part)}." for part in _gains(tuning)]
    if len(tuning.frames) > 1:
        said.append(_frames(tuning))
    return said + _others(tuning)


def _best(tuning: Findings) -> str:
    values = " and ".join(f"{key} {setting_value(tuning, key, tuning.best)}" for key in tuning.best.values)
    on = " on this frame" if len(tuning.frames) == 1 else ""
    if tuning.clear:
        return f"{values} scores best{on}" if on else f"{values} is best"
    return f"{values} scores best of {len(tuning.curve)} settings{on}, but not clearly"


def _sureness(tuning: Findings) -> str:
    """Return the gain on a typical setting with its interval, against the measure's resolution."""
    sure = tuning.certainty
    alike = " that softens alike" if tuning.softens else ""
    if sure.typical is None:
        return f"Too few settings were tried to say what a typical one{alike} costs ({count_text(tuning)})."
    gain = sure.typical
    one = gain.frames == 1
    spread = f", {amount(tuning, gain.low)} to {amount(tuning, gain.high)} by the spread over frames"
    said = (
        f"Compared with a typical setting{alike} it saves "
        f"{amount(tuning, gain.mean)}{'' if one else spread}; "
        f"less than {amount(tuning, sure.resolution)} means nothing "
        f"({'one frame, so no spread is known' if one else count_text(tuning)})."
    )
    if not tuning.clear and len(tuning.frames) < _ENOUGH_FRAMES:
        said += " More frames of the same kind would tell."
    return said


def _others(tuning: Findings) -> list[str]:
    """Return the next different optimum, repeats, and settings that are as good."""
    said = []
    if tuning.repeats is not None:
        said.append(f"The curve {period_text(tuning)}.")
    rival = tuning.certainty.rival
    if tuning.margin is not None and tuning.margin > tuning.objective.tie and rival is not None:
        said.append(_next(tuning, rival))
    return said + as_good(tuning)


def _frames(tuning: Findings) -> str:
    """Return which frame scores worst at the best setting, or that all score alike."""
    worst, score = tuning.worst_frame
    known = [each for each in tuning.best.per_frame if each is not None]
    text = score_text(tuning, score)
    if {score_text(tuning, each) for each in known} == {text}:
        return f"There each of the {len(known)} frames has {text}."
    return f"The worst of the {len(tuning.frames)} frames is {worst} with {text}."


def _next(tuning: Findings, rival: Gain) -> str:
    """Return the next different optimum; at an end of what was tried it need not be one."""
    point = tuning.rival
    assert point is not None and point.score is not None
    where, text = setting_text(tuning, point), score_text(tuning, point.score)
    worse = f"(worse on {on_frames(rival.better, rival.frames)})"
    dials = [dial for dial in tuning.dials if dial.ordered and len(dial.values) > 1]
    if any(point.values[dial.key] in (dial.values[0], dial.values[-1]) for dial in dials):
        where += ", at the end of what was tried,"
        return f"The best setting apart from these is {where} with {text} {worse}."
    return f"The next separate optimum is {where} with {text} {worse}."


def _cannot_cure(tuning: Findings) -> list[str]:
    """Return that no setting differs from another, and whether there was anything to cure."""
    names = " and ".join(dial.key for dial in tuning.dials)
    reasons, well = [], True
    for key in map(key_of, tuning.objective.keys):
        known = [v for point in tuning.curve if (v := point.metrics.get(key.name)) is not None]
        reasons.append(f"{key.short} {_between(key, min(known), max(known))}")
        well = well and _nothing_wrong(key, known)
    said = f"{', '.join(reasons)} over {len(tuning.curve)} settings"
    if well:
        return [f"There is nothing to cure: {said} ({count_text(tuning)})."]
    return [
        f"{names} cannot cure this: {said}, no more than "
        f"the {amount(tuning, tuning.certainty.resolution)} that mean nothing ({count_text(tuning)})."
    ]


def _between(key: Key, low: float, high: float) -> str:
    least, most = key.text(low), key.text(high)
    if least == most:
        return f"{'stay' if key.plural else 'stays'} at {least}"
    return f"{'are' if key.plural else 'is'} between {least} and {most}"


def _nothing_wrong(key: Key, values: list[float]) -> bool:
    """Return whether a metric is as good as it can be at every setting, within what says nothing.

    That is 0 of what is a fault (a level in dB has no such end), and 1 of a likeness of 0 to 1.
    """
    if key.better == "lower":
        return key.unit != "dB" and max(values) <= key.tie
    return key.unit == ONE and min(values) >= 1 - key.tie


def _moves(tuning: Findings) -> str:
    texts = [move_of(tuning, dial.key) for dial in tuning.dials]
    return capital(" and ".join(texts))


def move_of(tuning: Findings, key: str, *, presses: bool = True) -> str:
    """Return what to do with a dial, and how many presses of the box's that is."""
    return _move(tuning, key) + (_presses(tuning, key) if presses else "")


def _move(tuning: Findings, key: str) -> str:
    now, best = tuning.present.values[key], tuning.best.values[key]
    unit = next(dial.unit for dial in tuning.dials if dial.key == key)
    place = find_key(tuning.before.stages, key)
    if now == best:
        return f"leave {key} at {value_text(best)}"
    if isinstance(tuning.before.stages[place.stage], Position) and place.key in ("lines", "samples"):
        ways = ("down", "up") if place.key == "lines" else ("right", "left")
        way, far = ways[0] if best > now else ways[1], abs(best - now)
        what = line_name(tuning, place.stage) if place.key == "lines" else "sample"
        return f"move the picture {way} by {value_text(far)} {_plural(what, far)}"
    return f"set {key} to {value_text(best)}{f' {unit}' if unit else ''}"


def _presses(tuning: Findings, key: str) -> str:
    count = tuning.presses.get(key)
    if not count:
        return ""
    dial = next(dial for dial in tuning.before.dials if dial.key == key)
    of = f" of {dial.label}" if dial.label else ""
    back = " back" if count < 0 else ""
    return f", {abs(count)} {'press' if abs(count) == 1 else 'presses'}{back}{of}"


def _plural(what: str, count: float) -> str:
    return what if count == 1 else several_lines(what).replace("sample", "samples", 1)


def _gains(tuning: Findings) -> list[str]:
    return [said for key in map(key_of, tuning.objective.keys) if (said := gain_of(tuning, key))]


def gain_of(tuning: Findings, key: Key) -> str:
    """Return how a measure goes from the present setting to the best one, "" where it has no value there."""
    now, then = tuning.present.metrics.get(key.name), tuning.best.metrics.get(key.name)
    if then is None:
        return ""
    if now is None:
        return f"{key.short} at {key.text(then)}"
    if key.text(now) == key.text(then):
        return f"{key.short} at {key.text(then)} as now"
    verb = "fall" if then < now else "rise"
    return f"{key.short} {verb if key.plural else verb + 's'} from {key.text(now)} to {key.text(then)}"


def _holding(tuning: Findings) -> list[str]:
    said = []
    for dial in tuning.dials:
        if dial.key not in tuning.holds or not dial.unit:
            continue
        low, high = tuning.holds[dial.key]
        unit = dial.unit.split()[-1]
        which = f"{dial.key} " if len(tuning.dials) > 1 else ""
        if low == high == 0:
            said.append(f"{which}{_a_step_further(tuning, dial)}")
        elif -low == high:
            said.append(
                f"{which or 'it '}is nearly as good within ±{value_text(high)} "
                f"{_one(unit) if high <= 1 else unit} of it"
            )
        else:
            most = f"+{value_text(high)}" if high else "0"
            said.append(f"{which or 'it '}is nearly as good from {value_text(low)} to {most} {unit} away")
            said += _middle(tuning, dial, low, high)
    return said


def _a_step_further(tuning: Findings, dial: Varied) -> str:
    """Return what is lost at the next values of a dial, of those that have a score."""
    values = sorted(dial.values)
    at = values.index(tuning.best.values[dial.key])
    beside = [{**tuning.best.values, dial.key: value} for value in (*values[:at][-1:], *values[at + 1 :][:1])]
    scores = [p.score for p in tuning.curve if p.score is not None and dict(p.values) in beside]
    sign = -1 if tuning.objective.higher_is_better else 1
    lost = min((sign * (score - tuning.score) for score in scores), default=None)
    if lost is None:
        return "nothing is known one step further"
    gain = None if tuning.present.score is None else sign * (tuning.present.score - tuning.score)
    if gain is not None and 0 < gain <= lost + tuning.objective.tie:
        return "one step further loses the gain"
    return f"one step further loses {amount(tuning, lost)}"


def _middle(tuning: Findings, dial: Varied, low: float, high: float) -> list[str]:
    """Return the middle of what holds, where the best setting lies at an end of it: farthest from worse."""
    best = tuning.best.values[dial.key]
    middle = min(dial.values, key=lambda value: abs(value - best - (low + high) / 2))
    if low * high != 0 or middle in (best, best + low, best + high):
        return []
    return [f"{signed_value(tuning, dial.key, middle)} is the middle of that range"]


def _one(unit: str) -> str:
    return unit[:-1] if unit in ("lines", "samples") else unit
