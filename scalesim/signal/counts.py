"""What a count of chance events says about their true number: the exact interval of a Poisson count.

Source: Garwood, "Fiducial limits for the Poisson distribution", Biometrika 28 (1936) 437: of n events they
are chi2(0.025, 2 n) / 2 and chi2(0.975, 2 n + 2) / 2, by SciPy's quantiles.
"""

from __future__ import annotations

CONFIDENCE = 0.95


def poisson_limits(count: int) -> tuple[float, float]:
    """Return the least and the greatest mean that so many events are likely with, 95 %."""
    from scipy.special import chdtri

    tail = (1 - CONFIDENCE) / 2
    low = float(chdtri(2 * count, 1 - tail)) / 2 if count else 0.0
    return low, float(chdtri(2 * count + 2, tail)) / 2
