"""The highest and lowest level of a picture that last, without the bias of a maximum over noise.

Every line is cut into cells of two cycles of the colour subcarrier, whose means hold no chroma, above that
line's own blanking. Where the highest cell lies is looked for on even lines, and how high it is, is read on
the odd lines between them: the noise that made a cell look high is not the noise it is read with.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.waveform.baseline import Baseline
from scalesim.signal.waveform.timing import Timing
from scalesim.signal.waveform.windows import cut_lines

CELL_US = {525: 2 / 3.579545, 625: 2.5 / 4.43361875}
ACTIVE = (10.9 / 64, 62.0 / 64)
"""Of a line: inside every system's picture."""
QUIET_V = 0.003
"""Noise that a cell's mean may keep; lines are taken together until it is less."""
MOST_TOGETHER = 8
"""A patch may be no higher than a dozen lines of a field; what noise is left, the whole patch takes off."""
PATCH_US = 2.0
"""A level that lasts so long is a patch (settled for an oscilloscope)."""
FASTEST_NEEDED_MHZ = 10.0
_OVERSHOOT_BIN_US = 0.1
_CANDIDATES = 200


@dataclass(frozen=True)
class Level:
    """A level above blanking in volts: its standard error, how long it lasts in us, lines it was read on."""

    volts: float
    error: float
    lasts_us: float
    lines: int
    at_us: float = 0.0


@dataclass(frozen=True, eq=False)
class PictureLevels:
    """Highest and lowest level of a picture, the overshoot of the highest; None where it cannot be had."""

    peak: Level
    black: Level
    overshoot: float | None
    overshoot_error: float | None


@dataclass(frozen=True, eq=False)
class _Cells:
    even: NDArray  # (groups, cells) volts above blanking
    odd: NDArray
    noise: float
    lines: int
    cell_us: float
    rows: NDArray  # (groups, lines) numbers into the begins


def picture_levels(
    volts: NDArray, timing: Timing, base: Baseline, lines: int, *, inverted: bool = False
) -> PictureLevels | None:
    """Return a picture's levels.

    Parameters:  volts : (samples,); lines : of the system's frame, 525 or 625, whose subcarrier it may carry
        inverted : the channel is upside down
    Returns:     None when the record holds no four active lines in a row
    """
    active = _active(base.begins_us, timing)
    if inverted:
        volts = -volts
    cells = _cells(volts, timing, base, active, CELL_US.get(lines, CELL_US[525]))
    if cells is None:
        return None
    peak, black = _extreme(cells, +1), _extreme(cells, -1)
    over = _overshoot(volts, timing, base, peak, cells) if peak.lasts_us >= PATCH_US else (None, None)
    return PictureLevels(peak, black, *over)


def _active(begins_us: NDArray, timing: Timing) -> NDArray:
    """Return which lines lie outside vertical blanking, as far as the record tells where that is."""
    active = np.ones(len(begins_us), bool)
    period = timing.grid.period_us
    for each in timing.verticals:
        active &= (begins_us < each.at_us - 4 * period) | (begins_us > each.at_us + 24 * period)
    return active


def _cells(volts: NDArray, timing: Timing, base: Baseline, active: NDArray, cell_us: float) -> _Cells | None:
    interval, period = timing.interval_us, timing.grid.period_us
    size = max(1, round(cell_us / interval))
    parts = [part * period for part in ACTIVE]
    cut, whole = cut_lines(volts, interval, base.begins_us, *parts)
    number = cut.shape[1] // size
    usable = np.flatnonzero(whole)[active[whole]]
    if number < 2 or len(usable) < 2:
        return None
    means = cut[active[whole], : number * size].reshape(len(usable), number, size).mean(axis=2, dtype=float)
    means -= base.smooth[usable][:, None]
    noise = base.noise / np.sqrt(size)
    group = 2
    while group < MOST_TOGETHER and noise / np.sqrt(group / 2) > QUIET_V and len(usable) >= 4 * group:
        group *= 2
    rows = _rows(base.begins_us[usable], period, group)
    if not len(rows):
        return None
    return _Cells(
        means[rows[:, ::2]].mean(axis=1),
        means[rows[:, 1::2]].mean(axis=1),
        noise / float(np.sqrt(group / 2)),
        group // 2,
        size * interval,
        usable[rows],
    )


