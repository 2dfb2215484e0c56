"""`profile_widths` against analytic edges: the 10-90 % width ISO 12233 speaks of.

Source: closed forms. The edge a spread function leaves is its running integral, so the width is the
distance between its 10 % and 90 % points: Gaussian of deviation s, 2 sqrt(2) erfinv(0.8) s = 2.5631031 s;
box of width w, 0.8 w; triangle of half-base w, (2 - 2 sqrt(0.2)) w = 1.1055728 w. How got: worked out
with SciPy 1.17.1 (``special.erf``, ``special.erfinv``). The term "edge spread" is ISO 12233's (2014);
that text gives no figures for these edges.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from external.chains import Array
from scipy.special import erf, erfinv

from scalesim.metrics.edges.profiles import profile_widths

Edge = Callable[[Array], Array]


def gaussian(x: Array) -> Array:
    return np.asarray((1 + erf(x / np.sqrt(2))) / 2)


def box(x: Array) -> Array:
    return np.clip(x + 0.5, 0, 1)


def triangle(x: Array) -> Array:
    inside = np.clip(x, -1, 1)
    return 0.5 + inside - np.sign(inside) * inside**2 / 2


WIDTHS: list[tuple[Edge, float]] = [
    (gaussian, 2.5631031),
    (box, 0.8),
    (triangle, 1.1055728),
]
POINTS = 401


def measured(
    edge: Edge, scale: float, *, middle: float = 200.0, low: float = 0.2, high: float = 0.7
) -> float:
    """Return the width found, in points, of an edge `scale` points wide about `middle`."""
    profile = low + (high - low) * edge((np.arange(POINTS) - middle) / scale)
    return float(profile_widths(profile[None], np.array([middle]))[0])


def test_the_closed_forms() -> None:
    """The three figures are what the formulas give."""
    assert 2 * np.sqrt(2) * erfinv(0.8) == pytest.approx(2.5631031, abs=1e-7)
    assert 2 - 2 * np.sqrt(0.2) == pytest.approx(1.1055728, abs=1e-7)


@pytest.mark.parametrize(("edge", "width"), WIDTHS)
@pytest.mark.parametrize("scale", [15.0, 30.0])
@pytest.mark.parametrize("middle", [200.0, 199.5, 203.137])
def test_finely_sampled_edge(edge: Edge, width: float, scale: float, middle: float) -> None:
    """Within 0.5 %, wherever the edge lies between two points."""
    assert measured(edge, scale, middle=middle) == pytest.approx(width * scale, rel=0.005)


@pytest.mark.parametrize(("edge", "width"), WIDTHS)
@pytest.mark.parametrize(("low", "high"), [(0.7, 0.2), (0.0, 1.0), (0.45, 0.55)])
def test_polarity_and_contrast_do_not_count(edge: Edge, width: float, low: float, high: float) -> None:
    """A falling edge, a full one and a weak one have the same width."""
    assert measured(edge, 20.0, low=low, high=high) == pytest.approx(width * 20, rel=0.005)


@pytest.mark.parametrize(("edge", "width"), WIDTHS)
def test_an_edge_one_per_cent_wider_is_caught(edge: Edge, width: float) -> None:
    """Guard: neither an edge a hundredth wider nor another of the three shapes passes the check above."""
    assert measured(edge, 20.2) != pytest.approx(width * 20, rel=0.005)
    for other, _ in WIDTHS:
        if other is not edge:
            assert measured(other, 20.0) != pytest.approx(width * 20, rel=0.005)


def test_a_step_between_two_lines_is_the_straight_line_between_them() -> None:
    """The least a raster can show: the 10 % and 90 % points of a straight line one pitch long, 0.8."""
    step = np.repeat([[0.1, 0.9]], 4, axis=1)
    assert float(profile_widths(step, np.array([3.5]))[0]) == pytest.approx(0.8, abs=1e-9)


def test_of_two_edges_the_one_asked_for_counts() -> None:
    """A profile with a wide edge at 100 and a narrow one at 300, back to the first level between them."""
    x = np.arange(POINTS, dtype=float)
    profile = np.minimum(gaussian((x - 60) / 16), 1 - gaussian((x - 160) / 4)) + gaussian((x - 300) / 8)
    widths = profile_widths(np.array([profile, profile]), np.array([60.0, 300.0]))
    assert widths == pytest.approx([2.5631031 * 16, 2.5631031 * 8], rel=0.005)
