"""300 random records of the independent generator by rate: verdicts, and errors of period, offset and levels.

Run ``pytest -s tests/benchmarks/bench_trace.py``; the table is printed and kept under `outputs/benchmarks/`.
`SCALESIM_RECORDS` sets how many records there are. Errors are the largest; shorter records and a 10 million
sample record are measured besides. The record's clock error and its hum, bits, noise, gain, coupling,
polarity and variant are drawn at random (`scope_records.random_spec`).
"""

from __future__ import annotations

import os
import resource
import time
from dataclasses import dataclass, field, replace

import numpy as np
from scope_records import Spec, random_spec, record
from timing import OUTPUT

from scalesim.errors import NotMeasurable
from scalesim.signal.waveform.baseline import baseline_of
from scalesim.signal.waveform.picture import picture_levels
from scalesim.signal.waveform.timing import timing_of
from scalesim.signal.waveform.verdict import verdict_of

RECORDS = int(os.environ.get("SCALESIM_RECORDS", "300"))
RATES = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 500.0)
SHARES = (0.2, 0.2, 0.22, 0.16, 0.14, 0.05, 0.02, 0.01)
SHORT = ((35.0, 5.0), (25.0, 2.0), (17.0, 1.0), (10.0, 10.0), (2.0, 10.0), (50.0, 0.7), (50.0, 0.5))


@dataclass
class Tally:
    """What records of one kind came to."""

    count: int = 0
    right: int = 0
    wrong: int = 0
    ppm: float = 0.0
    offset: float = 0.0
    sync: list[float] = field(default_factory=list)
    blank: list[float] = field(default_factory=list)
    white: list[float] = field(default_factory=list)
    seconds: float = 0.0


def tried(spec: Spec, tally: Tally) -> None:
    """Analyse one record and add what came out."""
    volts = record(spec)
    tally.count += 1
    begin = time.perf_counter()
    try:
        timing = timing_of(volts, 1 / spec.mhz)
    except NotMeasurable:
        return
    found = verdict_of(timing)
    base = baseline_of(volts, timing)
    levels = base and picture_levels(volts, timing, base, spec.system, inverted=timing.pulses.inverted)
    tally.seconds += time.perf_counter() - begin
    expected = "interlaced" if spec.interlaced else "progressive"
    tally.right += found.answer == expected
    tally.wrong += found.answer not in (expected, "unknown")
    tally.ppm = max(tally.ppm, abs(1e6 * (timing.grid.period_us / spec.line_us - 1)))
    wanted = 0.5 if spec.interlaced else 0.0
    tally.offset = max([tally.offset, *(abs(each.offset - wanted) for each in timing.fields)])
    if spec.bits >= 6 and base is not None:
        picture, sync = (level * spec.gain for level in spec.levels_mv)
        tally.sync.append(abs(1000 * base.sync - sync))
        if spec.signal != "csync" and spec.mhz >= 10 and levels is not None:
            # black is 0 above blanking: the sides of the generator's picture
            tally.blank.append(abs(1000 * levels.black.volts))
            tally.white.append(abs(1000 * levels.peak.volts - picture * spec.white))


def row(what: str, tally: Tally) -> str:
    """Return a line of the table."""

    def most(values: list[float]) -> str:
        return f"{max(values):7.2f}" if values else "      –"

    return (
        f"{what:<16}{tally.count:>5}{100 * tally.right / max(1, tally.count):>9.1f}{tally.wrong:>7}"
        f"{tally.ppm:>9.3f}{tally.offset:>9.4f}{most(tally.sync)}{most(tally.blank)}{most(tally.white)}"
        f"{tally.seconds / max(1, tally.count):>8.2f}"
    )


def test_random_records() -> None:
    dice = np.random.RandomState(300)
    by_rate = {rate: Tally() for rate in RATES}
    for rate, share in zip(RATES, SHARES, strict=True):
        for _ in range(max(1, round(RECORDS * share))):
            tried(random_spec(dice, rate, 50.0), by_rate[rate])
    short = {what: Tally() for what in SHORT}
    for (ms, rate), tally in short.items():
        for _ in range(max(1, RECORDS // 15)):
            tried(random_spec(dice, rate, ms), tally)
    head = (
        f"{'record':<16}{'n':>5}{'right %':>9}{'wrong':>7}{'T ppm':>9}{'offset':>9}{'sync':>7}{'black':>7}"
        f"{'white':>7}{'s':>8}   largest errors; offset in lines, levels in mV (6 bits and more)"
    )
    lines = [head, *(row(f"50 ms {rate:g} MS/s", tally) for rate, tally in by_rate.items())]
    lines += [row(f"{ms:g} ms {rate:g} MS/s", tally) for (ms, rate), tally in short.items()]
    _keep("trace", lines)
    for rate, tally in by_rate.items():
        assert tally.wrong == 0 or rate < 5
        assert tally.right >= (1.0 if rate >= 5 else 0.98) * tally.count
        assert rate < 5 or tally.ppm < 1
        assert rate < 2 or tally.offset < 0.01
        assert rate < 20 or max(tally.white, default=0) < 10
    assert all(tally.wrong == 0 for tally in short.values())


def test_ten_million_samples() -> None:
    """Within 3 s and 1 GB, on 50 ms at 200 MS/s."""
    spec = replace(random_spec(np.random.RandomState(7), 200.0, 50.0), signal="composite", bits=8)
    volts = record(spec)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    best = 1e9
    for _ in range(3):
        begin = time.perf_counter()
        timing = timing_of(volts, 1 / spec.mhz)
        base = baseline_of(volts, timing)
        assert base is not None
        picture_levels(volts, timing, base, spec.system, inverted=timing.pulses.inverted)
        best = min(best, time.perf_counter() - begin)
    more = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
    _keep("trace-long", [f"10 million samples: {best:.2f} s, {more:.0f} MB more than the record's making"])
    assert best < 3


def _keep(name: str, lines: list[str]) -> None:
    text = "\n".join(lines)
    print("\n" + text)
    OUTPUT.mkdir(parents=True, exist_ok=True)
    (OUTPUT / f"{name}.txt").write_text(text + "\n", encoding="utf-8")
