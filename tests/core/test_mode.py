"""Names, laws and guesses of `scalesim.core.mode`; the timings themselves are in external/test_cta861.py."""

from __future__ import annotations

import re
from dataclasses import FrozenInstanceError, replace
from fractions import Fraction as F

import pytest

from scalesim.core.mode import ALIASES, MODES, Axis, Mode, guess_mode, mode_name_for, mode_named
from scalesim.errors import ParameterError

FULL_NAMES = [
    "640x480p59.94", "640x480p60", "480p59.94", "480p60", "480i59.94", "480i60", "576p50", "576i50",
    "240p59.94", "240p59.94@263", "240p60", "240p60@263", "288p50", "288p50@313", "288p50@314",
    "720p60", "720p59.94", "720p50", "1080p60", "1080p59.94", "1080p50",
    "1080i60", "1080i59.94", "1080i50",
]  # fmt: skip

SHORT_NAMES = {
    "480i": "480i59.94", "240p": "240p59.94", "480p": "480p59.94", "640x480p": "640x480p59.94",
    "240p@262": "240p59.94", "240p@263": "240p59.94@263", "240p59.94@262": "240p59.94",
    "240p60@262": "240p60", "576i": "576i50", "576p": "576p50", "288p": "288p50", "288p@312": "288p50",
    "288p@313": "288p50@313", "288p@314": "288p50@314", "288p50@312": "288p50",
    "720p": "720p60", "1080p": "1080p60", "1080i": "1080i60",
}  # fmt: skip

NAMED = re.compile(r"(?:(?P<samples>\d+)x)?(?P<lines>\d+)(?P<scan>[ip])(?P<rate>[\d.]+)(?:@(?P<total>\d+))?")
DEFAULT_TOTAL = {"240p": 262, "288p": 312, "480i": 525, "480p": 525, "576i": 625, "576p": 625}


def broken_laws(mode: Mode) -> list[str]:
    """Name every law `mode` breaks: what its own name promises, and how its numbers must hang together.

    The whole picture is clocked out once a picture period, so clock = samples x lines x rate.
    """
    named = NAMED.fullmatch(mode.name)
    assert named, mode.name
    nominal = F(named["rate"])
    whole = mode.vertical.total + (F(1, 2) if mode.interlaced else 0)
    axes = (mode.horizontal, mode.vertical)
    total = named["total"] or DEFAULT_TOTAL.get(mode.family, mode.frame_lines_total)
    laws = {
        "exact": all(isinstance(v, F) for v in (mode.clock_hz, mode.rate, mode.line_rate, mode.aspect)),
        "positive": all(min(a.active, a.front_porch, a.sync, a.back_porch) > 0 for a in axes),
        "samples add up": sum((mode.samples, *_blanking(mode.horizontal))) == mode.horizontal.total,
        "lines add up": sum((mode.lines, *_blanking(mode.vertical))) == mode.vertical.total,
        "frame total": mode.lines_per_picture == whole,
        "rates": mode.rate * mode.lines_per_picture == mode.line_rate,
        "clock": mode.rate * whole * mode.horizontal.total == mode.clock_hz,
        "lines as named": mode.frame_lines == int(named["lines"]),
        "samples as named": mode.samples == int(named["samples"] or mode.samples),
        "scan as named": mode.interlaced == (named["scan"] == "i"),
        # 240p and 288p lack or exceed half a line or more, VIC 1 is 8 ppm off its name, the rest 1 ppm.
        "rate as named": abs(mode.rate / nominal - 1)
        < (F(1, 200) if mode.frame_lines < 290 else F(1, 10**5)),
        "total as named": mode.frame_lines_total == int(total),
        "rate class": mode.rate_class == round(nominal, -1),
        "aspect": mode.aspect == (F(16, 9) if mode.frame_lines >= 720 else F(4, 3)),
        "square": mode.sample_aspect == 1 or mode.samples == 720,
        "polarity": {a.polarity for a in axes} == {"+" if mode.frame_lines >= 720 else "-"},
        "link": mode.clock_hz * mode.repeat >= 25_000_000,
    }
    return [law for law, holds in laws.items() if not holds]


def _blanking(axis: Axis) -> tuple[int, int, int]:
    return axis.front_porch, axis.sync, axis.back_porch


