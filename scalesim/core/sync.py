"""Analogue sync and levels of the two 15 kHz systems, as their standards give them.

Times are in microseconds after the point where the leading edge of line sync is half way down (0H), levels
in millivolts into 75 ohms. Vertical sync is a row of half lines: equalising pulses, broad pulses,
equalising pulses.

Source: ITU-R BT.1700 / SMPTE 170M (525 lines), BT.1700 table 3 (625 lines): widths, porches, edges, rows.
        CCITT Rec. N.60 (1988): 714 and 286 mV for system M, 700 and 300 mV otherwise. EN 50049-1, SMPTE 253:
        700 mV and 300 mV for R, G, B and sync on green.
"""

from __future__ import annotations

from dataclasses import dataclass

RGB_PICTURE_MV, RGB_SYNC_MV = 700.0, 300.0
"""Black to white and sync of R, G, B or luma without setup."""

ROUNDING_US = 0.5 / 13.5
"""Half a sample at 13.5 MHz: a digital raster's 62 samples of sync are 4.593 us, 7 ns short of 4.7 - 0.1."""


@dataclass(frozen=True)
class Width:
    """A width with its tolerance to either side, in microseconds."""

    us: float
    plus_minus: float

    def holds(self, us: float, error: float = 0.0) -> bool:
        """Tell whether a measured width is within tolerance, its error and a raster's rounding allowed."""
        return abs(us - self.us) <= self.plus_minus + ROUNDING_US + error


@dataclass(frozen=True)
class SyncStandard:
    """One system.

    Parameters:
        lines : of a frame; line_us : nominal period of a line
        sync, equalising, broad, serration : widths of the pulses, the last the gap between broad ones
        front_porch_us : blanking before 0H; blanking_end_us : from 0H to where a picture may begin
        halves : half lines with equalising, broad, equalising pulses
        edge_us : 10 to 90 % of an edge of sync
        blanked_lines : lines at the top of a field without a picture, from its first equalising pulse on
        picture_mv, sync_mv : of composite video
    """

    lines: int
    line_us: float
    sync: Width
    equalising: Width
    broad: Width
    serration: Width
    front_porch_us: float
    blanking_end_us: float
    halves: tuple[int, int, int]
    edge_us: float
    blanked_lines: int
    picture_mv: float
    sync_mv: float


_LINE_525 = 1e6 * 858 / 13.5e6

SYNC_525 = SyncStandard(
    lines=525,
    line_us=_LINE_525,
    sync=Width(4.7, 0.1),
    equalising=Width(2.3, 0.1),
    broad=Width(_LINE_525 / 2 - 4.7, 0.1),  # what the serration's tolerance leaves
    serration=Width(4.7, 0.1),
    front_porch_us=1.5,
    blanking_end_us=9.2,
    halves=(6, 6, 6),
    edge_us=0.14,
    blanked_lines=20,
    picture_mv=5000 / 7,
    sync_mv=2000 / 7,
)
SYNC_625 = SyncStandard(
    lines=625,
    line_us=64.0,
    sync=Width(4.7, 0.2),
    equalising=Width(2.35, 0.1),
    broad=Width(27.3, 0.2),
    serration=Width(4.7, 0.2),
    front_porch_us=1.5,
    blanking_end_us=10.5,
    halves=(5, 5, 5),
    edge_us=0.2,
    blanked_lines=25,
    picture_mv=700.0,
    sync_mv=300.0,
)


def sync_standard(line_rate_hz: float, field_rate_hz: float) -> SyncStandard | None:
    """Return the system whose rates are within 3 % of these; None for neither."""
    if abs(line_rate_hz / 15_680 - 1) > 0.03:
        return None
    for standard, rate in ((SYNC_525, 60.0), (SYNC_625, 50.0)):
        if abs(field_rate_hz / rate - 1) < 0.03:
            return standard
    return None
