"""Records of 15 kHz sync and video for tests, written from the standard's table alone.

It shares no code with the package: levels are worked out sample by sample from the half line a sample lies
in and how far into it, with raised-cosine edges, where the package's own synthesis joins corners.

Source: ITU-R BT.1700 / SMPTE 170M: line 63.5556 and 64 us; line sync 4.7, equalising 2.3 and 2.35, broad
pulses half a line less 4.7 us; 6+6+6 and 5+5+5 half lines; edges 140 and 200 ns; burst of 9 cycles of
3.579545 MHz from 5.3 us, 10 cycles of 4.43361875 MHz from 5.6 us after 0H; blanking to 9.2 and 10.5 us and
from 1.5 us before 0H.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class Spec:
    """What is recorded.

    Parameters:
        system : 525 or 625; fields : lines of successive fields, 262.5 when interlaced
        equalising : whether there are any; broad : "serrated", "line-rate" (cut once a line) or "block"
        signal : "csync", "sog" (sync on a picture without burst) or "composite"
        mhz, ms : samples a microsecond, and length; start_lines : line the record begins in
        noise_mv : rms; hum_mv : peak to peak; bits, spare : of the converter, and its range over the signal's
        gain : of all levels; inverted : upside down; coupling_ms : of a capacitor, 0 for none
        clock_ppm : how much faster the source runs than its standard
    """

    system: int = 525
    fields: tuple[float, ...] = (262.5, 262.5)
    equalising: bool = True
    broad: str = "serrated"
    signal: str = "composite"
    mhz: float = 10.0
    ms: float = 50.0
    start_lines: float = 100.0
    noise_mv: float = 8.0
    hum_mv: float = 50.0
    bits: int = 8
    spare: float = 1.3
    gain: float = 1.0
    inverted: bool = False
    coupling_ms: float = 0.0
    clock_ppm: float = 0.0
    white: float = 1.0
    seed: int = 0

    @property
    def interlaced(self) -> bool:
        return self.fields[0] % 1 == 0.5

    @property
    def line_us(self) -> float:
        nominal = 1001 / 15.75 if self.system == 525 else 64.0
        return nominal / (1 + self.clock_ppm * 1e-6)

    @property
    def levels_mv(self) -> tuple[float, float]:
        """Picture and sync of the signal with gain 1."""
        return (5000 / 7, 2000 / 7) if self.system == 525 and self.signal == "composite" else (700.0, 300.0)


def record(spec: Spec) -> NDArray:
    """Return (samples,) float32 volts."""
    dice = np.random.RandomState(spec.seed)
    count = round(spec.ms * 1000 * spec.mhz)
    out = np.empty(count, np.float32)
    widths, active = half_lines(spec)
    for first in range(0, count, 2_000_000):  # in parts, to keep memory low
        part = np.arange(first, min(count, first + 2_000_000))
        out[part[0] : part[-1] + 1] = _ideal(spec, widths, active, part / spec.mhz)
    out *= spec.gain
    if spec.coupling_ms:
        out = _coupled(out, spec)
    if spec.hum_mv:
        hz = 60.0 if spec.system == 525 else 50.0
        turn = dice.uniform(0, 2 * np.pi)
        out += (
            spec.hum_mv / 2000 * np.sin(2 * np.pi * hz * 1e-6 / spec.mhz * np.arange(count) + turn)
        ).astype(np.float32)
    if spec.noise_mv:
        out += dice.normal(0, spec.noise_mv / 1000, count).astype(np.float32)
    if spec.inverted:
        out = -out
    if spec.bits:
        low, high = float(out.min()), float(out.max())
        step = spec.spare * (high - low) / 2**spec.bits
        shift = dice.uniform()
        out = ((np.round((out - low) / step + shift) - shift) * step + low).astype(np.float32)
    return out


def half_lines(spec: Spec) -> tuple[NDArray, NDArray]:
    """Return the width of the pulse that begins each half line, 0 for none, and where pictures are."""
    half = spec.line_us / 2
    count, eq = (6, 2.3) if spec.system == 525 else (5, 2.35)
    blank = 40 if spec.system == 525 else 50
    widths: list[float] = []
    active: list[bool] = []
    for lines in _cycle(spec):
        for k in range(round(2 * lines)):
            on_line = len(widths) % 2 == 0
            before, inside, after = k < count, count <= k < 2 * count, 2 * count <= k < 3 * count
            width = 4.7 if on_line else 0.0
            if inside:
                width = half - 4.7
                if spec.broad == "block":
                    width = half * count - 4.7 if k == count else 0.0
                if spec.broad == "line-rate":
                    left = 2 * count - k
                    width = (half * min(2, left) - 4.7) if (k - count) % 2 == 0 else 0.0
            elif spec.equalising and (before or after):
                width = eq
            widths.append(width)
            active.append(on_line and k >= blank and k < round(2 * lines) - 1)
    return np.array(widths), np.array(active)


def _cycle(spec: Spec) -> tuple[float, ...]:
    """Return fields until whole lines are full again."""
    return spec.fields if sum(spec.fields) % 1 == 0 else spec.fields * 2


def _ideal(spec: Spec, widths: NDArray, active: NDArray, us: NDArray) -> NDArray:
    half, line = spec.line_us / 2, spec.line_us
    t = us + spec.start_lines * line
    index = np.floor(t / half).astype(np.int64)
    into = t - index * half
    wide = (
        0.140 if spec.system == 525 else 0.200
    ) / 0.59  # a raised cosine is 10 to 90 % in 0.59 of its width
    picture, sync = spec.levels_mv
    # a long pulse covers the half lines that follow it
    reach = 1 + round(widths.max() / half)
    low = np.zeros(len(us))
    for back in range(-1, reach + 1):
        width = widths[(index - back) % len(widths)]
        x = into + back * half
        low += np.where(width > 0, _edge(x, wide) - _edge(x - width, wide), 0.0)
    out = -sync * np.clip(low, 0, 1)
    if spec.signal == "csync":
        return (out / 1000).astype(np.float32)
    on = active[(index - index % 2) % len(widths)]
    x = t - (index - index % 2) * half  # into the line, whose first half carries the pulse
    number = (index // 2) % (len(widths) // 2)
    out += np.where(on, _picture(spec, x, t, number, wide), 0.0) * picture
    if spec.signal == "composite":
        out += _burst(spec, x, t, widths[(index - index % 2) % len(widths)]) * sync / 2
    return (out / 1000).astype(np.float32)


def _edge(x: NDArray, wide: float) -> NDArray:
    return np.sin(np.pi / 2 * np.clip(x / wide + 0.5, 0, 1)) ** 2


def _picture(spec: Spec, x: NDArray, t: NDArray, number: NDArray, wide: float) -> NDArray:
    """A white patch of 5 us on a third of the lines, grey bars with chroma, black at the sides."""
    begin, end = (9.2, 1.5) if spec.system == 525 else (10.5, 1.5)
    line = spec.line_us

    def bar(start: float, stop: float) -> NDArray:
        return _edge(x - start, wide) - _edge(x - stop, wide)

    cells = (line - begin - end) / 16
    value = 0.6 * bar(begin + 8 * cells, begin + 10 * cells) + 0.3 * bar(
        begin + 10 * cells, begin + 12 * cells
    )
    value = value + 0.75 * bar(begin + 12 * cells, begin + 14 * cells)
    white = spec.white * bar(begin + 2 * cells, begin + 2 * cells + 5.0) * (number % 96 < 32)
    if spec.signal == "composite":
        hz = 3.579545 if spec.system == 525 else 4.43361875
        value = value + 0.2 * bar(begin + 8 * cells, begin + 12 * cells) * np.sin(2 * np.pi * hz * t)
    return value + white


def _burst(spec: Spec, x: NDArray, t: NDArray, width: NDArray) -> NDArray:
    hz, cycles, begin = (3.579545, 9, 5.3) if spec.system == 525 else (4.43361875, 10, 5.6)
    inside = (x > begin) & (x < begin + cycles / hz) & (np.abs(width - 4.7) < 0.1)
    return np.where(inside, np.sin(2 * np.pi * hz * t), 0.0)


def _coupled(volts: NDArray, spec: Spec) -> NDArray:
    """A capacitor that has settled: what is slower than its time constant is taken off, step by step."""
    size = 64
    keep = np.exp(-size / (spec.coupling_ms * 1000 * spec.mhz))
    means = volts[: len(volts) // size * size].reshape(-1, size).mean(axis=1)
    slow, found = float(volts.mean()), np.empty(len(means))
    for k, mean in enumerate(means):
        found[k] = slow
        slow += (1 - keep) * (mean - slow)
    places = np.arange(len(volts))
    return (volts - np.interp(places, np.arange(len(means)) * size, found)).astype(np.float32)


def random_spec(dice: np.random.RandomState, mhz: float, ms: float) -> Spec:
    """Return a random record of a rate and length: every system, count of lines, variant and fault."""
    system = int(dice.choice([525, 625]))
    if system == 525:
        kinds: list[tuple[float, ...]] = [(262.5, 262.5), (262,), (263,), (262, 263)]
    else:
        kinds = [(312.5, 312.5), (312,), (313,), (314,), (312, 313)]
    order = [kinds[0], *kinds]  # interlaced twice as often
    return Spec(
        system=system,
        fields=order[dice.randint(len(order))],
        equalising=bool(dice.randint(2)),
        broad=str(dice.choice(["serrated", "serrated", "line-rate", "block"])),
        signal=str(dice.choice(["csync", "sog", "composite"])),
        mhz=mhz,
        ms=ms,
        start_lines=float(dice.uniform(0, 1250)),
        noise_mv=float(dice.uniform(2, 30)),
        hum_mv=float(dice.uniform(0, 300)),
        bits=int(dice.randint(5, 9)),
        spare=float(dice.uniform(1.05, 1.6)),
        gain=float(dice.uniform(0.8, 1.25)),
        inverted=bool(dice.uniform() < 0.15),
        coupling_ms=float(dice.choice([0, 0, 5, 20])),
        clock_ppm=float(dice.uniform(-100, 100)),
        white=float(dice.uniform(0.9, 1.0)),
        seed=int(dice.randint(2**31 - 1)),
    )
