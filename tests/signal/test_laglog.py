"""Lag logs: noise floors, aliases, levels, flashes and totals, on cases worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import sawtooth
from scipy.stats import norm, uniform

from scalesim.errors import NotMeasurable
from scalesim.signal.laglog.circle import turns
from scalesim.signal.laglog.density import flat, normal
from scalesim.signal.laglog.flash_pairs import paired, rises
from scalesim.signal.laglog.sawtooth import wrap_place
from scalesim.signal.laglog.steps import step_of
from scalesim.signal.laglog.studied import interval_of, study
from scalesim.signal.laglog.total import beat_locked, independent, quantiles

FRAME = 1001 / 60


def drifting(times: np.ndarray, drift: float, noise: float = 0.1, seed: int = 1) -> np.ndarray:
    random = np.random.RandomState(seed)
    turn = (sawtooth(2 * np.pi * (3 + drift * times) / FRAME) + 1) / 2
    return 25 + FRAME * turn + random.normal(0, noise, len(times))


def test_densities_are_scipys() -> None:
    """scipy.stats: a normal, and a uniform; both integrate to one however coarse the step is."""
    x = np.linspace(-8, 8, 4001)
    assert normal(x, 0.7, 1e-6) == pytest.approx(norm.pdf(x, 0, 0.7), abs=1e-9)
    assert np.trapezoid(normal(x, 0.05, 1.0), x) == pytest.approx(1, abs=5e-3)
    inside = flat(x, 4.0, 1e-3, 1e-6)
    assert inside[(x > 0.1) & (x < 3.9)] == pytest.approx(uniform.pdf(x, 0, 4)[(x > 0.1) & (x < 3.9)])
    assert np.trapezoid(flat(x, 4.0, 0.5, 0.1), x) == pytest.approx(1, abs=1e-3)


@pytest.mark.parametrize("step", [0.001, 0.01, 0.1, 0.25, 1.0, 4.0])
def test_the_step_of_readings(step: float) -> None:
    lags = np.round(np.random.RandomState(2).normal(40, 9, 400) / step) * step
    assert step_of(lags) == pytest.approx(step)


def test_regular_and_irregular_times() -> None:
    times = np.arange(0, 600, 2.0)
    random = np.random.RandomState(3)
    assert interval_of(np.delete(times, [5, 6, 90])) == pytest.approx(2)
    assert interval_of(times + random.uniform(-0.1, 0.1, len(times))) is None
    assert interval_of(times + random.uniform(-0.004, 0.004, len(times))) == pytest.approx(2, rel=1e-4)


def test_every_alias_is_listed_at_regular_times() -> None:
    """At 10 s readings tell a drift only within frame/10 s = 1668.33 µs/s; the true one is listed."""
    times = np.arange(0, 1200, 10.0)
    found = study(times, drifting(times, 1.2), FRAME)
    assert found.alias_step_us_per_s == pytest.approx(1668.333, abs=0.01) and found.aliased
    listed = [found.drift_us_per_s, *found.aliases_us_per_s]
    assert min(abs(each - 1200) for each in listed) < 1
    assert np.diff(sorted(listed)) == pytest.approx(1668.333, abs=0.01)
    assert max(map(abs, listed)) <= 20_000 and len(listed) == 24


def test_lag_that_passes_a_multiple_of_a_frame_has_not_wrapped() -> None:
    """12 to 19 ms passes one frame of 16.7 ms on its way; the same fold once a frame is dropped."""
    times = np.arange(0, 15.0)
    lags = 12 + 0.47 * times + np.random.RandomState(6).normal(0, 0.1, len(times))
    rising = study(times, lags, FRAME)
    assert rising.found.kind == "drift" and not rising.wraps_seen and rising.next_wrap_s is None
    assert rising.next_wrap_within_s == pytest.approx(FRAME / 0.47 - 14, abs=3)
    folded = study(times, np.where(times > 8, lags - FRAME, lags), FRAME)
    assert folded.wraps_seen and folded.next_wrap_s == pytest.approx(FRAME / 0.47 - 5.5, abs=1.5)


def test_the_next_wrap_is_known_within_its_error() -> None:
    """On sawtooths of its own making the truth lies within twice the error as often as told: 19 in 20."""
    random = np.random.RandomState(9)
    off = []
    for _ in range(40):
        times = np.cumsum(random.uniform(0.4, 2.4, 120))
        drift = 10 ** random.uniform(-0.7, 0.2)
        found = study(times, drifting(times, drift, noise=0.3, seed=random.randint(1000)), FRAME)
        truth = (FRAME - (3 + drift * times[-1]) % FRAME) / drift
        assert found.next_wrap_s is not None and found.next_wrap_error_s is not None
        apart = (found.next_wrap_s - truth + FRAME / drift / 2) % (FRAME / drift) - FRAME / drift / 2
        off.append(abs(apart) / found.next_wrap_error_s)
    assert np.mean(np.array(off) < 2) > 0.85 and np.median(off) > 0.2


def test_irregular_times_know_no_alias() -> None:
    random = np.random.RandomState(4)
    times = np.arange(0, 1200, 10.0)
    times = times + random.uniform(-0.5, 0.5, len(times))
    found = study(times, drifting(times, 1.2), FRAME)
    assert found.drift_us_per_s == pytest.approx(1200, abs=1) and found.aliases_us_per_s == ()


@pytest.mark.parametrize("apart", [FRAME, 0.4 * FRAME, 1.5 * FRAME])
def test_two_levels_also_a_frame_apart(apart: float) -> None:
    random = np.random.RandomState(5)
    high = np.repeat([0, 1, 0, 1], 50)
    found = study(np.arange(200.0), 30 + apart * high + random.normal(0, 0.2, 200), FRAME)
    assert found.found.kind == "two-level" and found.found.chosen is not None
    values = found.found.chosen.values
    assert values["high"] - values["low"] == pytest.approx(apart, abs=0.1)
    assert values["jumps"] == 3 and values["share"] == pytest.approx(0.5, abs=0.02)
    assert found.drift_us_per_s is None and found.wrap_s is None


@pytest.mark.parametrize("step", [0.5, 1.0, 4.0])
def test_readings_to_a_coarse_step(step: float) -> None:
    """The step is the floor of the noise: a constant read to 4 ms is constant, a drift shows through it."""
    times = np.arange(600.0)
    random = np.random.RandomState(6)
    constant = np.round((20.3 + random.normal(0, 0.1, 600)) / step) * step
    assert study(times, constant, FRAME).found.kind == "constant"
    drift = np.round(drifting(times, 0.11) / step) * step
    found = study(times, drift, FRAME)
    assert found.found.kind.startswith("drift")
    assert found.drift_us_per_s == pytest.approx(110, abs=max(1.0, 2 * found.drift_error_us_per_s))


def test_how_much_longer_to_log() -> None:
    """A drift of 10 µs/s wraps in 1668 s: five minutes of it say how long that still takes."""
    times = np.arange(300.0)
    found = study(times, drifting(times, 0.010, noise=0.05), FRAME)
    assert found.found.kind == "drift" and not found.wraps_seen and found.next_wrap_s is None
    assert found.next_wrap_within_s == pytest.approx(1668.3 - 299, abs=20)
    more, purpose = found.longer
    assert "wrap" in purpose and 1200 < more < 1700
    few = study(times[:20], drifting(times[:20], 0), FRAME)
    assert few.longer[0] >= 40


def test_few_readings_are_told_as_such() -> None:
    for count in (1, 2, 3, 11):
        found = study(np.arange(float(count)), np.full(count, 16.0), FRAME)
        assert found.found.kind == "unknown" and found.found.confidence == 0
        assert found.quantiles[2] == 16.0


def test_equal_readings_and_equal_times() -> None:
    assert study(np.arange(60.0), np.full(60, 16.7), FRAME).found.kind == "constant"
    assert study(np.zeros(60), np.full(60, 16.7), FRAME).found.kind == "unknown"
    assert study(None, np.full(60, 16.7), FRAME, interval=2.0).interval_s == 2.0


def test_lag_over_more_than_a_frame_is_of_no_kind() -> None:
    random = np.random.RandomState(10)
    wide = study(np.arange(300.0), random.uniform(0, 4 * FRAME, 300), FRAME)
    assert wide.found.kind == "unknown" and wide.drift_us_per_s is None
    three = study(np.arange(300.0), 20 + 9.0 * random.randint(0, 3, 300), FRAME)
    assert three.found.kind == "unknown"


@pytest.mark.parametrize("times", [np.arange(100) * 1e12, np.arange(100) * 1e-9, np.arange(100) * 3e5])
def test_any_span_of_time(times: np.ndarray) -> None:
    random = np.random.RandomState(11)
    assert study(times, 16 + random.normal(0, 0.1, 100), FRAME).found.kind == "constant"


def test_where_a_sawtooth_wraps() -> None:
    """By hand: readings below 5 ms of phase carry one frame more."""
    phase = np.array([0.5, 1, 3, 4.9, 5.2, 8, 12, 16])
    turns = np.array([3, 3, 3, 3, 2, 2, 2, 2])
    low, high, frames = wrap_place(phase, turns)
    assert (low, high, frames) == (4.9, 5.2, 2)


def test_flashes_are_paired(tmp_path: object) -> None:
    """A source bright for 0.2 s with dark lines in it, a tube that pulses once a field 17.25 ms later."""
    rate = 20_000
    times = np.arange(0, 5, 1 / rate)
    random = np.random.RandomState(8)
    source, tube = np.zeros(len(times)), np.zeros(len(times))
    begins = np.array([0.4, 1.3, 2.35, 3.2])
    for begin in begins:
        on = (times >= begin) & (times < begin + 0.2)
        source[on] = np.where((times[on] * 1000) % 1 < 0.8, 0.7, 0.0)
        for field in range(12):
            since = times - begin - 0.01725 - field / 60
            tube += np.where(since >= 0, np.exp(-np.clip(since, 0, None) / 0.001), 0)
    for signal in (tube, -tube):
        at = rises((signal + random.normal(0, 0.01, len(times))).astype(np.float32), 1 / rate)
        seen, lags, missed = paired(rises(source.astype(np.float32), 1 / rate), at)
        assert len(seen) == 4 and missed == 0
        assert lags == pytest.approx(0.01725, abs=2e-4)


def test_noise_makes_no_flashes() -> None:
    """A photodiode with noise of 0.075 on pulses of 0.5: of a million samples some lie four deviations up.

    Times are exact by construction; rises came from noise alone, and lags of half a second with them.
    """
    rate, begins = 50_000, np.array([0.4, 1.3, 2.35, 3.2, 4.5, 5.6, 6.5, 7.9])
    times = np.arange(10 * rate) / rate
    tube = np.zeros(len(times))
    for begin in begins:
        for field in range(12):
            since = times - begin - field / 60
            tube += np.where(
                (since >= 0) & (since < 0.01), 0.5 * np.exp(-np.clip(since, 0, None) / 0.0004), 0
            )
    noisy = (tube + np.random.RandomState(1).normal(0, 0.075, len(times))).astype(np.float32)
    found = rises(noisy, 1 / rate)
    assert len(found) == len(begins) and found == pytest.approx(begins, abs=1e-4)


def test_no_flash_is_said() -> None:
    random = np.random.RandomState(9)
    with pytest.raises(NotMeasurable, match="no flash"):
        rises(np.zeros(1000, np.float32), 1e-3)
    with pytest.raises(NotMeasurable, match="no flash"):
        rises(random.normal(0, 1, 5000).astype(np.float32), 1e-3)


def test_pairs_that_have_no_partner() -> None:
    seen, lags, missed = paired(np.array([0.0, 1.0, 2.0]), np.array([0.02, 2.03]))
    assert seen.tolist() == [0, 2] and lags == pytest.approx([0.02, 0.03]) and missed == 1


def test_a_sum_of_two_uniform_lags_is_a_triangle() -> None:
    """Two free-running boxes: 5 % of a triangle of base 2 lies below sqrt(0.1) (closed form), in frames."""
    even = (np.arange(4000) + 0.5) / 4000 * FRAME
    places, cumulative = independent([even, even])
    five, middle, most = quantiles(places, cumulative, (0.05, 0.5, 0.95))
    assert five == pytest.approx(np.sqrt(0.1) * FRAME, abs=0.1)
    assert middle == pytest.approx(FRAME, abs=0.1)
    assert most == pytest.approx((2 - np.sqrt(0.1)) * FRAME, abs=0.1)


def test_what_beats_together() -> None:
    assert beat_locked(999.0, -999.2, 0.2, 999.2) and not beat_locked(999.0, -400.0, 1.0, 999.0)
    assert not beat_locked(50.0, 50.0, 1.0, 50.0)


def camera(lags: np.ndarray, a_second: float) -> np.ndarray:
    """Return lags as a camera counts them in pictures, written to a hundredth of a millisecond."""
    return np.round(np.round(lags * a_second / 1000) * 1000 / a_second, 2)


@pytest.mark.parametrize("a_second", [240.0, 480.0, 120.0])
def test_the_step_of_a_camera(a_second: float) -> None:
    lags = camera(np.random.RandomState(2).normal(40, 9, 400), a_second)
    assert step_of(lags) == pytest.approx(1000 / a_second, rel=1e-3)


@pytest.mark.parametrize(("drift", "seed"), [(0.3, 1), (-0.12, 2), (0.06, 3), (0.5, 4)])
def test_a_camera_of_240_pictures_sees_a_drift(drift: float, seed: int) -> None:
    """Steps of 4.17 ms are a quarter of a frame. They were taken for levels, and no drift was told."""
    times = np.sort(np.random.RandomState(seed).uniform(0, 300, 300))
    found = study(times, camera(drifting(times, drift, 0.2, seed), 240), FRAME)
    assert found.found.kind == "drift"
    assert found.drift_us_per_s == pytest.approx(
        1000 * drift, abs=max(3 * found.drift_error_us_per_s, 0.02 * abs(1000 * drift))
    )


def test_two_steps_of_an_instrument_are_no_levels() -> None:
    """One level of 20 ms and noise of 0.8 between the steps 16.67 and 20.83 of a camera of 240 a second."""
    times = np.arange(300.0)
    random = np.random.RandomState(4)
    found = study(times, camera(random.normal(19.2, 0.8, 300), 240), FRAME).found
    assert found.kind == "unknown" and "neighbouring steps of 4.2 ms" in found.why
    # read finely it is one, and two levels so far apart are two
    assert study(times, random.normal(19.2, 0.8, 300), FRAME).found.kind == "constant"
    apart = 19 + 4.2 * (random.uniform(size=300) < 0.5) + random.normal(0, 0.2, 300)
    assert study(times, apart, FRAME).found.kind == "two-level"


def test_no_bound_is_finer_than_the_readings() -> None:
    """20 readings of 20.0 ms tell nothing of a drift; those of one step bound it to a step in their time."""
    times = np.arange(300.0)
    equal = study(times, np.full(300, 20.0), FRAME)
    assert equal.found.kind == "constant" and equal.equal and equal.drift_at_most_us_per_s is None
    coarse = study(times, np.round(20 + np.random.RandomState(1).normal(0, 0.2, 300)), FRAME)
    assert coarse.found.kind == "constant" and coarse.drift_at_most_us_per_s >= 1000 / 300


def test_three_levels_are_not_two() -> None:
    """Levels of 40 s each: the third was called astray, and the two nearest were told as all there is."""
    times = np.arange(300.0)
    lags = 24 + 5 * (np.arange(300) // 40 % 3) + np.random.RandomState(3).normal(0, 0.2, 300)
    found = study(times, lags, FRAME).found
    assert found.kind == "unknown" and "more than two levels" in found.why
    two = 24 + 5 * (np.arange(300) // 40 % 2) + np.random.RandomState(3).normal(0, 0.2, 300)
    two[::12] += np.random.RandomState(4).uniform(-30, 30, 25)  # strays lie anywhere, not together
    assert study(times, two, FRAME).found.kind == "two-level"


def test_lag_that_wanders_is_no_jitter() -> None:
    """A slow wave of 3 ms and the same values in random order: von Neumann's ratio tells them apart."""
    times = np.arange(300.0)
    random = np.random.RandomState(6)
    lags = 20 + 3 * np.sin(2 * np.pi * times / 120) + random.normal(0, 0.2, 300)
    found = study(times, lags, FRAME).found
    assert found.kind == "unknown" and found.why.startswith("it wanders")
    mixed = study(times, random.permutation(lags), FRAME).found
    assert mixed.kind == "jitter"


def test_neighbours_that_are_alike_make_a_drift_less_sure() -> None:
    """Steps of 2 ms on a slow drift: two standard errors hold the truth in more than 8 of 10, not in 7."""
    held = []
    for seed in range(60):
        random = np.random.RandomState(seed)
        times, drift = np.sort(random.uniform(0, 300, 300)), random.uniform(0.01, 0.03)
        lags = np.round((20 + drift * times + random.normal(0, 0.2, 300)) / 2) * 2
        found = turns(times, lags, FRAME, interval=None)[0]
        held.append(abs(found.drift - drift) <= 2 * found.error)
    assert np.mean(held) >= 0.8


def test_readings_of_one_time_are_told_as_that() -> None:
    """Not as lag that spreads too far."""
    found = study(np.full(60, 5.0), np.random.RandomState(1).normal(20, 0.2, 60), FRAME).found
    assert found.kind == "unknown" and "the same time" in found.why
