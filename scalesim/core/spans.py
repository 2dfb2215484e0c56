"""Times and rates as people say them."""

from __future__ import annotations

from fractions import Fraction


def span(seconds: float) -> str:
    """Return a time as people say it: 8.74 s, 13 min 54 s, 4 h 38 min, 2 days 3 h."""
    if seconds < 100:
        return f"{seconds:.3g} s"
    if seconds < 3600:
        whole = round(seconds)
        return f"{whole // 60} min {whole % 60} s" if whole % 60 else f"{whole // 60} min"
    if seconds < 172_800:
        whole = round(seconds / 60)
        return f"{whole // 60} h {whole % 60} min" if whole % 60 else f"{whole // 60} h"
    hours = round(seconds / 3600)
    return f"{hours // 24} days {hours % 24} h" if hours % 24 else f"{hours // 24} days"


def hz(rate: Fraction | float) -> str:
    """Return a rate: a fraction that six decimals hold exactly with them, another to at most three."""
    if isinstance(rate, Fraction) and 10**6 % rate.denominator == 0:
        return f"{float(rate):.6f}".rstrip("0").rstrip(".") + " Hz"
    return f"{float(rate):.3f}".rstrip("0").rstrip(".") + " Hz"
