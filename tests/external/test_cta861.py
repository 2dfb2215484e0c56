"""Timings of `scalesim.core.mode` against published ones.

Main source: CTA-861, the video format timing tables, by VIC. The figures were read from two public
copies, the Linux kernel's table of these modes (drivers/gpu/drm/drm_edid.c, VIC 1 to 39) and the output
of Debian's edid-decode 0.1~git20220315 (``--vic N``), which agree; the standard's own text was not at
hand. Where the header linux/v4l2-dv-timings.h is installed it is read and compared as a third copy.
Rates and times in seconds are exact quotients of those figures.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from fractions import Fraction as F
from pathlib import Path

import pytest

from scalesim.core.mode import MODES, Axis, Mode


@dataclass(frozen=True)
class Row:
    """One row as printed: clock in MHz, (active, front porch, sync, back porch), rates in Hz."""

    name: str
    vic: int
    clock: str
    horizontal: tuple[int, int, int, int]
    h_total: int
    vertical: tuple[int, int, int, int]
    v_total: int
    frame: int
    polarity: str
    line_rate: F
    line_us: float
    rate: F


N = F(60000, 1001)
SD, VGA = F(2_250_000, 143), F(125_875, 4)
H640, H480P, H576P = (640, 16, 96, 48), (720, 16, 62, 60), (720, 12, 64, 68)
H480I, H576I = (1440, 38, 124, 114), (1440, 24, 126, 138)
H720, H720_50 = (1280, 110, 40, 220), (1280, 440, 40, 220)
H1080, H1080_50 = (1920, 88, 44, 148), (1920, 528, 44, 148)
VVGA, V480P, V576P = (480, 10, 2, 33), (480, 9, 6, 30), (576, 5, 5, 39)
V262, V263 = (240, 4, 3, 15), (240, 5, 3, 15)
V312, V313, V314 = (288, 2, 3, 19), (288, 3, 3, 19), (288, 4, 3, 19)
V720, V1080, V540 = (720, 5, 5, 20), (1080, 4, 5, 36), (540, 2, 5, 15)

ROWS = [
    Row("640x480p59.94", 1, "25.175", H640, 800, VVGA, 525, 525, "-", VGA, 31.777557, F(5035, 84)),
    Row("640x480p60", 1, "25.2", H640, 800, VVGA, 525, 525, "-", F(31500), 31.746032, F(60)),
    Row("480p59.94", 2, "27", H480P, 858, V480P, 525, 525, "-", 2 * SD, 31.777778, N),
    Row("480p60", 3, "27.027", H480P, 858, V480P, 525, 525, "-", F(31500), 31.746032, F(60)),
    Row("720p60", 4, "74.25", H720, 1650, V720, 750, 750, "+", F(45000), 22.222222, F(60)),
    Row("720p50", 19, "74.25", H720_50, 1980, V720, 750, 750, "+", F(37500), 26.666667, F(50)),
    Row("1080p60", 16, "148.5", H1080, 2200, V1080, 1125, 1125, "+", F(67500), 14.814815, F(60)),
    Row("1080p50", 31, "148.5", H1080_50, 2640, V1080, 1125, 1125, "+", F(56250), 17.777778, F(50)),
    Row("1080i60", 5, "74.25", H1080, 2200, V540, 562, 1125, "+", F(33750), 29.629630, F(60)),
    Row("1080i50", 20, "74.25", H1080_50, 2640, V540, 562, 1125, "+", F(28125), 35.555556, F(50)),
    Row("480i59.94", 6, "27", H480I, 1716, V262, 262, 525, "-", SD, 63.555556, N),
    Row("480i60", 7, "27.027", H480I, 1716, V262, 262, 525, "-", F(15750), 63.492063, F(60)),
    Row("240p59.94", 8, "27", H480I, 1716, V262, 262, 262, "-", SD, 63.555556, F(1125000, 18733)),
    Row("240p59.94@263", 9, "27", H480I, 1716, V263, 263, 263, "-", SD, 63.555556, F(2250000, 37609)),
    Row("240p60", 8, "27.027", H480I, 1716, V262, 262, 262, "-", F(15750), 63.492063, F(7875, 131)),
    Row("240p60@263", 9, "27.027", H480I, 1716, V263, 263, 263, "-", F(15750), 63.492063, F(15750, 263)),
    Row("576p50", 17, "27", H576P, 864, V576P, 625, 625, "-", F(31250), 32.0, F(50)),
    Row("576i50", 21, "27", H576I, 1728, V312, 312, 625, "-", F(15625), 64.0, F(50)),
    Row("288p50", 23, "27", H576I, 1728, V312, 312, 312, "-", F(15625), 64.0, F(15625, 312)),
    Row("288p50@313", 24, "27", H576I, 1728, V313, 313, 313, "-", F(15625), 64.0, F(15625, 313)),
    Row("288p50@314", 24, "27", H576I, 1728, V314, 314, 314, "-", F(15625), 64.0, F(15625, 314)),
]


def spans(axis: Axis) -> tuple[int, int, int, int]:
    return axis.active, axis.front_porch, axis.sync, axis.back_porch


def microseconds(count: int, rate: F) -> float:
    return float(10**6 * count / rate)


def disagreements(mode: Mode, row: Row) -> list[str]:
    """Name every figure of `mode` that is not the printed one; the link's form has repeated samples."""
    line_us = microseconds(1, mode.line_rate)
    checks = {
        "name": mode.name == row.name,
        "vic": row.vic in mode.vic,
        "clock": mode.clock_hz * mode.repeat == F(row.clock) * 10**6,
        "horizontal": tuple(n * mode.repeat for n in spans(mode.horizontal)) == row.horizontal,
        "horizontal total": mode.horizontal.total * mode.repeat == row.h_total,
        "vertical": spans(mode.vertical) == row.vertical,
        "vertical total": mode.vertical.total == row.v_total,
        "frame total": mode.frame_lines_total == row.frame,
        "polarity": (mode.horizontal.polarity, mode.vertical.polarity) == (row.polarity, row.polarity),
        "line rate": mode.line_rate == row.line_rate,
        "line period": abs(line_us - row.line_us) < 1e-6,
        "rate": mode.rate == row.rate,
    }
    return [what for what, agrees in checks.items() if not agrees]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