def _rows(begins_us: NDArray, period_us: float, group: int) -> NDArray:
    """Return (groups, group) rows of lines that follow each other."""
    numbers = np.rint((begins_us - begins_us[0]) / period_us)
    starts = np.arange(0, len(begins_us) - group + 1, max(2, group // 2))
    together = numbers[starts + group - 1] - numbers[starts] == group - 1
    return starts[together][:, None] + np.arange(group)[None, :]


def _extreme(cells: _Cells, sign: int) -> Level:
    """Return the highest (sign 1) or lowest (-1) level: found on even lines, read on odd ones."""
    even, odd = sign * cells.even, sign * cells.odd
    row, column = _place(even, odd, cells.noise)
    top = float(odd[row, column])
    near = 3.5 * cells.noise + 0.004 + 0.01 * abs(top)
    alike = np.abs(odd - top) < near
    # along the line, then over the groups that have the same level there
    begin = end = column
    while begin > 0 and alike[row, begin - 1]:
        begin -= 1
    while end + 1 < even.shape[1] and alike[row, end + 1]:
        end += 1
    if end - begin >= 2:  # its first and last cell hold edges
        inner = slice(begin + 1, end)
        groups = np.flatnonzero(alike[:, inner].all(axis=1))
        value = sign * float(cells.odd[groups][:, inner].mean())
        count = max(1, len(groups) * (end - begin - 1) // 2)  # groups overlap
    else:
        groups, value, count = np.array([row]), sign * top, 1
    lasts = (end - begin + 1) * cells.cell_us
    lines = len(groups) * cells.lines
    return Level(value, cells.noise / float(np.sqrt(count)), lasts, lines, float(begin) * cells.cell_us)


def _place(even: NDArray, odd: NDArray, noise: float) -> tuple[int, int]:
    """Return the highest cell of the even lines that the odd ones bear out: an edge of an area is not one."""
    order = np.argsort(even, axis=None)[::-1][:_CANDIDATES]
    good = odd.ravel()[order] > even.ravel()[order] - 6 * noise - 0.03 * np.abs(even.ravel()[order]) - 0.003
    flat = int(order[np.argmax(good)]) if good.any() else int(np.argmax(np.minimum(even, odd)))
    row, column = np.unravel_index(flat, even.shape)
    return int(row), int(column)


def _overshoot(
    volts: NDArray, timing: Timing, base: Baseline, peak: Level, cells: _Cells
) -> tuple[float | None, float | None]:
    """Return how far the edge into the patch goes beyond it, and the error; None below 10 MS/s."""
    if timing.interval_us > 1.0 / FASTEST_NEEDED_MHZ + 1e-9:
        return None, None
    start = ACTIVE[0] * timing.grid.period_us + peak.at_us
    wanted = np.unique(cells.rows)
    begins = base.begins_us[wanted]
    cut, whole = cut_lines(volts, timing.interval_us, begins, start - 0.6, start + 1.6)
    above = cut - base.smooth[wanted][whole][:, None]
    # lines that carry the patch: their later part is as high as it
    late = above[:, above.shape[1] * 2 // 3 :].mean(axis=1)
    above = above[np.abs(late - peak.volts) < 4 * base.noise + 0.03 * abs(peak.volts)]
    if len(above) < 4:
        return None, None
    size = max(1, round(_OVERSHOOT_BIN_US / timing.interval_us))
    number = above.shape[1] // size
    bins = above[:, : number * size].reshape(len(above), number, size).mean(axis=2)
    even, odd = bins[::2].mean(axis=0), bins[1::2].mean(axis=0)
    error = base.noise / float(np.sqrt(size * (len(above) // 2)))
    return max(0.0, float(odd[int(np.argmax(even))]) - peak.volts), error
