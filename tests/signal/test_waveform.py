"""Timing and verdict of records made by the independent generator, whose truth is the standard's table."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scope_records import Spec, random_spec, record

from scalesim.errors import NotMeasurable
from scalesim.signal.waveform.baseline import baseline_of
from scalesim.signal.waveform.classes import KINDS
from scalesim.signal.waveform.picture import picture_levels
from scalesim.signal.waveform.timing import Timing, kind_count, timing_of
from scalesim.signal.waveform.verdict import verdict_of


def timed(spec: Spec) -> Timing:
    return timing_of(record(spec), 1 / spec.mhz)


@pytest.mark.parametrize("mhz", [1.0, 2.0, 5.0, 10.0])
def test_random_records(mhz: float) -> None:
    """Ten of the benchmark's records a rate: verdict of all, period from 5 and offset from 2 MS/s."""
    dice = np.random.RandomState(20 + int(mhz))
    for _ in range(10):
        spec = random_spec(dice, mhz, 50.0)
        timing = timed(spec)
        found = verdict_of(timing)
        assert found.answer == ("interlaced" if spec.interlaced else "progressive"), spec
        if mhz >= 5:
            assert timing.grid.period_us == pytest.approx(spec.line_us, rel=1e-6), spec
        if mhz >= 2:
            for field in timing.fields:
                assert field.offset == pytest.approx(0.5 if spec.interlaced else 0.0, abs=0.01), spec


def test_the_field_rate_is_off_by_no_more_than_its_error_says() -> None:
    """Noisy records at several clocks: within two errors, and not so far within that they say nothing."""
    dice, off = np.random.RandomState(7), []
    for seed in range(12):
        ppm = float(dice.uniform(-300, 300))
        noise, kind = float(dice.uniform(4, 25)), ("csync", "composite")[seed % 2]
        spec = Spec(noise_mv=noise, mhz=5.0, clock_ppm=ppm, seed=seed, signal=kind)
        timing = timed(spec)
        assert timing.field_rate_hz is not None and timing.field_error_ppm is not None
        truth = 1e6 / (262.5 * spec.line_us)
        off.append((timing.field_rate_hz / truth - 1) * 1e6 / timing.field_error_ppm)
    assert np.sum(np.abs(off) <= 2) >= 11 and 0.1 < np.sqrt(np.mean(np.square(off))) < 1.5, off


def test_pulse_widths_are_those_of_the_table() -> None:
    """4.7, 2.3 and 27.078 us with gaps of 4.7 us (SMPTE 170M); 4.7, 2.35 and 27.3 us (BT.1700 table 3)."""
    for system, fields, equalising, broad in (
        (525, (262.5, 262.5), 2.3, 27.078),
        (625, (312.5, 312.5), 2.35, 27.3),
    ):
        timing = timed(Spec(system=system, fields=fields, signal="csync", mhz=20.0))
        for kind, width in (("line", 4.7), ("equalising", equalising), ("broad", broad)):
            found = timing.pulses.width_us[timing.kinds == KINDS.index(kind)]
            assert np.median(found) == pytest.approx(width, abs=0.02), kind
        assert np.median(timing.serrations_us) == pytest.approx(4.7, abs=0.02)
        (vertical, *_) = timing.verticals
        count = 6 if system == 525 else 5
        assert (vertical.before, vertical.broad, vertical.after) == (count, count, count)
        assert kind_count(timing, "odd") == 0


def test_alternating_fields_are_progressive_though_their_mean_is_not() -> None:
    timing = timed(Spec(fields=(262, 263), ms=60.0))
    found = verdict_of(timing)
    assert found.answer == "progressive" and found.mode is None
    assert {round(lines) for lines in found.lines} == {262, 263}
    assert np.mean(found.lines) == pytest.approx(262.5, abs=0.3)


@pytest.mark.parametrize(
    ("fields", "system", "mode"),
    [
        ((262.5, 262.5), 525, "480i59.94"),
        ((262,), 525, "240p59.94"),
        ((263,), 525, "240p59.94@263"),
        ((312.5, 312.5), 625, "576i50"),
        ((313,), 625, "288p50@313"),
    ],
)
def test_the_mode_and_its_deviation(fields: tuple[float, ...], system: int, mode: str) -> None:
    """The clock runs 80 ppm fast."""
    found = verdict_of(timed(Spec(fields=fields, system=system, clock_ppm=80.0)))
    assert found.mode is not None and found.mode.name == mode
    assert found.line_ppm == pytest.approx(80, abs=1) and found.field_ppm == pytest.approx(80, abs=30)


