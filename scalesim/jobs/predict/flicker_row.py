"""One row of a flicker study: a filter on a landing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

LANDINGS = {
    ("interlaced", ""): "interlaced",
    ("field-only", "down"): "one set of lines, pair=down",
    ("field-only", "up"): "one set of lines, pair=up",
}
"""(landing, pair) -> its name."""


STEADY = 0.005
"""Percent of white below which flicker reads as 0.00."""


@dataclass(frozen=True)
class FlickerRow:
    """One filter on one landing.

    Parameters:
        taps : the filter's weights as text, or "paired"
        landing : "interlaced", or "field-only" (both fields on one set of lines)
        pair : "down" or "up", which frame lines share a scan line; "" when interlaced
        shift : frame lines the picture was moved down before it was filtered, 0 or 1
        chain : the whole chain's text
        metrics : `flicker_percent`, `flicker_p95`, `flicker_db`, `edge_spread_lines`, or None
        why : reason of each None
    """

    taps: str
    landing: str
    pair: str
    shift: int
    chain: str
    metrics: Mapping[str, float | None]
    why: Mapping[str, str]

    def to_dict(self) -> dict[str, Any]:
        """Return the row flat: the four settings, the chain, metrics by key, reasons."""
        return {
            "taps": self.taps,
            "landing": self.landing,
            "pair": self.pair,
            "shift": self.shift,
            "chain": self.chain,
            **self.metrics,
            "why": dict(self.why),
        }