def test_timing_is_the_printed_one(row: Row) -> None:
    """CTA-861 format timing tables: clock, porches, sync, totals, polarity, line and picture rate."""
    assert disagreements(MODES[row.name], row) == []


def test_every_mode_is_checked_against_a_printed_timing() -> None:
    """The three modes without a row are 1000/1001 variants, checked by their own test below."""
    assert set(MODES) - {row.name for row in ROWS} == {"720p59.94", "1080p59.94", "1080i59.94"}


def test_the_4_3_and_16_9_codes_of_one_timing_share_a_mode() -> None:
    """CTA-861: the 480- and 576-line timings and their half-height forms have a code for each aspect."""
    pairs = {mode.vic for mode in MODES.values() if len(mode.vic) > 1}
    assert pairs == {(2, 3), (6, 7), (8, 9), (17, 18), (21, 22), (23, 24)}


@pytest.mark.parametrize(
    ("wrong", "expected"),
    [
        ({"clock_hz": F(27_000_000)}, {"clock", "line rate", "line period", "rate"}),
        ({"horizontal": Axis(720, 16, 62, 60, "-")}, {"horizontal"}),
        ({"horizontal": Axis(720, 19, 62, 57, "+")}, {"polarity"}),
        ({"vertical": Axis(240, 5, 3, 15, "-")}, {"vertical", "vertical total"}),
        ({"frame_lines_total": 524}, {"frame total", "rate"}),
        ({"scan": "progressive"}, {"rate"}),
        ({"vic": (8, 9)}, {"vic"}),
        ({"clock_hz": F("13.4999e6")}, {"clock", "line rate", "line period", "rate"}),
    ],
)
def test_a_wrong_entry_is_caught(wrong: dict[str, object], expected: set[str]) -> None:
    """Guard of the check above: each deliberately wrong 480i entry is named by what is wrong in it."""
    row = next(row for row in ROWS if row.name == "480i59.94")
    corrupted = replace(MODES["480i59.94"], **wrong)  # type: ignore[arg-type]
    assert set(disagreements(corrupted, row)) == expected


