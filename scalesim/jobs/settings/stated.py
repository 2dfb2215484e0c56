"""A value and its standard error as they are printed: the same digits in sentences and tables."""

from __future__ import annotations

from math import floor, log10

_MOST = 4


def digits(error: float) -> int:
    """Return the decimals that show an error with a figure that is not 0: 2 at least, 4 at most."""
    if not error > 0:
        return 2
    return min(_MOST, max(2, -floor(log10(error))))


def error_text(error: float) -> str:
    """Return a standard error, "0.04", "0.003"; never a row of noughts."""
    least = 10.0**-_MOST
    return f"below {least:.{_MOST}f}" if 0 <= error < least / 2 else f"{error:.{digits(error)}f}"


def value_text(value: float, error: float, *, sign: bool = False) -> str:
    """Return a value to the digits of its error."""
    shown = f"{value:{'+' if sign else ''}.{digits(error)}f}"
    return shown[1:] if shown.startswith("-") and not float(shown) else shown
