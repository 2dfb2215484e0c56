"""The sync chart: the ideal sync or video waveform of a 15 kHz mode, as an oscilloscope would record it.

A waveform is corners joined by straight lines, which `np.interp` samples; an edge of 10 to 90 % in e is a
straight line of e / 0.8. What goes wrong on a bench (noise, hum, a wrong level, coupling through a
capacitor, a missing termination, few bits) is added afterwards, in the order in which a signal meets it.

Source: the rows of half lines and the widths are those of `core.sync` (ITU-R BT.1700, SMPTE 170M).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from math import ceil
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from scalesim.core.mode import Mode, mode_named
from scalesim.core.sync import RGB_PICTURE_MV, RGB_SYNC_MV, SYNC_525, SYNC_625, SyncStandard
from scalesim.core.trace import Trace
from scalesim.errors import ParameterError

Vertical = Literal["standard", "serrated", "line-rate", "block"]
"""Vertical sync: by the standard; without equalising pulses; cut once a line; one long pulse."""

BEGIN_HALVES = -40
"""Half line at which the first field begins: a record begins in the middle of a field, as records do."""
MOST_SAMPLES = 20_000_000
SEED = 1
WHITE_US = (12.0, 18.0)
"""Where the default picture line is white, after 0H: longer than an oscilloscope needs to settle."""
STEPS_US, STEP_CODES = (22.0, 50.0), (0.25, 0.5, 0.75)
"""Where it climbs to 75 % in steps."""
HUM_HZ = {525: 60.0, 625: 50.0}


@dataclass(frozen=True, kw_only=True)
class Bench:
    """What happens between a source and a record.

    Parameters:
        gain : of the source's level, 1 is right; load : "75", or "open" for a line nobody terminates, which
            reads twice as high
        coupling_ms : time constant of a coupling capacitor; 0 for none
        hum_mv : of the mains, peak to peak; noise_mv : rms; bits : of the converter over 1.28 times the
            signal; 0 leaves it unrounded
    """

    kind: ClassVar[str] = "chart sync"
    gain: float = 1.0
    load: Literal["75", "open"] = "75"
    coupling_ms: float = 0.0
    hum_mv: float = 0.0
    noise_mv: float = 0.0
    bits: int = 0


@dataclass(frozen=True, eq=False)
class SyncChart:
    """A waveform and the truth about it.

    Parameters:
        trace : one channel, "video" or "csync", in volts
        mode : its name; fields : lines of the fields that follow each other; standard : its widths
        picture_mv, sync_mv : above and below blanking as they are in the record, before noise
        vertical : how vertical sync is made; vertical_lines : lines until the first one that is whole begins
    """

    trace: Trace
    mode: str
    fields: tuple[float, ...]
    standard: SyncStandard = field(repr=False)
    picture_mv: float
    sync_mv: float
    vertical: Vertical
    vertical_lines: float


def sync_chart(
    mode: str,
    *,
    signal: Literal["video", "csync"] = "video",
    seconds: float = 0.06,
    mhz: float = 5.0,
    vertical: Vertical = "standard",
    fields: Sequence[int] | None = None,
    line: NDArray | None = None,
    levels: Literal["rgb", "composite"] = "rgb",
    bench: Bench | None = None,
) -> SyncChart:
    """Return the waveform of a mode.

    Parameters:
        mode : a 15 kHz mode such as "480i" or "240p"
        signal : "video" with sync on it, or composite sync alone
        seconds, mhz : length, and millions of samples a second
        vertical : see `Vertical`
        fields : lines of successive progressive fields, such as (262, 263); None for the mode's own
        line : (samples,) code values 0..1 from the end of blanking to the front porch of every active line;
            None for a white patch and a staircase
        levels : 700 and 300 mV, or those of the system's composite video
        bench : what goes wrong; None for nothing
    Raises: ParameterError for a mode of another line rate, or a record that is too large
    """
    found = mode_named(mode)
    standard = _standard_of(found)
    count = round(seconds * mhz * 1e6)
    if not 16 <= count <= MOST_SAMPLES:
        raise ParameterError(
            f"chart sync: {seconds:g} s at {mhz:g} million samples a second are {count} samples; give 16 to "
            f"{MOST_SAMPLES}"
        )
    halves = _halves_of(found, fields)
    picture, sync = _levels(standard, levels)
    drawing = _Drawing(found, standard, vertical, halves, signal == "video", _picture_line(line, standard))
    times_us = np.arange(count) / mhz
    corners_us, corners = drawing.corners(seconds * 1e6)
    volts = np.interp(times_us, corners_us, corners * 1e-3 * np.where(corners < 0, sync, picture))
    bench = bench or Bench()
    volts = _on_the_bench(volts, bench, mhz, HUM_HZ[standard.lines])
    doubled = bench.gain * (2 if bench.load == "open" else 1)
    trace = Trace(f"{mode}.csv", 1e-6 / mhz, {signal: volts.astype(np.float32)})
    return SyncChart(
        trace,
        found.name,
        tuple(each / 2 for each in halves),
        standard,
        picture * doubled,
        sync * doubled,
        vertical,
        (BEGIN_HALVES + halves[0] + standard.halves[0]) / 2,
    )


def _standard_of(mode: Mode) -> SyncStandard:
    if mode.line_rate > 16_000:
        raise ParameterError(
            f"chart sync: {mode.name} has {float(mode.line_rate) / 1000:.1f} kHz lines; it must be a 15 kHz "
            "mode such as 480i, 240p, 576i or 288p"
        )
    return SYNC_525 if mode.rate_class == 60 else SYNC_625


def _halves_of(mode: Mode, fields: Sequence[int] | None) -> tuple[int, ...]:
    """Return the half lines of each field of the cycle."""
    if fields is None:
        return (mode.frame_lines_total,) * 2 if mode.interlaced else (2 * mode.frame_lines_total,)
    if mode.interlaced or not all(200 <= each <= 400 for each in fields) or not 1 <= len(fields) <= 16:
        raise ParameterError(
            f"chart sync: fields are {list(fields)}; give 1 to 16 counts of 200 to 400 lines, with a "
            "progressive mode such as 240p"
        )
    return tuple(2 * int(each) for each in fields)


def _levels(standard: SyncStandard, levels: str) -> tuple[float, float]:
    if levels == "composite":
        return standard.picture_mv, standard.sync_mv
    return RGB_PICTURE_MV, RGB_SYNC_MV


def _picture_line(line: NDArray | None, standard: SyncStandard) -> tuple[NDArray, NDArray]:
    """Return (us after 0H, code values) of the corners of an active line."""
    edge = standard.edge_us / 0.8
    begin, end = standard.blanking_end_us + edge, standard.line_us - standard.front_porch_us - edge
    if line is not None:
        values = np.asarray(line, dtype=np.float64)
        if values.ndim != 1 or not 2 <= len(values) <= 20_000 or not np.isfinite(values).all():
            raise ParameterError(
                "chart sync: line must be 2 to 20000 finite code values, one row of a picture"
            )
        return np.linspace(begin, end, len(values)), values
    steps = np.linspace(*STEPS_US, len(STEP_CODES) + 1)
    levels = [(WHITE_US[0], 1.0), (WHITE_US[1], 0.0), *zip(steps, (*STEP_CODES, 0.0), strict=True)]
    places = [at + side for at, _ in levels for side in (-edge / 2, edge / 2)]
    codes = [0.0, *(code for _, code in levels[:-1] for _ in (0, 1)), levels[-1][1]]
    return np.array(places), np.array(codes)


@dataclass(frozen=True)
class _Drawing:
    """The corners of a waveform: blanking 0, sync tip -1, picture 0..1."""

    mode: Mode
    standard: SyncStandard
    vertical: Vertical
    halves: tuple[int, ...]
    with_picture: bool
    line: tuple[NDArray, NDArray]

    def corners(self, until_us: float) -> tuple[NDArray, NDArray]:
        """Return times in us and values, from before 0 to after the end."""
        times: list[NDArray] = [np.array([-1e6])]
        values: list[NDArray] = [np.zeros(1)]
        half_us = 1e6 / float(self.mode.line_rate) / 2
        edge = self.standard.edge_us / 0.8
        dip = np.array([0.0, -1.0, -1.0, 0.0])
        for half, width, active in self._pulses(ceil(until_us / half_us) + 2):
            at = half * half_us
            times.append(at + np.array([-edge, edge, 2 * width - edge, 2 * width + edge]) / 2)
            values.append(dip)
            if active and self.with_picture:
                times.append(at + self.line[0])
                values.append(self.line[1])
        return np.concatenate(times), np.concatenate(values)

    def _pulses(self, halves: int) -> Iterator[tuple[int, float, bool]]:
        """Yield (half line it begins at, width in us, whether a picture follows), in order of time."""
        begin, number = BEGIN_HALVES, 0
        while begin < halves:
            length = self.halves[number % len(self.halves)]
            yield from self._field(begin, length)
            begin, number = begin + length, number + 1

    def _field(self, begin: int, length: int) -> Iterator[tuple[int, float, bool]]:
        """Yield a field's pulses from its first equalising half line on."""
        before, broad, after = self.standard.halves
        half_us = 1e6 / float(self.mode.line_rate) / 2
        for k in range(length):
            at = begin + k
            whole = at % 2 == 0
            if before <= k < before + broad:
                yield from self._broad(at, k - before, broad, half_us)
            elif k < before + broad + after and self.vertical == "standard":
                yield at, self.standard.equalising.us, False
            elif whole:
                last = k >= length - 1  # the half line before a field has no room for a picture
                yield at, self.standard.sync.us, 2 * self.standard.blanked_lines <= k and not last

    def _broad(self, at: int, k: int, broad: int, half_us: float) -> Iterator[tuple[int, float, bool]]:
        gap = half_us - self.standard.broad.us
        if self.vertical == "block":
            if k == 0:
                yield at, broad * half_us - gap, False
        elif self.vertical == "line-rate":
            if k % 2 == 0:
                yield at, min(2, broad - k) * half_us - gap, False
        else:
            yield at, half_us - gap, False


def _on_the_bench(volts: NDArray, bench: Bench, mhz: float, hum_hz: float) -> NDArray:
    """Return what the record shows of a waveform."""
    volts = volts * bench.gain * (2 if bench.load == "open" else 1)
    if bench.coupling_ms > 0:
        volts = _high_pass(volts, bench.coupling_ms, mhz)
    if bench.hum_mv:
        volts = volts + bench.hum_mv / 2000 * np.sin(2 * np.pi * hum_hz * np.arange(len(volts)) / (mhz * 1e6))
    if bench.noise_mv:
        volts = volts + np.random.RandomState(SEED).normal(0, bench.noise_mv / 1000, len(volts))
    if bench.bits:
        low, high = float(volts.min()), float(volts.max())
        step = 1.28 * (high - low) / 2**bench.bits
        volts = np.round(volts / step) * step
    return volts


def _high_pass(volts: NDArray, time_ms: float, mhz: float) -> NDArray:
    """Return a waveform after a capacitor that has settled to its mean, first order."""
    from scipy.signal import lfilter

    keep = np.exp(-1 / (time_ms * 1000 * mhz))
    centred = volts - volts.mean()
    found, _ = lfilter([1, -1], [1, -keep], centred, zi=[-centred[0]])
    return found