@pytest.mark.parametrize(
    ("name", "clock_mhz", "line_hz", "line_us"),
    [
        ("720p59.94", 74.175824, 44955.0450, 22.244444),
        ("1080p59.94", 148.351648, 67432.5674, 14.829630),
        ("1080i59.94", 74.175824, 33716.2837, 29.659259),
    ],
)
def test_slow_variant_has_the_clock_times_1000_over_1001(
    name: str, clock_mhz: float, line_hz: float, line_us: float
) -> None:
    """CTA-861: 59.94 Hz forms of 60 Hz modes; only the clock differs from the 60 Hz entry."""
    slow, full = MODES[name], MODES[name.replace("59.94", "60")]
    assert slow == replace(full, name=name, clock_hz=full.clock_hz * F(1000, 1001))
    assert slow.rate == N
    assert float(slow.clock_hz / 10**6) == pytest.approx(clock_mhz, abs=1e-6)
    assert float(slow.line_rate) == pytest.approx(line_hz, abs=1e-4)
    assert microseconds(1, slow.line_rate) == pytest.approx(line_us, abs=1e-6)


@pytest.mark.parametrize("name", ["480p59.94", "480i59.94", "240p59.94", "240p59.94@263"])
def test_fast_variant_has_the_clock_times_1001_over_1000(name: str) -> None:
    """CTA-861: 60.00 Hz forms of 59.94 Hz modes; only the clock differs."""
    slow, fast = MODES[name], MODES[name.replace("59.94", "60")]
    assert fast == replace(slow, name=fast.name, clock_hz=slow.clock_hz * F(1001, 1000))


@pytest.mark.parametrize(
    ("name", "other", "more"),
    [
        ("240p59.94", "240p59.94@263", 1),
        ("240p60", "240p60@263", 1),
        ("288p50", "288p50@313", 1),
        ("288p50", "288p50@314", 2),
    ],
)
def test_line_count_variants_differ_in_the_vertical_front_porch_alone(
    name: str, other: str, more: int
) -> None:
    """CTA-861, notes to VIC 8/9 and 23/24, as quoted by drm_edid.c (cea_mode_alternate_timings)."""
    short, long = MODES[name], MODES[other]
    vertical = replace(short.vertical, front_porch=short.vertical.front_porch + more)
    assert long == replace(
        short, name=other, vertical=vertical, frame_lines_total=short.frame_lines_total + more
    )


@pytest.mark.parametrize(
    ("name", "milliseconds"),
    [
        ("480i59.94", 16.683333),
        ("240p59.94", 16.651556),
        ("240p59.94@263", 16.715111),
        ("720p60", 16.666667),
        ("288p50", 19.968),
        ("288p50@313", 20.032),
        ("288p50@314", 20.096),
    ],
)
def test_picture_period(name: str, milliseconds: float) -> None:
    """Quotients of the CTA-861 totals and clocks."""
    assert float(1000 / MODES[name].rate) == pytest.approx(milliseconds, abs=1e-6)


@pytest.mark.parametrize(
    ("name", "lines_per_field", "offset_us"),
    [
        ("480i59.94", F(525, 2), 31.777778),
        ("576i50", F(625, 2), 32.0),
        ("1080i60", F(1125, 2), 14.814815),
        ("1080i50", F(1125, 2), 17.777778),
    ],
)
def test_half_line_rule(name: str, lines_per_field: F, offset_us: float) -> None:
    """SMPTE 170M (525), ITU-R BT.1700 (625), CTA-861 (1125): an odd frame total makes every second
    vertical sync start half a line after a line starts. edid-decode prints it as half a line more of
    front porch in one field and of back porch in the other."""
    mode = MODES[name]
    assert mode.lines_per_picture == lines_per_field
    assert mode.lines_per_picture % 1 == F(1, 2)
    assert microseconds(1, mode.line_rate) / 2 == pytest.approx(offset_us, abs=1e-6)


