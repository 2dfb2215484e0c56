"""The levels of every channel against what its system asks, the trim that cures them, and likely mistakes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from math import hypot, isfinite, log10
from typing import Any

from scalesim.core.sync import RGB_PICTURE_MV, RGB_SYNC_MV, SyncStandard
from scalesim.jobs.trace.roles import Assigned, Channel
from scalesim.signal.waveform.baseline import Baseline, baseline_of
from scalesim.signal.waveform.burst import has_burst
from scalesim.signal.waveform.pads import Pad, standard_pad
from scalesim.signal.waveform.picture import (
    FASTEST_NEEDED_MHZ,
    PATCH_US,
    Level,
    PictureLevels,
    picture_levels,
)
from scalesim.signal.waveform.timing import Timing

SLOWEST_PEAK_MHZ = 4.0
"""Below it a cell of the picture holds one sample or two, chroma and all."""
TOLERANCE = 0.05
"""Of a nominal level (common practice, no published source; EN 50049-1 allows far more)."""
RESOLVED_MV = 10.0
"""What white is read to with a patch; less than this over is not told as over."""
BALANCE_MV = 20.0
PICTURE_SHARE = 0.15
"""Of sync: a waveform that rises no further above blanking is sync alone."""
LOGIC_MV = 1500.0


@dataclass(frozen=True, eq=False)
class ChannelLevels:
    """What one channel's levels are, in mV into 75 ohms; None with a reason in `why`.

    Parameters:
        channel, kind : "sync", "composite", "picture with sync" or "picture"
        blank_mv : in the record, against its zero; sync_mv : height of sync; black_mv, white_mv, peak_mv,
            overshoot_mv : above blanking, the last above white
        errors : of each, standard errors; picture_mv, nominal_sync_mv : what the system asks
        clipped : what the converter cuts off: "sync tips", "the top"
        noise_mv : rms of a sample; white : where the top patch was read
    """

    channel: Channel
    kind: str
    blank_mv: float
    sync_mv: float | None
    black_mv: float | None
    white_mv: float | None
    peak_mv: float | None
    overshoot_mv: float | None
    errors: dict[str, float]
    picture_mv: float
    nominal_sync_mv: float
    clipped: tuple[str, ...]
    noise_mv: float
    base: Baseline
    white: Level | None = None
    why: dict[str, str] = field(default_factory=dict)

    @property
    def over_mv(self) -> float | None:
        """How far the peak lies above what the system asks; negative below it."""
        return None if self.peak_mv is None else self.peak_mv - self.picture_mv

    @property
    def is_over(self) -> bool:
        """Whether it is over by more than can be an error of the reading."""
        over = self.over_mv
        return over is not None and over > RESOLVED_MV + 2 * self.errors.get("peak_mv", 0.0)


def channel_levels(
    channel: Channel, found: Assigned, standard: SyncStandard | None, *, has_sync: bool
) -> ChannelLevels | None:
    """Return a channel's levels; None when the record holds too few whole lines."""
    timing = found.timing
    inverted = timing.pulses.inverted and has_sync
    base = baseline_of(channel.volts, timing, has_sync=has_sync)
    if base is None:
        return None
    lines = standard.lines if standard else 525
    read = picture_levels(channel.volts, timing, base, lines, inverted=inverted)
    with_picture = not has_sync or (read is not None and read.peak.volts > PICTURE_SHARE * base.sync)
    with_picture = with_picture and channel.role not in ("csync", "hsync", "vsync")
    burst = (
        has_sync and with_picture and has_burst(-channel.volts if inverted else channel.volts, timing, base)
    )
    kind = "picture" if not has_sync else "sync"
    if has_sync and with_picture:
        kind = "composite" if burst else "picture with sync"
    if kind == "sync" and channel.role == "video":
        channel = replace(channel, role="csync")  # it was taken for video until its levels were known
    picture, sync = RGB_PICTURE_MV, RGB_SYNC_MV
    if burst and standard is not None:
        picture, sync = standard.picture_mv, standard.sync_mv
    values, errors, why = _values(base, read, timing, kind, inverted=inverted)
    return ChannelLevels(
        channel=channel,
        kind=kind,
        errors=errors,
        picture_mv=picture,
        nominal_sync_mv=sync,
        clipped=_clipped(base, why, values),
        noise_mv=1000 * base.noise,
        base=base,
        white=read.peak if read is not None and kind != "sync" else None,
        why=why,
        **values,
    )


