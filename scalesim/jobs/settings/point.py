"""One setting of the dials: its values, and what it scores."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from scalesim.chain.dial import same_value
from scalesim.chain.vary import Varied
from scalesim.schema import key_text

_PLAIN_DENOMINATORS = 64
_ROUNDING = 1e-9
"""A sum of steps that misses a plain fraction by no more than this is that fraction."""


@dataclass(frozen=True)
class Point:
    """One setting: its values, its score (mean over the frames) and each frame's, or why there is none.

    Parameters:
        values : key -> value
        score, per_frame : None when there is none
        metrics : metric key -> mean over the frames
        cropped : percent of the picture pushed out or hidden
        why : reason for no score, else ""
    """

    values: Mapping[str, Any]
    score: float | None
    per_frame: tuple[float | None, ...]
    metrics: Mapping[str, float | None]
    cropped: float | None = None
    why: str = ""

    def to_dict(self) -> dict[str, Any]:
        """Return the point of a curve; `why` only where there is no score."""
        found = {
            "values": plain_values(self.values),
            "score": self.score,
            "per_frame": list(self.per_frame),
            "metrics": dict(self.metrics),
        }
        return {**found, "why": self.why} if self.why else found


def plain_values(values: Mapping[str, Any]) -> dict[str, Any]:
    """Return values as a document holds them: numbers and switches as they are, others as their text."""
    plain = (int, float, type(None))
    return {key: value if isinstance(value, plain) else key_text(value) for key, value in values.items()}


def value_text(value: Any) -> str:
    """Return a key's value as the text form writes it; "default" for a key left out."""
    if value is None:
        return "default"
    if isinstance(value, float):
        if round(value, 9) == float(f"{value:g}"):
            return f"{value + 0.0:g}"  # no -0
        plain = float(Fraction(value).limit_denominator(_PLAIN_DENOMINATORS))
        return key_text(plain if abs(plain - value) < _ROUNDING else value)
    return key_text(value)


def change_of(dials: Sequence[Varied], now: Mapping[str, Any], then: Mapping[str, Any]) -> float:
    """Return how far one setting is from another, in shares of each dial's range.

    Parameters:  now, then : key -> value of every dial
    """
    total = 0.0
    for dial in dials:
        present, value = now[dial.key], then[dial.key]
        if dial.ordered and present is not None and len(dial.values) > 1:
            total += abs(value - present) / abs(dial.values[-1] - dial.values[0])
        else:
            total += not same_value(value, present)
    return total