def test_no_progressive_mode_has_the_half_line() -> None:
    """Same sources: a whole number of lines in every picture never interlaces."""
    progressive = [mode for mode in MODES.values() if not mode.interlaced]
    assert all(mode.lines_per_picture.denominator == 1 for mode in progressive)


@pytest.mark.parametrize(
    ("name", "first", "second"), [("480i", 262, 263), ("576i", 312, 313), ("1080i", 562, 563)]
)
def test_digital_line_split(name: str, first: int, second: int) -> None:
    """ITU-R line numbering and linux/v4l2-dv-timings.h: the second field has one line more."""
    for mode in (mode for mode in MODES.values() if mode.family == name):
        assert (mode.vertical.total, mode.frame_lines_total - mode.vertical.total) == (first, second)


def test_vesa_640x480_with_its_border_is_vic_1() -> None:
    """VESA DMT 1.0, id 0x04 (edid-decode ``--dmt 4``): borders of 8 samples and 8 lines are blanking."""
    mode, border = MODES["640x480p59.94"], 8
    assert spans(mode.horizontal) == (640, 8 + border, 96, 40 + border)
    assert spans(mode.vertical) == (480, 2 + border, 2, 25 + border)
    assert float(mode.line_rate / 1000) == pytest.approx(31.469, abs=5e-4)


@pytest.mark.parametrize(
    ("name", "sync_us"),
    [
        ("480i59.94", 4.5926),
        ("240p59.94", 4.5926),
        ("576i50", 4.6667),
        ("288p50", 4.6667),
        ("480p59.94", 2.2963),
        ("640x480p59.94", 3.8133),
        ("720p60", 0.5387),
        ("1080p60", 0.2963),
        ("1080i60", 0.5926),
    ],
)
def test_line_sync_width(name: str, sync_us: float) -> None:
    """Quotients of the CTA-861 sync widths and clocks."""
    mode = MODES[name]
    assert microseconds(mode.horizontal.sync, mode.clock_hz) == pytest.approx(sync_us, abs=5.1e-5)


def test_digital_480i_sync_is_just_narrower_than_the_analogue_tolerance() -> None:
    """SMPTE 170M line sync is 4.70 +/- 0.10 us; ITU-R BT.1700 for 625 lines 4.7 +/- 0.2 us."""
    sync = {n: microseconds(MODES[n].horizontal.sync, MODES[n].clock_hz) for n in ("480i59.94", "576i50")}
    assert 4.59 < sync["480i59.94"] < 4.60
    assert 4.5 < sync["576i50"] < 4.9


@pytest.mark.parametrize(
    ("name", "front_us", "back_us"),
    [("480i59.94", 1.4074, 4.2222), ("240p59.94", 1.4074, 4.2222), ("288p50", 0.8889, 5.1111)],
)
def test_line_porches(name: str, front_us: float, back_us: float) -> None:
    """Quotients of the CTA-861 porches and clocks."""
    mode = MODES[name]
    assert microseconds(mode.horizontal.front_porch, mode.clock_hz) == pytest.approx(front_us, abs=5.1e-5)
    assert microseconds(mode.horizontal.back_porch, mode.clock_hz) == pytest.approx(back_us, abs=5.1e-5)


@pytest.mark.parametrize(
    ("name", "active_us"),
    [
        ("240p59.94", 15253.333),
        ("288p50", 18432.0),
        ("480p59.94", 15253.333),
        ("720p60", 16000.0),
        ("1080p60", 16000.0),
    ],
)
def test_active_time_top_to_bottom(name: str, active_us: float) -> None:
    """Active lines over the line rate, from the CTA-861 figures."""
    mode = MODES[name]
    assert microseconds(mode.lines, mode.line_rate) == pytest.approx(active_us, abs=5.1e-4)


def test_vic_1_is_not_60000_over_1001() -> None:
    """CTA-861: at 25.175 MHz, VIC 1 and 60000/1001 Hz slip one frame in 2402.4 s."""
    apart = N - MODES["640x480p59.94"].rate
    assert apart != 0
    assert abs(1 / apart) == F(24024, 10)