@pytest.mark.parametrize("mode", MODES.values(), ids=lambda mode: mode.name)
def test_laws(mode: Mode) -> None:
    """Every mode keeps the promises of its name (rates to the two decimals a name has) and adds up.

    The lowest link clock, 25 MHz, is the reason the 15 kHz modes are sent with repeated samples (HDMI's
    lowest TMDS clock; from memory).
    """
    assert broken_laws(mode) == []


@pytest.mark.parametrize(
    ("name", "wrong", "law"),
    [
        ("480i", {"clock_hz": F(27_000_000)}, "rate as named"),
        ("720p", {"clock_hz": 74_250_000.0}, "exact"),
        ("720p", {"clock_hz": F(74_250_000) * F(1000, 1001)}, "rate as named"),
        ("720p", {"horizontal": Axis(1280, 440, 40, 220, "+")}, "rate as named"),
        ("720p", {"horizontal": Axis(1280, 110, 40, 220, "-")}, "polarity"),
        ("720p", {"horizontal": Axis(1280, 150, 0, 220, "+")}, "positive"),
        ("720p", {"vertical": Axis(720, 5, 5, 21, "+")}, "frame total"),
        ("480i", {"frame_lines_total": 524}, "frame total"),
        ("480i", {"scan": "progressive"}, "scan as named"),
        ("240p", {"frame_lines_total": 263}, "frame total"),
        ("240p@263", {"vertical": Axis(240, 4, 3, 15, "-"), "frame_lines_total": 262}, "total as named"),
        ("640x480p", {"horizontal": Axis(720, 16, 62, 60, "-")}, "samples as named"),
        ("1080i", {"vertical": Axis(1080, 4, 5, 36, "+")}, "lines as named"),
        ("576p", {"clock_hz": F(27_000_000) * F(6, 5)}, "rate class"),
        ("480p", {"aspect": F(16, 9)}, "aspect"),
        ("1080p", {"aspect": F(4, 3)}, "square"),
        ("240p", {"repeat": 1}, "link"),
    ],
)
def test_a_corrupted_mode_breaks_a_law(name: str, wrong: dict[str, object], law: str) -> None:
    """Guard of the laws: each deliberately wrong mode is caught, and by the law it breaks."""
    assert law in broken_laws(replace(mode_named(name), **wrong))  # type: ignore[arg-type]


def test_the_table_holds_exactly_these_modes() -> None:
    """The names that are accepted; canonical names are the keys."""
    assert sorted(MODES) == sorted(FULL_NAMES)
    assert all(mode.name == name for name, mode in MODES.items())


@pytest.mark.parametrize("name", FULL_NAMES)
def test_full_name_round_trips(name: str) -> None:
    assert mode_named(name) is MODES[name]
    assert mode_named(mode_named(name).name) == mode_named(name)


@pytest.mark.parametrize(("short", "full"), SHORT_NAMES.items())
def test_short_name_has_its_stated_default(short: str, full: str) -> None:
    """59.94 Hz for the 480-line families, 60 Hz for 720 and 1080 lines, 262 and 312 lines."""
    assert mode_named(short).name == full


def test_no_alias_is_untested_or_hides_a_full_name() -> None:
    assert dict(ALIASES) == SHORT_NAMES
    assert not set(ALIASES) & set(MODES)


@pytest.mark.parametrize("spelling", ["720P59.94", "  720p59.94\t", "\n720P59.94 "])
def test_case_and_blanks_around_a_name_do_not_matter(spelling: str) -> None:
    assert mode_named(spelling).name == "720p59.94"


@pytest.mark.parametrize(
    ("wrong", "hint"),
    [
        ("480x", "'480"),
        ("720p59.95", "'720p59.94'"),
        ("1080p59,94", "'1080p59.94'"),
        ("240p@264", "'240p@26"),
        ("720 p60", "'720p60'"),
        ("1080p60000/1001", "'1080p60'"),
        ("576i60", "'576i"),
        ("640x480", "'640x480p"),
    ],
)
def test_unknown_name_is_answered_with_the_nearest(wrong: str, hint: str) -> None:
    with pytest.raises(ParameterError, match=f"did you mean {hint}") as caught:
        mode_named(wrong)
    assert str(caught.value).startswith(f"mode: '{wrong}' is not known; ")


