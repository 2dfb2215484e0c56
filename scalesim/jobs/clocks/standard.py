"""The standard pairs: rates that meet on a bench, with what they do."""

from __future__ import annotations

from fractions import Fraction

from scalesim.core.clocks import Pair
from scalesim.core.mode import MODES

_RATES: dict[str, Fraction] = {
    "59.94": Fraction(60000, 1001),
    "60": Fraction(60),
    "50": Fraction(50),
    "240p, 262 lines": MODES["240p59.94"].rate,
    "240p, 263 lines": MODES["240p59.94@263"].rate,
    "288p, 312 lines": MODES["288p50"].rate,
    "288p, 313 lines": MODES["288p50@313"].rate,
    "640x480 at 25.175 MHz": MODES["640x480p59.94"].rate,
}
_MET = (
    ("59.94", "60"),
    ("60", "59.94"),
    ("59.94", "240p, 262 lines"),
    ("59.94", "240p, 263 lines"),
    ("60", "240p, 262 lines"),
    ("60", "240p, 263 lines"),
    ("240p, 262 lines", "240p, 263 lines"),
    ("50", "288p, 312 lines"),
    ("50", "288p, 313 lines"),
    ("59.94", "640x480 at 25.175 MHz"),
    ("50", "60"),
    ("60", "50"),
    ("50", "59.94"),
    ("59.94", "50"),
)
STANDARD: tuple[tuple[str, str, Pair], ...] = tuple((a, b, Pair(_RATES[a], _RATES[b])) for a, b in _MET)
"""(source, output, pair)."""
