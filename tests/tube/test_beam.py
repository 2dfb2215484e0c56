"""The beam against closed forms of Gaussian lines, and where lines land."""

from __future__ import annotations

import dataclasses
from fractions import Fraction

import numpy as np
import pytest

from scalesim.core.raster import BOTTOM_FIRST, TOP_FIRST, Field, Raster
from scalesim.tube.beam import DEGREE, FWHM, beam_taps, line_places, profile, sigmas
from scalesim.tube.display import DISPLAYS, Display

STUDIO = DISPLAYS["studio-36cm-800"]
LINES = 20
PLACES = np.arange(LINES) + 0.5


def painted(display: Display, light: np.ndarray, rows_per_line: int = 16) -> np.ndarray:
    """Return the light down the screen of lines of these lights."""
    edges = np.linspace(0, LINES, LINES * rows_per_line + 1)
    taps = beam_taps(PLACES, edges, display)
    drive = np.sqrt(light)
    inside = (taps.columns >= 0) & (taps.columns < LINES)
    column = np.clip(taps.columns, 0, LINES - 1)
    powers = drive[column][..., None] ** np.arange(taps.weights.shape[2])
    each = (taps.weights * powers).sum(axis=2) * light[column] * inside
    return np.asarray(each.sum(axis=1))


def comb(sigma: float, at: np.ndarray) -> np.ndarray:
    """Fourier series of Gaussians one pitch apart, of mean 1 and a line at 0."""
    k = np.arange(1, 40)
    return 1 + 2 * (np.exp(-2 * (np.pi * sigma * k) ** 2) * np.cos(2 * np.pi * k * at[:, None])).sum(axis=1)


@pytest.mark.parametrize("width", [0.4, 0.6, 0.9, 1.2])
def test_fixed_beam_is_a_gaussian_comb(width: float) -> None:
    """Closed form: 1 + 2 sum exp(-2 pi^2 sigma^2 k^2) cos(2 pi k x), a dot row's own box included."""
    display = dataclasses.replace(STUDIO, beam_width=width, beam_growth=1)
    rows = 64
    got = painted(display, np.ones(LINES), rows)[8 * rows : 12 * rows]
    at = (np.arange(4 * rows) + 0.5) / rows - 0.5
    assert np.abs(got - comb(width / FWHM, at)).max() < 1e-3 * comb(width / FWHM, np.zeros(1))[0]
    # a beam a tenth wider is not this one
    assert np.abs(got - comb(1.1 * width / FWHM, at)).max() > 2e-3


@pytest.mark.parametrize("light", [0.04, 0.3, 1.0])
def test_growing_beam_is_the_comb_of_its_own_width(light: float) -> None:
    """The stated law: width_black + (width_white - width_black) sqrt(light)."""
    display = dataclasses.replace(STUDIO, beam_width=0.8, beam_growth=2.0)
    black, white = sigmas(display)
    assert (black, white) == pytest.approx((0.4 / FWHM, 0.8 / FWHM))
    rows = 64
    got = painted(display, np.full(LINES, light), rows)[8 * rows : 12 * rows]
    at = (np.arange(4 * rows) + 0.5) / rows - 0.5
    law = black + (white - black) * np.sqrt(light)
    assert np.abs(got / light - comb(law, at)).max() < 4e-3
    other = black + (white - black) * light
    assert light == 1 or np.abs(got / light - comb(other, at)).max() > 0.02


@pytest.mark.parametrize("growth", [1.0, 1.7, 4.0])
@pytest.mark.parametrize("rows_per_line", [3, 5, 24])
def test_no_light_is_made_or_lost(growth: float, rows_per_line: int) -> None:
    """Every line sample keeps its light to 1e-5 of it, whatever the width and the scale."""
    display = dataclasses.replace(STUDIO, beam_width=0.9, beam_growth=growth)
    for light in (1e-4, 0.2, 0.77, 1.0):
        alone = np.where(np.arange(LINES) == 10, light, 0.0)
        total = painted(display, alone, rows_per_line).sum() / rows_per_line
        assert total == pytest.approx(light, rel=1e-5)


def test_terms_of_the_growing_beam() -> None:
    """Over whole pitches term 0 is the light and the other terms are nothing, and they do move light."""
    display = dataclasses.replace(STUDIO, beam_growth=3.0)
    weights = beam_taps(PLACES, np.linspace(0, LINES, LINES * 5 + 1), display).weights[40:60]
    assert weights.shape[2] == DEGREE + 1
    assert weights.sum(axis=(0, 1)) / 20 == pytest.approx(np.eye(DEGREE + 1)[0], abs=2e-5)
    assert np.abs(weights[..., 1:]).max() > 0.1
    # a beam cut off a line too early loses light
    assert weights[:, 2:-2].sum(axis=(0, 1))[0] / 20 < 0.98


def test_profile_is_the_exact_integral() -> None:
    """SciPy's normal distribution over each row."""
    from scipy.stats import norm

    edges = np.array([0.0, 0.3, 0.6, 0.9])
    centres = np.array([[0.2], [0.2], [0.5]])
    cumulative = norm.cdf(edges[:, None], centres.T[:, [0, 2]], 0.25)
    share = np.diff(cumulative, axis=0) / 0.3
    assert profile(centres, edges, 0.25)[:, 0] == pytest.approx([share[0, 0], share[1, 0], share[2, 1]])


def test_where_lines_land() -> None:
    """Field-line pitches from the top: 1/2; 1/4 and 3/4 for a pair; the same, or one further down."""

    def first(fields: tuple[Field, ...]) -> list[float]:
        raster = Raster(240, 4, fields=fields)
        places = [line_places(raster, phase) for phase in range(raster.period)]
        assert all(np.allclose(np.diff(at), 1) and len(at) == 240 for at in places)
        return [float(at[0]) for at in places]

    zero, one = Fraction(0), Fraction(1)
    assert first((Field(),)) == [0.5]
    assert first(TOP_FIRST) == [0.25, 0.75]
    assert first(BOTTOM_FIRST) == [0.75, 0.25]
    assert first((Field(0, zero), Field(1, zero))) == [0.5, 0.5]
    assert first((Field(0, zero), Field(1, one))) == [0.5, 1.5]