@pytest.mark.parametrize(
    "wrong", ["", "   ", "custom", "720p60\n720p50", "p", "@263", "720p59.94@750", 720, None]
)
def test_no_name_is_a_one_line_error(wrong: object) -> None:
    with pytest.raises(ParameterError) as caught:
        mode_named(wrong)  # type: ignore[arg-type]
    assert "\n" not in str(caught.value) and "720p60" in str(caught.value)


def test_modes_cannot_be_changed() -> None:
    mode = MODES["720p60"]
    with pytest.raises(FrozenInstanceError):
        mode.name = "other"  # type: ignore[misc]
    with pytest.raises(TypeError):
        MODES["720p60"] = mode  # type: ignore[index]


def test_interlaced_counts_are_per_field() -> None:
    """480i: 240 active lines a field, 480 woven, 262.5 lines a field with blanking, 720 samples."""
    mode = mode_named("480i")
    assert (mode.lines, mode.frame_lines, mode.samples) == (240, 480, 720)
    assert (mode.frame_lines_total, mode.lines_per_picture) == (525, F(525, 2))
    assert (mode.family, mode.rate_class) == ("480i", 60)
    assert mode.clock_hz * mode.repeat == 27_000_000


@pytest.mark.parametrize("name", FULL_NAMES)
def test_family_is_the_short_name_and_shared_by_the_variants(name: str) -> None:
    family = MODES[name].family
    assert name.startswith(family) and family[-1] in "ip"
    assert mode_named(family).family == family


@pytest.mark.parametrize(
    ("lines", "samples", "name"),
    [
        (720, 1280, "720p60"),
        (1080, 1920, "1080p60"),
        (480, 720, "480p59.94"),
        (480, 640, "640x480p59.94"),
        (576, 720, "576p50"),
        (240, 720, "240p59.94"),
        (240, 1440, "240p59.94"),
        (288, 720, "288p50"),
        (288, 1440, "288p50"),
    ],
)
def test_guess_by_exact_size(lines: int, samples: int, name: str) -> None:
    assert guess_mode(lines, samples) is MODES[name]
    assert not MODES[name].interlaced and MODES[name].frame_lines == lines


@pytest.mark.parametrize("size", [(1280, 720), (721, 1280), (720, 1279), (240, 320), (480, 1440), (0, 0)])
def test_no_guess_for_any_other_size(size: tuple[int, int]) -> None:
    """Turned, one off, or of no mode: the caller then uses mode custom."""
    assert guess_mode(*size) is None


@pytest.mark.parametrize("mode", MODES.values(), ids=lambda mode: mode.name)
def test_mode_out_of_every_mode(mode: Mode) -> None:
    """15 kHz rasters get the family, others their own name; 640x480p is 480p once samples are ignored."""
    expected = mode.family if mode.family in ("240p", "480i", "288p", "576i") else mode.name
    expected = expected.removeprefix("640x")
    assert mode_name_for(mode.lines, mode.interlaced, mode.rate) == expected


@pytest.mark.parametrize(
    ("lines", "interlaced", "rate", "name"),
    [
        (240, True, F(60), "480i"),
        (240, False, F(60000, 1001), "240p"),
        (288, True, F(50), "576i"),
        (240, False, F(594, 10), "240p"),
        (240, False, F(59395, 1000), "custom"),
        (240, False, F(60605, 1000), "custom"),
        (288, False, F(505, 10), "288p"),
        (288, False, F(5051, 100), "custom"),
        (720, False, F(602, 10), "720p60"),
        (720, False, F(599, 10), "720p59.94"),
        (540, True, F(60000, 1001), "1080i59.94"),
        (540, False, F(60), "custom"),
        (480, True, F(60), "custom"),
        (240, False, F(50), "custom"),
        (576, False, F(60), "custom"),
        (480, False, F(30), "custom"),
        (224, False, F(60), "custom"),
        (240, False, F(0), "custom"),
    ],
)
def test_mode_out_by_lines_scan_and_rate(lines: int, interlaced: bool, rate: F, name: str) -> None:
    """Active lines are per picture; 1 % around 60 and 50 Hz is the class, its edge included."""
    assert mode_name_for(lines, interlaced, rate) == name
