"""Video modes by their trade names, with exact timings.

Every number is a whole count of samples or lines, or an exact `Fraction`; no float enters the table.

Representation. The timing tables of CTA-861 send the 15 kHz modes with every sample twice, 1440 samples
at 27 MHz, because a digital link has a lowest clock. Here such a mode is held at its base rate, 13.5 MHz
and 720 samples (858 = 720+19+62+57 and 864 = 720+12+63+69 samples a line), and `repeat` is 2. All table
entries of the link are even, so the halves are whole and every rate is the same either way.

Variants. The 59.94 Hz form of a 60 Hz mode has its clock times 1000/1001, the 60 Hz form of a 59.94 Hz
mode its clock times 1001/1000. VIC 1 is the exception: 25.175 MHz, which is 5035/84 Hz, and 25.2 MHz.

Source: CTA-861, video format timing tables, by video identification code (VIC).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from types import MappingProxyType
from typing import Literal

from scalesim.errors import ParameterError, nearest

__all__ = ["ALIASES", "MODES", "Axis", "Mode", "guess_mode", "mode_name_for", "mode_named"]


@dataclass(frozen=True)
class Axis:
    """One direction of a raster in order of time: active picture, front porch, sync, back porch.

    Whole samples along a line, or whole lines down a picture. `polarity` is the sync pulse's sign.
    """

    active: int
    front_porch: int
    sync: int
    back_porch: int
    polarity: Literal["+", "-"]

    @property
    def total(self) -> int:
        """Active and blanking together, in samples or lines."""
        return self.active + self.front_porch + self.sync + self.back_porch


@dataclass(frozen=True)
class Mode:
    """One video mode; a picture is a field if interlaced, else a frame.

    name: canonical full name, as in `MODES`. vic: CTA-861 codes that share this timing.
    clock_hz: samples per second, blanking included. horizontal: samples. vertical: lines of the first
    field if interlaced (its sync starts half a line later than whole lines give, and the second field
    has one line more), else of the frame. frame_lines_total: all lines of a frame, blanking included.
    aspect: of the displayed picture, width over height. repeat: times a digital link sends each sample.
    """

    name: str
    vic: tuple[int, ...]
    scan: Literal["progressive", "interlaced"]
    clock_hz: Fraction
    horizontal: Axis
    vertical: Axis
    frame_lines_total: int
    aspect: Fraction
    repeat: int = 1

    @property
    def interlaced(self) -> bool:
        """True if two fields make a frame."""
        return self.scan == "interlaced"

    @property
    def samples(self) -> int:
        """Active samples of a line at the base rate: 720 for a mode sent as 1440."""
        return self.horizontal.active

    @property
    def lines(self) -> int:
        """Active lines of a picture: of one field if interlaced (240 for 480i), else of the frame."""
        return self.vertical.active

    @property
    def frame_lines(self) -> int:
        """Active lines of the frame; both fields woven if interlaced (480 for 480i)."""
        return 2 * self.vertical.active if self.interlaced else self.vertical.active

    @property
    def lines_per_picture(self) -> Fraction:
        """All lines from one vertical sync to the next: 262, 750, or 525/2 if interlaced."""
        return Fraction(self.frame_lines_total, 2 if self.interlaced else 1)

    @property
    def line_rate(self) -> Fraction:
        """Lines per second, Hz: clock_hz over the samples of a whole line."""
        return self.clock_hz / self.horizontal.total

    @property
    def rate(self) -> Fraction:
        """Pictures per second, Hz: the field rate if interlaced, else the frame rate."""
        return self.line_rate / self.lines_per_picture

    @property
    def rate_class(self) -> Literal[50, 60]:
        """50 or 60, whichever `rate` is nearer to."""
        return 60 if self.rate > 55 else 50

    @property
    def family(self) -> str:
        """The name without its rate, ``480i`` for ``480i59.94``."""
        return re.sub(r"(?<=[ip])[\d.]+(@\d+)?$", "", self.name)

    @property
    def sample_aspect(self) -> Fraction:
        """Width over height of the area one sample of the frame covers, at the base rate (8/9 for 480i)."""
        return self.aspect * self.frame_lines / self.samples


_SLOW = Fraction(1000, 1001)
_FAST = Fraction(1001, 1000)

_H_640 = Axis(640, 16, 96, 48, "-")
_H_480P = Axis(720, 16, 62, 60, "-")
_H_480I = Axis(720, 19, 62, 57, "-")
_H_576P = Axis(720, 12, 64, 68, "-")
_H_576I = Axis(720, 12, 63, 69, "-")
_H_720_60 = Axis(1280, 110, 40, 220, "+")
_H_720_50 = Axis(1280, 440, 40, 220, "+")
_H_1080_60 = Axis(1920, 88, 44, 148, "+")
_H_1080_50 = Axis(1920, 528, 44, 148, "+")

_V_VGA = Axis(480, 10, 2, 33, "-")
_V_480P = Axis(480, 9, 6, 30, "-")
_V_480I = Axis(240, 4, 3, 15, "-")
_V_263 = Axis(240, 5, 3, 15, "-")
_V_576P = Axis(576, 5, 5, 39, "-")
_V_576I = Axis(288, 2, 3, 19, "-")
_V_313 = Axis(288, 3, 3, 19, "-")
_V_314 = Axis(288, 4, 3, 19, "-")
_V_720P = Axis(720, 5, 5, 20, "+")
_V_1080P = Axis(1080, 4, 5, 36, "+")
_V_1080I = Axis(540, 2, 5, 15, "+")

# name, VIC, clock at the base rate in Hz, along a line, down a picture. The 240p and 288p modes
# differ from 480i and 576i only in the half line they lack, so those axes serve both.
_ROWS: tuple[tuple[str, tuple[int, ...], Fraction | int, Axis, Axis], ...] = (
    ("640x480p59.94", (1,), 25_175_000, _H_640, _V_VGA),
    ("640x480p60", (1,), 25_200_000, _H_640, _V_VGA),
    ("480p59.94", (2, 3), 27_000_000, _H_480P, _V_480P),
    ("480p60", (2, 3), 27_000_000 * _FAST, _H_480P, _V_480P),
    ("720p60", (4,), 74_250_000, _H_720_60, _V_720P),
    ("720p59.94", (4,), 74_250_000 * _SLOW, _H_720_60, _V_720P),
    ("720p50", (19,), 74_250_000, _H_720_50, _V_720P),
    ("1080p60", (16,), 148_500_000, _H_1080_60, _V_1080P),
    ("1080p59.94", (16,), 148_500_000 * _SLOW, _H_1080_60, _V_1080P),
    ("1080p50", (31,), 148_500_000, _H_1080_50, _V_1080P),
    ("1080i60", (5,), 74_250_000, _H_1080_60, _V_1080I),
    ("1080i59.94", (5,), 74_250_000 * _SLOW, _H_1080_60, _V_1080I),
    ("1080i50", (20,), 74_250_000, _H_1080_50, _V_1080I),
    ("480i59.94", (6, 7), 13_500_000, _H_480I, _V_480I),
    ("480i60", (6, 7), 13_500_000 * _FAST, _H_480I, _V_480I),
    ("240p59.94", (8, 9), 13_500_000, _H_480I, _V_480I),
    ("240p59.94@263", (8, 9), 13_500_000, _H_480I, _V_263),
    ("240p60", (8, 9), 13_500_000 * _FAST, _H_480I, _V_480I),
    ("240p60@263", (8, 9), 13_500_000 * _FAST, _H_480I, _V_263),
    ("576p50", (17, 18), 27_000_000, _H_576P, _V_576P),
    ("576i50", (21, 22), 13_500_000, _H_576I, _V_576I),
    ("288p50", (23, 24), 13_500_000, _H_576I, _V_576I),
    ("288p50@313", (23, 24), 13_500_000, _H_576I, _V_313),
    ("288p50@314", (23, 24), 13_500_000, _H_576I, _V_314),
)


def _build(name: str, vic: tuple[int, ...], clock: Fraction | int, along: Axis, down: Axis) -> Mode:
    """Make the `Mode` of one table row."""
    interlaced = "i" in name
    return Mode(
        name=name,
        vic=vic,
        scan="interlaced" if interlaced else "progressive",
        clock_hz=Fraction(clock),
        horizontal=along,
        vertical=down,
        # The odd line out is what starts every second field half a line late.
        frame_lines_total=2 * down.total + 1 if interlaced else down.total,
        aspect=Fraction(16, 9) if along.active >= 1280 else Fraction(4, 3),
        repeat=2 if clock < 25_000_000 else 1,
    )


MODES: Mapping[str, Mode] = MappingProxyType({row[0]: _build(*row) for row in _ROWS})
"""Every mode by its canonical full name."""

ALIASES: Mapping[str, str] = MappingProxyType(
    {
        "640x480p": "640x480p59.94",
        "480p": "480p59.94",
        "720p": "720p60",
        "1080p": "1080p60",
        "1080i": "1080i60",
        "480i": "480i59.94",
        "240p": "240p59.94",
        "240p@262": "240p59.94",
        "240p@263": "240p59.94@263",
        "240p59.94@262": "240p59.94",
        "240p60@262": "240p60",
        "576p": "576p50",
        "576i": "576i50",
        "288p": "288p50",
        "288p@312": "288p50",
        "288p@313": "288p50@313",
        "288p@314": "288p50@314",
        "288p50@312": "288p50",
    }
)
"""Short and spelled-out names to canonical full names."""

_BY_SIZE: Mapping[tuple[int, int], str] = MappingProxyType(
    {
        (720, 1280): "720p60",
        (1080, 1920): "1080p60",
        (480, 720): "480p59.94",
        (480, 640): "640x480p59.94",
        (576, 720): "576p50",
        (240, 720): "240p59.94",
        (240, 1440): "240p59.94",
        (288, 720): "288p50",
        (288, 1440): "288p50",
    }
)

_15_KHZ_BELOW = 16_000  # Hz; the fastest of them runs at 15750, the next mode at 28125


def mode_named(name: str) -> Mode:
    """Return the mode with this full or short name; case and blanks around it do not matter.

    Raises: ParameterError if `name` is no string or no known name; the text offers the nearest one.
    """
    if not isinstance(name, str):
        raise ParameterError(f"mode: {name!r} is no text; it must be a name such as '720p60'")
    key = name.strip().lower()
    mode = MODES.get(ALIASES.get(key, key))
    if mode is None:
        raise ParameterError(f"mode: {name!r} is not known; {nearest(key, [*ALIASES, *MODES])}")
    return mode


def guess_mode(lines: int, samples: int) -> Mode | None:
    """Guess the mode of a picture file from its height and width, by exact size only.

    Always progressive; the 60 Hz class, or 50 for 576 and 288 lines. A picture of 1440 samples by 240
    or 288 lines is the link's form of a 720-sample mode. None for any other size.
    """
    name = _BY_SIZE.get((lines, samples))
    return None if name is None else MODES[name]


@lru_cache(maxsize=64)
def mode_name_for(lines: int, interlaced: bool, rate: Fraction) -> str:
    """Return the trade name of a raster, whatever its samples, or ``custom``.

    lines: active lines of a picture (240 for 480i). rate: pictures per second, Hz; within 1 % of 60 or
    of 50 it is of that class. 15 kHz rasters get the short name (``240p``, ``480i``, ``288p``,
    ``576i``), others the full name of the variant with the nearest rate. 480 progressive lines are
    always ``480p``: what sets 640x480p apart is its samples.
    """
    rate_class = next((c for c in (60, 50) if abs(rate - c) <= Fraction(c, 100)), None)
    candidates = [
        mode
        for mode in MODES.values()
        if (mode.lines, mode.interlaced, mode.rate_class) == (lines, interlaced, rate_class)
        and mode.family != "640x480p"
    ]
    if not candidates:
        return "custom"
    best = min(candidates, key=lambda mode: abs(mode.rate - rate))
    return best.family if best.line_rate < _15_KHZ_BELOW else best.name
