"""One setting of the dials: its values, and what it scores."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from scalesim.schema import key_text


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
        return f"{value:g}" if round(value, 9) == float(f"{value:g}") else key_text(value)
    return key_text(value)