def _values(
    base: Baseline, read: PictureLevels | None, timing: Timing, kind: str, *, inverted: bool
) -> tuple[dict[str, Any], dict[str, float], dict[str, str]]:
    """Return (values, errors, reasons) in mV by the names of `ChannelLevels`."""
    values: dict[str, Any] = dict.fromkeys(("sync_mv", "black_mv", "white_mv", "peak_mv", "overshoot_mv"))
    values["blank_mv"] = 1000 * base.level * (-1 if inverted else 1)
    errors, why = {"blank_mv": 1000 * base.level_error}, {}
    rate = 1 / timing.interval_us
    if isfinite(base.sync):
        values["sync_mv"], errors["sync_mv"] = 1000 * base.sync, 1000 * base.sync_error
    else:
        why["sync_mv"] = "this channel carries no sync"
    pictures = ("black_mv", "white_mv", "peak_mv", "overshoot_mv")
    if kind == "sync":
        return values, errors, why | dict.fromkeys(pictures, "this channel carries sync alone")
    if read is None:
        return values, errors, why | dict.fromkeys(pictures, "the record holds no two active lines in a row")
    if rate < SLOWEST_PEAK_MHZ:
        slow = (
            f"{rate:.3g} MS/s is too slow for picture levels; record at {FASTEST_NEEDED_MHZ:g} MS/s or more"
        )
        return values, errors, why | dict.fromkeys(pictures, slow)
    for key, level in (("peak_mv", read.peak), ("black_mv", read.black)):
        # both are above blanking, whose own error they share; a converter's rounding is in it
        values[key], errors[key] = 1000 * level.volts, 1000 * hypot(level.error, base.level_error)
    if rate < FASTEST_NEEDED_MHZ:
        why["white_mv"] = f"{rate:.3g} MS/s is too slow to settle on a patch; record at 10 MS/s or more"
    elif read.peak.lasts_us < PATCH_US:
        why["white_mv"] = (
            f"no level at the top lasts {PATCH_US:g} µs; play the levels chart, which has a patch"
        )
    else:
        values["white_mv"], errors["white_mv"] = values["peak_mv"], errors["peak_mv"]
    if read.overshoot is None or values["white_mv"] is None:
        why["overshoot_mv"] = "it is read at the edge of a white patch, at 10 MS/s or more"
    else:
        values["overshoot_mv"], errors["overshoot_mv"] = (
            1000 * read.overshoot,
            1000 * (read.overshoot_error or 0),
        )
    return values, errors, why


def _clipped(base: Baseline, why: dict[str, str], values: dict[str, float | None]) -> tuple[str, ...]:
    """Return what is cut off; a level that rests on it is taken back."""
    found = []
    remedy = "set more volts a division, or move the trace into the screen"
    if base.clipped_low and values["sync_mv"] is not None:
        found.append("sync tips")
        values["sync_mv"] = None
        why["sync_mv"] = f"the oscilloscope cuts the sync tips off; {remedy}"
    if base.clipped_high and values["peak_mv"] is not None:
        found.append("the top of the picture")
        for key in ("peak_mv", "white_mv", "overshoot_mv"):
            values[key] = None
            why[key] = f"the oscilloscope cuts the top off; {remedy}"
    return tuple(found)


@dataclass(frozen=True)
class Trim:
    """What brings a level down to what the system asks.

    Parameters:
        factor, db : of the gain; from_mv, to_mv : the peak before and after
        sync_mv : what a pad leaves of sync on the same wire, None where there is none
        pads : with standard values
    """

    factor: float
    db: float
    from_mv: float
    to_mv: float
    sync_mv: float | None
    pads: tuple[Pad, ...]


def trim_of(levels: Sequence[ChannelLevels]) -> Trim | None:
    """Return the trim of the channel that is furthest over; None when none is."""
    over = [each for each in levels if each.is_over and each.peak_mv is not None]
    if not over:
        return None
    worst = max(over, key=lambda each: each.peak_mv / each.picture_mv)  # type: ignore[operator]  # not None
    assert worst.peak_mv is not None
    ratio = worst.peak_mv / worst.picture_mv
    pads = tuple(standard_pad(kind, ratio, series) for series in ("E24", "E96") for kind in ("T", "pi", "L"))
    sync = None if worst.sync_mv is None else worst.sync_mv / ratio
    return Trim(1 / ratio, -20 * log10(ratio), worst.peak_mv, worst.picture_mv, sync, pads)


def doubts(levels: Sequence[ChannelLevels], *, load: str, probe: str) -> list[str]:
    """Return what looks like a mistake of the measurement, as questions: nothing is corrected."""
    found = []
    for each in levels:
        said = _ratio_doubt(each, load, probe)
        if said:
            found.append(said)
        for part in each.clipped:
            found.append(
                f"{each.channel.said}: the oscilloscope cuts off {part}; set more volts a division and "
                "record again"
            )
    return found


def _ratio_doubt(each: ChannelLevels, load: str, probe: str) -> str:
    if each.sync_mv is None:
        return ""
    asked = f"{each.nominal_sync_mv:.0f} mV"
    ratio = each.sync_mv / each.nominal_sync_mv
    if each.kind == "sync" and each.sync_mv > LOGIC_MV:
        said = f"a logic level, not the {asked} of a 75 ohm line; see what the input takes"
    elif 1.7 < ratio < 2.35 and load == "75":
        said = (
            f"about twice {asked}: was the line terminated with 75 ohms? If it was not, terminate it and "
            "record again, or say --load open"
        )
    elif 1.7 < ratio < 2.35:
        said = f"about twice {asked}, though --load open halves it: is the load right?"
    elif 0.6 < ratio < 0.73:
        said = f"about two thirds of {asked}: are there two terminations on the line?"
    elif 0.42 < ratio < 0.58 and load == "open":
        said = f"about half of {asked}: was the line terminated after all (--load 75)?"
    elif 0.07 < ratio < 0.14 and probe == "1":
        said = (
            f"about a tenth of {asked}: is a 10:1 probe in use that the oscilloscope was not told of? If "
            "so, say --probe 10"
        )
    elif 7 < ratio < 14:
        said = f"about ten times {asked}: is the probe's factor set right (--probe)?"
    else:
        return ""
    said = said if said.endswith("?") else f"{said}."
    return f"{each.channel.said}: sync of {each.sync_mv:.0f} mV is {said}"


def balance(levels: Sequence[ChannelLevels]) -> tuple[float, str] | None:
    """Return how far the white of red, green and blue lie apart in mV, and what is highest and lowest."""
    whites = [(each.white_mv, each.channel.role) for each in levels if each.white_mv is not None]
    if len(whites) < 2:
        return None
    low, high = min(whites), max(whites)
    return high[0] - low[0], f"{high[1]} {high[0]:.0f} mV, {low[1]} {low[0]:.0f} mV"
