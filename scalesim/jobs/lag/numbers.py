"""How figures of lag are written."""

from __future__ import annotations

from math import floor, isfinite, log10


def ms(value: float) -> str:
    """Return milliseconds to hundredths, as no bench reads them finer."""
    return "–" if not isfinite(value) else f"{value:.2f}"


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


def rounded(value: float, error: float) -> tuple[str, str]:
    """Return a value and its error, both to the error's second digit (first where it begins with 3 to 9)."""
    if not (isfinite(error) and error > 0):
        return f"{value:.4g}", "–"
    power = floor(log10(error))
    digits = max(0, min(6, (1 if error / 10**power < 3 else 0) - power))
    return f"{value:.{digits}f}", f"{error:.{digits}f}"


def drift(value: float, error: float | None) -> str:
    """Return a drift in µs/s with twice its standard error."""
    if error is None:
        return f"{value:.4g} µs/s"
    said, off = rounded(value, 2 * error)
    return f"{said} ± {off} µs/s"


def percent(share: float) -> str:
    """Return a confidence as whole percent, never 100."""
    return f"{min(99, floor(100 * share))} %"


def hz(rate: object) -> str:
    """Return a rate to at most three decimals."""
    return f"{float(rate):.3f}".rstrip("0").rstrip(".") + " Hz"  # type: ignore[arg-type]  # a Fraction