@pytest.mark.parametrize(("ms", "mhz"), [(17.0, 5.0), (10.0, 1.0), (4.0, 2.0), (1.0, 10.0)])
def test_a_short_record_cannot_tell(ms: float, mhz: float) -> None:
    """None of them holds two vertical syncs; each says how long and how fast to record."""
    dice = np.random.RandomState(5)
    for _ in range(4):
        spec = replace(random_spec(dice, mhz, ms), start_lines=30.0)
        found = verdict_of(timed(spec))
        assert found.answer == "unknown" and "50 ms" in found.would_tell and "vertical sync" in found.why


@pytest.mark.parametrize("noise", [60.0, 100.0, 300.0])
def test_noise_gives_no_wrong_verdict(noise: float) -> None:
    dice = np.random.RandomState(6)
    for _ in range(4):
        spec = replace(random_spec(dice, 5.0, 50.0), noise_mv=noise)
        try:
            found = verdict_of(timed(spec))
        except NotMeasurable:
            continue
        assert found.answer in ("unknown", "interlaced" if spec.interlaced else "progressive"), spec


def test_what_holds_no_sync_is_said() -> None:
    dice = np.random.RandomState(1)
    with pytest.raises(NotMeasurable, match="never changes"):
        timing_of(np.full(10_000, 0.3, np.float32), 0.1)
    with pytest.raises(NotMeasurable, match="no sync was found"):
        timing_of(dice.normal(0, 0.1, 100_000).astype(np.float32), 0.1)
    with pytest.raises(NotMeasurable, match="too slow"):
        timing_of(dice.normal(0, 0.1, 100_000).astype(np.float32), 2.0)
    with pytest.raises(NotMeasurable, match="too short"):
        timing_of(dice.normal(0, 0.1, 1000).astype(np.float32), 0.1)
    picture = record(Spec(signal="sog", ms=20.0))
    with pytest.raises(NotMeasurable, match="picture without sync"):
        timing_of(np.clip(picture, 0, None), 0.1)


def test_separate_sync() -> None:
    """Logic levels, positive vertical sync of three lines; 262 lines are progressive, 262.5 interlaced."""
    for lines, answer in ((262, "progressive"), (262.5, "interlaced")):
        t = np.arange(600_000) / 10.0
        into = t % 63.5556
        h = np.where(into < 4.7, 0.0, 3.3)
        v = np.where((t + 5000) % (lines * 63.5556) < 3 * 63.5556, 3.3, 0.0)
        found = verdict_of(timing_of(h.astype(np.float32), 0.1, v.astype(np.float32)))
        assert found.answer == answer, lines


# levels


@pytest.mark.parametrize("system", [525, 625])
@pytest.mark.parametrize("signal", ["sog", "composite"])
def test_levels_are_those_that_were_made(system: int, signal: str) -> None:
    """Sync and black within 3 mV, white within 10 mV, at 20 MS/s and 7 bits, gain 1.15."""
    fields = (262.5, 262.5) if system == 525 else (312.5, 312.5)
    for inverted in (False, True):
        spec = Spec(
            system=system,
            fields=fields,
            signal=signal,
            mhz=20.0,
            gain=1.15,
            bits=7,
            hum_mv=200.0,
            inverted=inverted,
        )
        volts = record(spec)
        timing = timing_of(volts, 1 / spec.mhz)
        base = baseline_of(volts, timing)
        assert base is not None
        picture, sync = (1.15 * level for level in spec.levels_mv)
        assert 1000 * base.sync == pytest.approx(sync, abs=3)
        levels = picture_levels(volts, timing, base, system, inverted=inverted)
        assert levels is not None
        assert 1000 * levels.peak.volts == pytest.approx(picture, abs=10)
        assert 1000 * levels.black.volts == pytest.approx(0, abs=3)
        assert levels.peak.lasts_us >= 2


def test_a_cut_off_converter_is_noticed() -> None:
    """Tips or white beyond the converter's range stand still while hum moves the porch."""
    volts = record(Spec(signal="sog", hum_mv=100.0, bits=0))
    step = 0.006
    whole = np.round(volts / step) * step
    for low, high, expected in (
        (-9, 9, (False, False)),
        (-0.28, 9, (True, False)),
        (-9, 0.66, (False, True)),
    ):
        cut = np.clip(whole, low, high).astype(np.float32)
        base = baseline_of(cut, timing_of(cut, 0.1))
        assert base is not None and (base.clipped_low, base.clipped_high) == expected
