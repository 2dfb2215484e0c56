"""Values as a chain's text writes them."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

_PLAIN_DENOMINATORS = 64
"""A float equal to a fraction with a denominator up to this is written as the fraction (1/3)."""


class Exact(Fraction):
    """A number kept exactly: written as a decimal where that is exact, else with a slash, 60000/1001."""

    def __str__(self) -> str:
        if 10**12 % self.denominator == 0:
            digits = f"{Decimal(self.numerator) / Decimal(self.denominator):f}"
            return digits.rstrip("0").rstrip(".") if "." in digits else digits
        return f"{self.numerator}/{self.denominator}"


def key_text(value: Any) -> str:
    """Return a settled value in the text form of a chain, before quoting."""
    if isinstance(value, bool):
        return "on" if value else "off"
    if isinstance(value, tuple):
        # the slash joins taps, so a tap itself is never written as a fraction
        return "/".join(str(int(tap)) if tap == int(tap) else repr(tap) for tap in value)
    if isinstance(value, Exact):
        return str(value)
    if isinstance(value, Fraction):
        return f"{value.numerator}:{value.denominator}"
    if isinstance(value, float):
        return _number_text(value)
    return str(value)


def _number_text(value: float) -> str:
    if value == int(value):
        return str(int(value))
    plain = Fraction(value).limit_denominator(_PLAIN_DENOMINATORS)
    # 0.1 stays 0.1, but 0.3333333333333333 reads better as 1/3
    if float(plain) == value and len(repr(value)) > 8:
        return f"{plain.numerator}/{plain.denominator}"
    return repr(value)