def test_240p_shares_the_line_rate_of_480i_but_not_its_field_rate() -> None:
    """CTA-861, VIC 6 and 8: 262 or 263 lines against 262.5."""
    interlaced, short, long = (MODES[n] for n in ("480i59.94", "240p59.94", "240p59.94@263"))
    assert interlaced.line_rate == short.line_rate == long.line_rate
    assert long.rate < interlaced.rate < short.rate


@pytest.mark.parametrize(
    ("name", "aspect"),
    [
        ("480i59.94", F(8, 9)),
        ("480p59.94", F(8, 9)),
        ("576i50", F(16, 15)),
        ("576p50", F(16, 15)),
        ("240p59.94", F(4, 9)),
        ("288p50", F(8, 15)),
        ("640x480p59.94", F(1)),
        ("720p60", F(1)),
        ("1080p50", F(1)),
        ("1080i60", F(1)),
    ],
)
def test_sample_aspect(name: str, aspect: F) -> None:
    """CTA-861 gives 8:9 and 16:15 for the whole 720 samples at 4:3; the rest is picture aspect times
    lines over samples."""
    assert MODES[name].sample_aspect == aspect


V4L2_HEADER = Path("/usr/include/linux/v4l2-dv-timings.h")
V4L2_NAMES = {
    "640X480P59_94": "640x480p59.94",
    "720X480P59_94": "480p59.94",
    "1280X720P60": "720p60",
    "1920X1080I60": "1080i60",
    "720X480I59_94": "480i59.94",
    "1920X1080P60": "1080p60",
    "720X576P50": "576p50",
    "1280X720P50": "720p50",
    "1920X1080I50": "1080i50",
    "720X576I50": "576i50",
    "1920X1080P50": "1080p50",
}


def v4l2_numbers(text: str, name: str) -> tuple[bool, list[int], int]:
    """Read one V4L2_DV_BT_CEA_ entry: positive sync?, its 13 whole numbers, its VIC.

    The numbers: width, height, interlaced, clock, then porch-sync-porch along a line, down the first
    field, down the second field.
    """
    found = re.search(rf"#define V4L2_DV_BT_CEA_{name} \{{(.*?)\n\}}", text, re.DOTALL)
    assert found, f"{name} is not in the header"
    fields = re.findall(r"[^,{}()\\\s][^,{}()\\]*", found[1].split("V4L2_INIT_BT_TIMINGS", 1)[1])
    numbers = [int(field) for field in fields if field.strip().isdigit()]
    positive = "V4L2_DV_HSYNC_POS_POL" in found[1] and "V4L2_DV_VSYNC_POS_POL" in found[1]
    # The polarity is the literal 0 when both pulses are negative, else the two flags.
    if not positive:
        assert numbers.pop(3) == 0
    return positive, numbers[:13], numbers[-1]


@pytest.mark.skipif(
    not V4L2_HEADER.is_file(), reason="linux/v4l2-dv-timings.h (Linux kernel headers) is not installed"
)
@pytest.mark.parametrize(("entry", "name"), V4L2_NAMES.items())
def test_agrees_with_the_linux_video_header(entry: str, name: str) -> None:
    """linux/v4l2-dv-timings.h, VIC 1, 2, 4-6, 16, 17, 19-21, 31: 15 kHz modes at their base clock, the
    second field's back porch one line longer."""
    mode = MODES[name]
    positive, numbers, vic = v4l2_numbers(V4L2_HEADER.read_text(encoding="utf-8"), entry)
    horizontal, vertical = spans(mode.horizontal)[1:], spans(mode.vertical)[1:]
    second = (*vertical[:2], vertical[2] + 1) if mode.interlaced else (0, 0, 0)
    size = (mode.samples, mode.frame_lines, int(mode.interlaced), int(mode.clock_hz))
    assert numbers == [*size, *horizontal, *vertical, *second]
    assert mode.horizontal.polarity == mode.vertical.polarity == ("+" if positive else "-")
    assert vic == mode.vic[0]
