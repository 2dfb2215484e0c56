"""How figures of lag are written."""

from __future__ import annotations

from math import floor, isfinite, log10

_FINEST_US_PER_S = 1e-4
"""No clock keeps its rate so well that less of an error could be claimed."""


def ms(value: float) -> str:
    """Return milliseconds to hundredths, as no bench reads them finer."""
    return "–" if not isfinite(value) else f"{value:.2f}"


def rounded(value: float, error: float) -> tuple[str, str]:
    """Return a value and its error, both to the error's second digit (first where it begins with 3 to 9)."""
    if not (isfinite(error) and error > 0):
        return f"{value:.4g}", "–"
    power = floor(log10(error))
    digits = max(0, min(6, (1 if error / 10**power < 3 else 0) - power))
    return f"{value:.{digits}f}", f"{error:.{digits}f}"


def two_digits(value: float) -> str:
    """Return a bound to two digits, never in powers of ten: 2.4, 180."""
    return f"{float(f'{value:.2g}'):.10f}".rstrip("0").rstrip(".")


def drift(value: float, error: float | None) -> str:
    """Return a drift in µs/s with twice its standard error."""
    if error is None:
        return f"{value:.4g} µs/s"
    said, off = rounded(value, max(2 * error, _FINEST_US_PER_S))
    return f"{said} ± {off} µs/s"


def percent(share: float) -> str:
    """Return a confidence as whole percent, never 100."""
    return f"{min(99, floor(100 * share))} %"
