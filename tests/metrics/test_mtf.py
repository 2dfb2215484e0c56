"""MTF50 of chains with known kernels, by slanted edges and by the edge model."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from metrics.evidence import evidence_of
from metrics.slants import Array, colour, slanted, steps

from scalesim.errors import NotMeasurable
from scalesim.metrics.edges.mtf import EDGE_MODEL, mtf50_lines, mtf50_samples

SLOPE = float(np.tan(np.radians(5.0)))


def kernel_half(taps: tuple[float, ...]) -> float:
    """Return where taps one source line apart leave half, per output line of three, on hard source lines.

    Response: |sum of taps exp(2 pi i k f / 3)| (symmetric, so real) times the source line's sinc(f / 3).
    """
    from scipy.optimize import brentq

    weights = np.asarray(taps) / np.sum(taps)
    places = np.arange(len(taps)) - (len(taps) - 1) / 2

    def left(f: float) -> float:
        return float(weights @ np.cos(2 * np.pi * places * f / 3) * np.sinc(f / 3)) - 0.5

    return float(brentq(left, 0.01, 1.0))


KERNELS = {
    "line-average lines=240": kernel_half((1, 1, 1)),
    "resample lines=240 kernel=linear": kernel_half((1, 2, 3, 2, 1)),
    "resample lines=240 kernel=linear antialias=off phase=1/2": kernel_half((1, 1)),
    "flicker-filter taps=1/1/1/1/1/1/1, line-average lines=240": kernel_half((1, 2, 3, 3, 3, 3, 3, 2, 1)),
}


def test_box_of_three_is_a_box() -> None:
    """Three taps over a hard line are a box one output line wide: 0.6033546."""
    assert KERNELS["line-average lines=240"] == pytest.approx(0.6033546, abs=1e-6)


@pytest.mark.parametrize(("frame", "method"), [(slanted(SLOPE), "slanted edge"), (steps(), EDGE_MODEL)])
@pytest.mark.parametrize("chain", KERNELS)
def test_known_kernels_both_ways(frame: Array, method: str, chain: str) -> None:
    """Within 2 % of the closed form, whichever way the source allows; and it says which."""
    evidence = evidence_of(frame, chain)
    assert mtf50_lines(evidence)[0] == pytest.approx(KERNELS[chain], rel=0.02)
    assert evidence.how["mtf50_lines"] == method


def test_the_two_ways_agree_on_real_kernels() -> None:
    """Cubic and Lanczos, with their overshoot: within 2 %."""
    for kernel in ("cubic", "lanczos3"):
        chain = f"resample lines=240 kernel={kernel}"
        ways = [mtf50_lines(evidence_of(frame, chain))[0] for frame in (slanted(SLOPE), steps())]
        assert ways[0] == pytest.approx(ways[1], rel=0.02)
        assert 0.45 < ways[0] < 0.55


def test_a_drop_reads_one_or_more() -> None:
    """Its response, a third of a line wide, is above half up to 1.81 cycles: the figure ends at 1."""
    for frame in (slanted(SLOPE), steps()):
        assert mtf50_lines(evidence_of(frame, "line-drop lines=240 phase=1"))[0] == 1


def test_interlaced_counts_field_lines() -> None:
    """480 woven lines, source line for line: a box one frame line wide, half a pitch: 2 x 0.6033."""
    found = mtf50_lines(evidence_of(steps(480), "interlace"))[0]
    assert found == pytest.approx(2 * 0.6033546, rel=0.01)


@pytest.mark.parametrize("frame", [slanted(SLOPE), steps(1280, 720)], ids=["slanted", "model"])
def test_along_the_line(frame: Array) -> None:
    """On the transposed picture, sample for sample: a box one sample wide, and half of it after halving."""
    from scipy.optimize import brentq

    frame = np.swapaxes(frame, 0, 1).copy()
    evidence = evidence_of(frame, "quantise")
    assert mtf50_samples(evidence)[0] == pytest.approx(0.6033546, rel=0.02)
    halved = evidence_of(frame, f"resample samples={frame.shape[1] // 2} kernel=linear antialias=off")
    # two samples' mean on samples one wide, per output sample of two: cos(pi f / 2) sinc(f / 2) = 1/2
    expected = brentq(lambda f: np.cos(np.pi * f / 2) * np.sinc(f / 2) - 0.5, 0.1, 0.9)
    assert mtf50_samples(halved)[0] == pytest.approx(expected, rel=0.02)


def test_gain_and_place_do_not_count() -> None:
    """Half the contrast, or a picture moved down, has the same response; a blurred one has not."""
    chain = "line-average lines=240"
    for frame in (slanted(SLOPE), steps()):
        plain = mtf50_lines(evidence_of(frame, chain))[0]
        weak = mtf50_lines(evidence_of(frame, chain + ", level gain=0.5 lift=0.2"))[0]
        moved = mtf50_lines(evidence_of(frame, chain + ", position lines=2"))[0]
        blurred = mtf50_lines(evidence_of(frame, "flicker-filter, " + chain))[0]
        assert weak == pytest.approx(plain, rel=0.002)
        assert moved == pytest.approx(plain, rel=0.005)
        assert blurred < 0.95 * plain


@pytest.mark.parametrize(
    "frame",
    [np.full((720, 480, 3), 0.5), np.repeat(np.linspace(0, 1, 720)[:, None, None], 480, 1).repeat(3, 2)],
    ids=["flat", "gradient"],
)
def test_nothing_to_measure_is_a_reason(frame: Array) -> None:
    """Neither a slanted edge nor enough steps; the reason claims no more than that none could be measured."""
    with pytest.raises(NotMeasurable, match="no straight edge"):
        mtf50_lines(evidence_of(frame, "line-average lines=240"))


@pytest.mark.parametrize("chain", KERNELS)
def test_noise_tells_the_kernel_too(chain: str) -> None:
    """No edge at all: the taps between source and output have the closed form, within 2 %."""
    evidence = evidence_of(np.random.RandomState(3).rand(720, 480, 3), chain)
    assert mtf50_lines(evidence)[0] == pytest.approx(KERNELS[chain], rel=0.02)
    assert evidence.how["mtf50_lines"] == EDGE_MODEL


def test_soft_slanted_edges_give_a_true_reason() -> None:
    """A slant of 5 degrees as soft as 40 lines is not 'no slanted edge': it is too soft, by its figure."""
    y, x = np.arange(720)[:, None] + 0.5, np.arange(480)[None] + 0.5
    soft = colour(0.5 + 0.3 * np.tanh((y - 360 - SLOPE * (x - 240)) / 150))
    with pytest.raises(
        NotMeasurable, match=r"sharp within 1/360 .* too soft: its lines bend by 0\.\d+ codes"
    ):
        mtf50_lines(evidence_of(soft, "line-average lines=240"))


def test_an_edge_too_gentle_to_be_slanted_goes_by_the_model() -> None:
    """At 0.5 degrees an edge is a horizontal one in every strip, at places a tenth of a line apart."""
    evidence = evidence_of(slanted(float(np.tan(np.radians(0.5)))), "line-average lines=240")
    assert mtf50_lines(evidence)[0] == pytest.approx(0.6033546, rel=0.03)
    assert evidence.how["mtf50_lines"] == EDGE_MODEL


def test_told_a_wrong_place_it_finds_no_edge() -> None:
    """Guard: the figure is of what lies where the geometry says."""
    evidence = evidence_of(steps(), "line-average lines=240")
    look = evidence.geometry.lines[0]
    lines = (type(look)(look.scale, look.offset + 60),)
    wrong = replace(evidence, geometry=replace(evidence.geometry, lines=lines))
    with pytest.raises(NotMeasurable):
        mtf50_lines(wrong)


def test_noise_hardly_counts() -> None:
    """Noise of 2/255 in the output changes the figure by less than 3 %."""
    frame = slanted(SLOPE)
    noisy = colour(frame[:, :, 0] + np.random.RandomState(1).normal(0, 2 / 255, frame.shape[:2]))
    clean = mtf50_lines(evidence_of(frame, "line-average lines=240"))[0]
    assert mtf50_lines(evidence_of(noisy, "line-average lines=240"))[0] == pytest.approx(clean, rel=0.03)
