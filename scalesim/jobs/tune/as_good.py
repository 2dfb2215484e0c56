"""Which settings are as good as the best, and whether one of them asks for no more change."""

from __future__ import annotations

from typing import Any

from scalesim.chain.keys import find_key
from scalesim.jobs.settings.findings import Findings
from scalesim.jobs.settings.point import Point, change_of, value_text
from scalesim.jobs.settings.words import amount
from scalesim.search.verdict import alike
from scalesim.stages.geometry import Position

_MOST_NAMED = 4
"""More settings than this are not named one by one."""


def setting_value(tuning: Findings, key: str, point: Point) -> str:
    """Return a key's value, that of a position with its sign."""
    return signed_value(tuning, key, point.values[key])


def signed_value(tuning: Findings, key: str, value: Any) -> str:
    """Return a value as text, that of a position with its sign."""
    place = find_key(tuning.before.stages, key)
    moves = isinstance(tuning.before.stages[place.stage], Position) and value is not None and value > 0
    return f"+{value_text(value)}" if moves else value_text(value)


def setting_text(tuning: Findings, point: Point) -> str:
    """Return a setting in short: the value of the one dial, or every key with its value."""
    if len(tuning.dials) == 1:
        return setting_value(tuning, tuning.dials[0].key, point)
    return " ".join(f"{dial.key} {setting_value(tuning, dial.key, point)}" for dial in tuning.dials)


def as_good(tuning: Findings) -> list[str]:
    """Return which other settings are as good, and whether one of them asks for no more change."""
    others = [tie for tie in tuning.ties if tie is not tuning.best]
    if not others:
        return []
    within = f"as good within {amount(tuning, tuning.objective.tie)}"
    if tuning.present.score is None:
        return [f"{len(others)} other {_settings_are(len(others))} {within}."]
    far = {id(tie): _far(tuning, tie) - _far(tuning, tuning.best) for tie in others}
    level = [tie for tie in others if far[id(tie)] == 0]
    nearer = [tie for tie in others if far[id(tie)] < 0]
    rest = len(others) - len(level)
    said = []
    if level:
        texts = [setting_text(tuning, tie) for tie in tuning.ties if tie is tuning.best or tie in level]
        same = alike(tuning.objective.tie)
        equal = all(abs((tie.score or 0.0) - tuning.score) <= same for tie in level)
        how = f"equal within {amount(tuning, same)}" if equal else within
        said.append(f"{_listed(texts)} are {how} and need as much change.")
    if rest:
        least = "" if level or nearer else "; this one needs the least change"
        text = f"{rest} {'more' if level else 'other'} {_settings_are(rest)} {within}{least}"
        if nearer:
            named = _listed([setting_text(tuning, tie) for tie in nearer])
            text += f"; {named} {'needs' if len(nearer) == 1 else 'need'} less change"
        said.append(f"{text}.")
    return said


def _far(tuning: Findings, point: Point) -> float:
    return round(change_of(tuning.dials, tuning.present.values, point.values), 9)


def _settings_are(count: int) -> str:
    return "setting is" if count == 1 else "settings are"


def _listed(texts: list[str]) -> str:
    """Return "a, b and c"; of many the first few, and how many more."""
    if len(texts) > _MOST_NAMED:
        texts = [*texts[: _MOST_NAMED - 1], f"{len(texts) - _MOST_NAMED + 1} more"]
    return " and ".join(filter(None, [", ".join(texts[:-1]), texts[-1]]))
