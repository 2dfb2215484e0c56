"""Margins, borders, jitter and outcomes over ranges: each held against the landing itself."""

from __future__ import annotations

from time import process_time

import numpy as np
import pytest

from scalesim.core.sync import SYNC_525
from scalesim.core.sync_wave import SyncChange, Wave, interlaced_wave
from scalesim.jobs.landing.figures import map_of
from scalesim.tube.lock.circuit import Circuit, Clocked, Countdown, Edge, Integrator, Oscillator
from scalesim.tube.lock.landings import land
from scalesim.tube.lock.on_display import landed_of
from scalesim.tube.lock.ranges import (
    JUMP,
    borders,
    grid_of,
    hum_lines,
    jitter_lines,
    margins,
    spread_from,
    spreads_of,
)
from scalesim.tube.lock.typical import FEW, TYPICAL

QUARTER = SyncChange(begin=(0, -0.25), end=(0, -0.25))
EARLY = SyncChange(begin=(0, -0.5), end=(0, -0.5))
PULSE = SyncChange(extra_us=(0, 12))


def wave_of(change: SyncChange = QUARTER) -> Wave:
    return interlaced_wave(SYNC_525, change)


@pytest.mark.parametrize(
    ("circuit", "change"),
    [
        (Integrator(), QUARTER),
        (Integrator(time_constant_us=60.0, threshold_v=3.0), QUARTER),
        (Edge(), PULSE),
        (Edge(least_width_us=8.0), PULSE),
        (Clocked(clock_phase=0.4), QUARTER),
        (Clocked(front="integrator"), QUARTER),
        (Oscillator(), PULSE),
        (Countdown(), QUARTER),
    ],
)
def test_a_margin_ends_where_the_landing_changes(circuit: Circuit, change: SyncChange) -> None:
    """3 % beyond it L has jumped or the lock is lost; 3 % before it, it has not."""
    wave = wave_of(change)
    own = land(wave, circuit)
    assert own.lines is not None
    found = margins(wave, circuit, own)
    assert found
    for each in found:
        period = wave.line_us / 2
        scale = {"mV": 1000, "% of a field": 100}.get(each.unit, period if each.key == "clock_phase" else 1)
        for share, jumps in ((0.97, False), (1.03, True)):
            value = getattr(circuit, each.key) + share * each.by / scale
            there = land(wave, circuit.with_(**{each.key: value % 1 if each.key == "clock_phase" else value}))
            moved = there.lines is None or abs(there.lines - own.lines) > JUMP
            assert moved == jumps, (each, share)


def test_an_edge_has_the_margin_of_a_pulse() -> None:
    """A pulse of 12 us is 2 us below a least width of 14, line sync 3.3 us below one of 8."""
    for width, by in ((8.0, -3.3), (14.0, -2.0)):
        circuit = Edge(least_width_us=width)
        (found,) = margins(wave_of(PULSE), circuit, land(wave_of(PULSE), circuit))
        assert found.by == pytest.approx(by, abs=0.05)


def test_a_clock_ticks_as_far_from_a_serration_as_it_is() -> None:
    """Half a half line is 15.89 us; the first broad pulse ends at 27.08: 11.19 us. By hand."""
    wave = wave_of(SyncChange())
    (found,) = margins(wave, Clocked(), land(wave, Clocked()))
    assert abs(found.by) == pytest.approx(11.19, abs=0.08)


def test_noise_moves_a_threshold_as_much_as_it_is_said_to() -> None:
    """The rms of L over 400 fields whose thresholds are off by random noise."""
    circuit, wave = Integrator(noise_mv=10.0), wave_of(SyncChange())
    told = jitter_lines(wave, circuit, land(wave, circuit))
    random = np.random.RandomState(1)
    begins = [
        [
            land(wave, circuit.with_(threshold_v=2.5 + float(off))).times_us[field]
            for off in random.normal(0, 0.01, 200)
        ]
        for field in (0, 1)
    ]
    measured = float(np.std(np.subtract(begins[1], begins[0])) / wave.line_us)
    assert told == pytest.approx(measured, rel=0.15)


def test_hum_moves_a_threshold_between_its_ends() -> None:
    circuit, wave = Integrator(hum_mv=100.0), wave_of(SyncChange())
    ends = [land(wave, circuit.with_(threshold_v=level)).times_us[0] for level in (2.45, 2.55)]
    assert hum_lines(wave, circuit) == pytest.approx(2 * (ends[1] - ends[0]) / wave.line_us, rel=0.01)
    assert hum_lines(wave, Integrator()) is None and hum_lines(wave, Edge()) is None


def test_a_border_is_crossed_by_the_drift_that_is_told() -> None:
    circuit, wave = Oscillator(natural_period=1.058), wave_of(PULSE)
    own = land(wave, circuit)
    (found,) = [each for each in borders(wave, circuit, own) if each.key == "natural_period"]
    there = land(wave, circuit.with_(natural_period=1.058 * (1 + found.percent / 100)))
    assert own.outcome == "one set" and there.outcome != "one set" and abs(found.percent) <= 2
    assert borders(wave_of(SyncChange()), Edge(), land(wave_of(SyncChange()), Edge())) == ()


def test_outcomes_are_counted_on_what_works() -> None:
    """Values at which the standard signal does not lock are no display's: they count for nothing."""
    (standard,) = spreads_of(wave_of(SyncChange()), Integrator())
    assert standard.shares == {"two sets": 1.0} and standard.n < len(grid_of(Integrator())["threshold_v"])
    (found,) = spreads_of(wave_of(), Edge())
    assert found.n == 121 and found.shares == {
        "uneven": pytest.approx(32 / 121),
        "two sets": pytest.approx(89 / 121),
    }
    lines = spread_from(np.array([0.0, 1.0, 0.5, np.nan]))
    assert lines.shares == {"one set": 0.5, "two sets": 0.25, "no lock": 0.25} and lines.lines == (0.0, 1.0)
    assert lines.pairs == {"down": 0.25, "up": 0.25}


def test_a_countdown_has_a_spread_for_each_history() -> None:
    cold, switched = landed_of(wave_of(EARLY), Countdown()).spreads
    assert cold.shares == {"one set": 1.0} and switched.shares == {"two sets": 1.0}


def test_a_landing_is_quick() -> None:
    """20 ms of this process a landing, 5 s a map of 100 by 100 (what is asked; measured: a tenth of it)."""
    fresh = [SyncChange(begin=(0, -k / 100), end=(0, -k / 100)) for k in range(5)]
    for name in FEW:
        waves = [interlaced_wave(SYNC_525, each) for each in fresh]
        begin = process_time()
        for wave in waves:
            land(wave, TYPICAL[name])
        assert (process_time() - begin) / len(waves) < 0.02, name
    begin = process_time()
    plot = map_of(waves[1], "integrator", Integrator())
    assert process_time() - begin < 5
    heat = plot.panels[0].heat
    assert heat is not None and len(heat.values) == len(heat.values[0]) == 100
