"""What averages, flicker filters, kernels and drops do to frequencies, against scipy.signal and Fourier.

Sources: closed forms of Fourier analysis, written beside each check; scipy.signal of SciPy 1.17.1 from
PyPI (``freqz``, ``upfirdn``, ``periodogram``, ``windows``), ``scipy.interpolate.CubicHermiteSpline`` and
``scipy.optimize.brentq``, run here on the chain's own matrix. Frequencies are in cycles per line that
comes in; 1/2 is the finest pattern those lines can carry.
"""

from __future__ import annotations

from fractions import Fraction
from math import lcm

import numpy as np
import pytest
from external.chains import Array, largest_difference, line_weights, noise, through
from numpy.typing import ArrayLike

EXACT = 1e-12
FREQUENCIES = np.linspace(0.001, 0.499, 200)


def response(text: str, lines: int, frequencies: ArrayLike) -> Array:
    """Return |H| of the middle output line's taps by scipy.signal.freqz, which takes radians a line."""
    from scipy import signal

    weights = line_weights(text, lines)
    _, gain = signal.freqz(weights[len(weights) // 2], worN=2 * np.pi * np.asarray(frequencies, dtype=float))
    return np.abs(gain)


def average_of(n: int, f: Array) -> Array:
    """Return |sin(pi N f) / (N sin(pi f))|, the mean of N lines."""
    return np.abs(np.sin(np.pi * n * f) / (n * np.sin(np.pi * f)))


@pytest.mark.parametrize("n", [2, 3, 4, 9])
def test_average_of_n_lines(n: int) -> None:
    """|sin(pi N f) / (N sin(pi f))|; the mean of one line more or less is told apart."""
    found = response("line-average lines=240", 240 * n, FREQUENCIES)
    assert largest_difference(found, average_of(n, FREQUENCIES)) < EXACT
    assert largest_difference(found, average_of(n + 1, FREQUENCIES)) > 0.05


@pytest.mark.parametrize(
    ("n", "marks"),
    [
        (2, {1 / 4: 0.707107, 1 / 2: 0.0}),
        (3, {1 / 2: 0.333333, 1 / 3: 0.0, 1 / 6: 0.666667}),
        (4, {1 / 8: 0.653281, 1 / 4: 0.0, 1 / 2: 0.0}),
    ],
)
def test_average_at_marked_frequencies(n: int, marks: dict[float, float]) -> None:
    """The same form, worked out to six places."""
    found = response("line-average lines=240", 240 * n, list(marks))
    assert found == pytest.approx(list(marks.values()), abs=1e-6)


FILTERS = {
    "1/2/1": {1 / 8: 0.853553, 1 / 4: 0.5, 3 / 8: 0.146447, 1 / 2: 0.0},
    "-1/2/6/2/-1": {1 / 8: 1.103553, 1 / 6: 1.125, 1 / 4: 1.0, 3 / 8: 0.396447, 1 / 2: 0.0},
    "1/1/1": {1 / 2: 0.333333, 1 / 3: 0.0},
    "1": {1 / 8: 1.0, 1 / 2: 1.0},
}


@pytest.mark.parametrize("taps", list(FILTERS))
def test_flicker_filter_at_marked_frequencies(taps: str) -> None:
    """1/2 + 1/2 cos 2 pi f; 3/4 + 1/2 cos 2 pi f - 1/4 cos 4 pi f; 1/3 + 2/3 cos 2 pi f; 1."""
    marks = FILTERS[taps]
    found = response(f"flicker-filter taps={taps}", 480, list(marks))
    assert found == pytest.approx(list(marks.values()), abs=1e-6)


def test_flicker_filters_between_the_marks() -> None:
    """cos^2 pi f, and the five-tap form above, whose peak of 1.125 is at 1/6; each misses the other."""
    two_one, five = (response(f"flicker-filter taps={taps}", 480, FREQUENCIES) for taps in list(FILTERS)[:2])
    turn = 2 * np.pi * FREQUENCIES
    assert largest_difference(two_one, np.cos(turn / 2) ** 2) < EXACT
    assert largest_difference(five, 0.75 + 0.5 * np.cos(turn) - 0.25 * np.cos(2 * turn)) < EXACT
    assert FREQUENCIES[np.argmax(five)] == pytest.approx(1 / 6, abs=0.002)
    assert largest_difference(two_one, five) > 0.1


@pytest.mark.parametrize(
    ("taps", "gain", "frequency"),
    [("1/2/1", 0.5**0.5, 0.182028), ("1/2/1", 0.5, 0.25), ("-1/2/6/2/-1", 0.5, 0.356035)],
)
def test_flicker_filter_band_edges(taps: str, gain: float, frequency: float) -> None:
    """Where the closed forms are 3.01 and 6.02 dB down, found by brentq on the freqz of our taps."""

    from scipy.optimize import brentq

    def above(f: float) -> float:
        return float(response(f"flicker-filter taps={taps}", 480, [f])[0]) - gain

    assert brentq(above, 0.17, 0.499) == pytest.approx(frequency, abs=1e-6)


def kernel_samples(kernel: str, width: float, half: int) -> Array:
    """Return the kernel widened to `width` grid points, at the grid points -half..half.

    Triangle from scipy.signal.windows; Keys' cubic of a = -1/2 as the Hermite spline through a single 1
    with slopes of half the distance between neighbours; Lanczos as sinc times SciPy's Lanczos window.
    """
    from scipy import signal
    from scipy.interpolate import CubicHermiteSpline

    grid = np.arange(-half, half + 1)
    if kernel == "linear":
        return np.pad(signal.windows.triang(2 * half - 1), 1)
    if kernel == "cubic":
        knots, impulse = np.arange(-3.0, 4.0), np.array([0, 0, 0, 1.0, 0, 0, 0])
        return np.asarray(CubicHermiteSpline(knots, impulse, np.gradient(impulse))(grid / width))
    return np.sinc(grid / width) * signal.windows.lanczos(2 * half + 1)


def polyphase(kernel: str, lines: int, lines_out: int, grey: Array) -> Array:
    """Return `grey` resampled by scipy.signal.upfirdn, spans' middles at (r + 1/2) step, taps' sum 1.

    All places are multiples of 1/up of a line: line i is at i up, the first middle at `first`.
    """
    from scipy import signal

    step = Fraction(lines, lines_out)
    middle = step / 2 - Fraction(1, 2)
    up = lcm(step.denominator, middle.denominator)
    lobes = {"linear": 1, "cubic": 2, "lanczos2": 2, "lanczos3": 3}[kernel]
    width = max(step, Fraction(1)) * up
    taps = kernel_samples(kernel, float(width), int(lobes * width))
    first = int(middle * up) + int(lobes * width)
    places = first + np.arange(lines_out) * int(step * up)
    total, weight = (signal.upfirdn(taps, x, up, axis=0) for x in (grey, np.ones_like(grey)))
    inside = places < len(total)
    return np.asarray(total[places[inside]] / weight[places[inside]])


SIZES = [(720, 240), (1080, 240), (720, 480), (1080, 480), (240, 480), (480, 720)]
KERNELS = ["linear", "cubic", "lanczos2", "lanczos3"]


@pytest.mark.parametrize(("lines", "lines_out"), SIZES)
@pytest.mark.parametrize("kernel", KERNELS)
def test_resample_is_a_polyphase_filter(kernel: str, lines: int, lines_out: int) -> None:
    """scipy.signal.upfirdn, away from the border; a wrong kernel or phase misses it."""
    grey = noise(lines, 8)
    theirs = polyphase(kernel, lines, lines_out, grey)
    inner = slice(8, -8)

    def miss(text: str) -> float:
        return largest_difference(through(f"resample lines={lines_out} {text}", grey)[inner], theirs[inner])

    assert miss(f"kernel={kernel}") < EXACT
    assert miss(f"kernel={kernel} phase=1/16") > 1e-3
    assert miss(f"kernel={KERNELS[KERNELS.index(kernel) - 1]}") > 1e-3


@pytest.mark.parametrize("n", [2, 3, 4])
def test_widened_linear_kernel_row(n: int) -> None:
    """At N:1 the taps are a triangle, scipy.signal.windows.triang, 2N - 1 (N odd) or 2N (even) lines wide."""
    from scipy import signal

    row = line_weights("resample lines=240", 240 * n)[120]
    window = signal.windows.triang(2 * n - 1 if n % 2 else 2 * n)
    assert largest_difference(row[row > 0], window / window.sum()) < EXACT


def loudest(values: Array) -> float:
    """Return the frequency, in cycles per line, of the highest peak of scipy.signal.periodogram."""
    from scipy import signal

    frequencies, power = signal.periodogram(values, window="hann", nfft=1 << 14)
    return float(frequencies[np.argmax(power)])


@pytest.mark.parametrize(("n", "phase"), [(2, 0), (3, 0), (3, 1), (4, 2)])
@pytest.mark.parametrize("frequency", [0.07, 0.19, 0.29, 0.37, 0.45])
def test_drop_folds_what_its_lines_cannot_carry(n: int, phase: int, frequency: float) -> None:
    """Sampling theorem: 1 line in N shows f as its distance to the nearest multiple of 1/N."""
    lines = 240 * n
    waves = 0.5 + 0.5 * np.cos(2 * np.pi * frequency * np.arange(lines))
    kept = through(f"line-drop lines=240 phase={phase}", np.repeat(waves[:, None], 4, axis=1))[:, 0]
    folded = n * abs(frequency - round(frequency * n) / n)
    assert loudest(kept - kept.mean()) == pytest.approx(folded, abs=1e-3)
    if frequency > 1 / (2 * n):
        assert abs(folded - n * frequency) > 0.05, "not where it would be without folding"


def test_average_and_kernel_weaken_what_a_drop_folds() -> None:
    """A pattern of 0.45 cycles a line through 3:1: drop all of it, average 0.3362, triangle its square."""
    waves = np.repeat(np.cos(2 * np.pi * 0.45 * np.arange(720))[:, None], 4, axis=1)
    expected = float(average_of(3, np.array([0.45]))[0])
    swing = {
        text: float(np.ptp(through(text, waves)[2:-2])) / 2
        for text in ("line-drop lines=240", "line-average lines=240", "resample lines=240")
    }
    assert list(swing.values()) == pytest.approx([1.0, expected, expected**2], rel=0.01)
