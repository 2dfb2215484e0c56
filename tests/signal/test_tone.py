"""The tone curve: known curves come back, SciPy's own fit agrees, and an overlay does not bend it."""

from __future__ import annotations

import numpy as np
import pytest
from box_captures import capture, frame, look, luma
from numpy.typing import NDArray

from scalesim.errors import NotIdentifiable, ShapeError
from scalesim.signal.registration import register
from scalesim.signal.tone import Tone, fit_tone, flat_pairs


def pairs(tone: tuple[float, float, float], noise: float, count: int = 300) -> tuple[NDArray, NDArray]:
    """Return (source, capture) of a lift, gain and gamma, written out here by itself."""
    rng = np.random.RandomState(5)
    x = rng.uniform(0.02, 0.95, count)
    return x, tone[0] + tone[1] * x ** tone[2] + rng.standard_normal(count) * noise


@pytest.mark.parametrize("tone", [(0.03, 0.85, 1.1), (0.0, 1.0, 1.0), (-0.02, 0.95, 0.9), (0.06, 0.8, 0.95)])
def test_a_known_curve(tone: tuple[float, float, float]) -> None:
    """Limits: three stated errors; exact without noise."""
    found = fit_tone(*pairs(tone, 0.0))
    assert (found.lift, found.gain, found.gamma) == pytest.approx(tone, abs=1e-4)
    noisy = fit_tone(*pairs(tone, 1 / 255))
    for name, true in zip(("lift", "gain", "gamma"), tone, strict=True):
        assert abs(getattr(noisy, name) - true) < 3 * getattr(noisy, f"{name}_error")
        assert getattr(noisy, f"{name}_error") < 0.02


def test_scipy_fits_the_same() -> None:
    """scipy.optimize.least_squares with the Cauchy loss on the same pairs."""
    from scipy.optimize import least_squares

    x, y = pairs((0.04, 0.88, 1.07), 1 / 255)
    y[::9] += 0.2
    found = fit_tone(x, y)
    own = least_squares(
        lambda p: p[0] + p[1] * x ** p[2] - y, (0, 1, 1), loss="cauchy", f_scale=2.4 * 1.2 / 255
    ).x
    assert (found.lift, found.gain, found.gamma) == pytest.approx(tuple(own), abs=0.006)
    plain = least_squares(lambda p: p[0] + p[1] * x ** p[2] - y, (0, 1, 1)).x
    assert abs(plain[0] - found.lift) > 0.015  # without robustness the outliers lift it


def test_the_inverse() -> None:
    tone = Tone(0.05, 0.8, 1.1)
    x = np.linspace(0, 1, 21)
    assert tone.inverse(tone(x)) == pytest.approx(x, abs=1e-12)
    assert tone.inverse(np.array([0.0])) == 0.0
    assert tone.inverse(x) != pytest.approx(Tone(0.05, 0.8, 1.0).inverse(x), abs=0.02)


def test_of_a_registered_capture() -> None:
    source = frame("kettle_crew")
    shown = luma(
        capture(
            source, 480, 720, look(720, 480), look(1280, 720),
            gain=0.9, lift=0.04, gamma=1.08, noise=2, jpeg=85,
        )
    )  # fmt: skip
    found = register(shown, luma(source))
    tone = fit_tone(*flat_pairs(found.source_on_capture(luma(source), shown.shape), shown))
    # the curve is put on each channel and luma is their mean, so grey areas only would give it exactly
    assert tone.gamma == pytest.approx(1.08, abs=0.03)
    assert tone(np.array([0.1, 0.5, 0.8])) == pytest.approx(
        0.04 + 0.9 * np.array([0.1, 0.5, 0.8]) ** 1.08, abs=0.01
    )


def test_edges_are_no_flat_areas() -> None:
    picture = np.zeros((60, 160))
    picture[:, 83:] = 0.8
    x, y = flat_pairs(picture, picture * 0.9)
    assert set(np.round(x, 6)) == {0.0, 0.8} and y == pytest.approx(0.9 * x)


def test_what_has_no_tone() -> None:
    with pytest.raises(NotIdentifiable, match="0 flat areas"):
        fit_tone(np.full(100, 0.5), np.ones(100))  # clipped throughout
    with pytest.raises(NotIdentifiable, match=r"span 0.00"):
        fit_tone(np.full(100, 0.5), np.full(100, 0.5))
    with pytest.raises(ShapeError, match="drawn on the capture"):
        flat_pairs(np.zeros((10, 10)), np.zeros((10, 12)))
