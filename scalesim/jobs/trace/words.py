"""What was found, in sentences: the verdict first, then rates, levels, the trim, and likely mistakes."""

from __future__ import annotations

from scalesim.jobs.trace.followed import begins, followed
from scalesim.jobs.trace.found import Found
from scalesim.jobs.trace.levels import BALANCE_MV, RESOLVED_MV, TOLERANCE, ChannelLevels, Trim, balance
from scalesim.signal.waveform.timing import Timing

_ANSWERS = {
    "interlaced": "interlaced",
    "progressive": "progressive",
    "neither": "neither interlaced nor progressive",
}
_LEAST_US = 1.0
"""A narrower pulse is a spike."""

CAUTIONS = (
    "Levels above what an input is made for can harm it, and a level is what it is only on a terminated "
    "line: measure with 75 ohms, change one thing, measure again, and follow the manuals of source and "
    "display.",
    "The ground clip of a mains-powered oscilloscope is connected to earth: clip it only to the shell of "
    "a video connector whose equipment is safe to touch, never to a live chassis, and follow the "
    "oscilloscope's manual. Never open a set: a tube holds lethal voltages when off. What is inside is "
    "for qualified technicians.",
)


def sentences(found: Found) -> list[str]:
    """Return the answer."""
    return [*_verdict(found), *found.doubts, *_levels(found)]


def signed(ppm: float | None) -> str:
    """Return parts in a million with their sign; none for what rounds to nothing."""
    whole = round(ppm or 0.0)
    return f"{whole:+d}" if whole else "0"


def rounded(offset: float) -> str:
    """Return an offset in thousandths, without a sign of nothing."""
    return f"{round(offset, 3) + 0.0:.3f}"


def _verdict(found: Found) -> list[str]:
    verdict, timing = found.verdict, found.timing
    if verdict.answer == "unknown":
        said = [f"Whether it is interlaced or progressive cannot be told: {verdict.why}."]
        if verdict.would_tell:
            said.append(f"This would tell: {verdict.would_tell}.")
        if timing is not None:
            said.append(_line_rate(found))
        return said
    if not verdict.lines:
        return [
            "The sync is interlaced: some records hold a vertical sync that begins at a line, others one "
            f"that begins half a line off ({rounded(verdict.offset or 0.0)} line). How many lines a field "
            "has, and which field comes first, short records do not tell.",
            _line_rate(found),
        ]
    first = f"The sync is {_ANSWERS[verdict.answer]}: {followed(verdict, timing)}"
    return [f"{first}.", *_vertical(found), _line_rate(found), *_mode(found), *_upside_down(found)]


def leads(timing: Timing) -> list[float]:
    """Return how far each vertical sync begins after the begin of a line, 0 to 1 line."""
    return [round(each.phase % 1.0, 3) % 1.0 for each in timing.verticals]


def others(timing: Timing) -> list[tuple[float, int]]:
    """Return (width in us, vertical syncs before which it stands) of pulses that are none of sync's.

    What stands before one vertical sync alone is a spike, where the record holds more than two.
    """
    found: list[list[float]] = []
    for width in sorted(w for each in timing.verticals for w in set(each.others_us) if w >= _LEAST_US):
        if found and width - found[-1][0] < 2 * _LEAST_US:
            found[-1].append(width)
        else:
            found.append([width])
    least = 1 if len(timing.verticals) < 3 else 2
    return [(sum(each) / len(each), len(each)) for each in found if len(each) >= least]


def _vertical(found: Found) -> list[str]:
    """Return what vertical sync has that the standard's has not: another place, or a pulse before it."""
    if (timing := found.timing) is None or timing.separate:
        return []
    said = begins(found.verdict, timing)
    said += [
        f"A pulse of {width:.1f} µs that is none of the standards' stands within six lines before {count} of "
        f"{len(timing.verticals)} vertical syncs; a display may take it for the begin of a field."
        for width, count in others(timing)
    ]
    return said


def _upside_down(found: Found) -> list[str]:
    if found.timing is None or not found.timing.pulses.inverted:
        return []
    return ["Sync points upward in the record: the channel is inverted, or the sync is positive."]


def _line_rate(found: Found) -> str:
    timing = found.timing
    assert timing is not None
    ppm = 1e6 * timing.grid.period_error_us / timing.grid.period_us
    field = ""
    if timing.field_rate_hz is not None and timing.field_error_ppm is not None:
        field = f" and {timing.field_rate_hz:.4f} fields a second (± {_error(timing.field_error_ppm)} ppm)"
    return (
        f"It has {timing.line_rate_hz:.2f} lines a second (± {_error(ppm)} ppm, n {timing.grid.lines} lines)"
        f"{field}, each with the oscilloscope's own clock error besides. Edges lie "
        f"{1000 * timing.grid.jitter_us:.0f} ns rms off an even grid, what the record's noise and sampling "
        "add included."
    )


def _error(ppm: float) -> str:
    """Return an error with two figures, never as less than a hundredth."""
    return f"{max(ppm, 0.01):.2g}"


def _mode(found: Found) -> list[str]:
    verdict = found.verdict
    mode = verdict.mode
    if mode is None:
        return ["No mode of the table has such fields."]
    exact = (verdict.lines_off or 0.0) + 0.0
    lines = "the same lines a field" if abs(exact) < 0.05 else f"{exact:+.2f} lines a field"
    timing = found.timing
    known = timing is not None and timing.field_error_ppm is not None and timing.field_error_ppm >= 0.5
    error = f" ± {timing.field_error_ppm:.0f}" if known and timing and timing.field_error_ppm else ""
    return [
        f"The nearest mode is {mode.name}: line rate {signed(verdict.line_ppm)} ppm, field rate "
        f"{signed(verdict.field_ppm)}{error} ppm, {lines}."
    ]


def _levels(found: Found) -> list[str]:
    said = [sentence for each in found.levels for sentence in _channel(each)]
    apart = balance(found.levels)
    if apart is not None:
        verb = "differ" if apart[0] > BALANCE_MV else "agree within"
        more = f" by {apart[0]:.0f} mV" if verb == "differ" else f" {max(apart[0], 1):.0f} mV"
        said.append(f"The whites of the channels {verb}{more} ({apart[1]}).")
    if found.trim is not None:
        said += trim_words(found.trim, doubted=bool(found.doubts))
    if said and found.load == "open":
        said.append("Levels are halved to those of a terminated line, since --load open was said.")
    return said


def _channel(each: ChannelLevels) -> list[str]:
    said = []
    name = each.channel.said
    if each.peak_mv is not None:
        what = "White" if each.white_mv is not None else "The highest level"
        over = each.over_mv or 0.0
        where = (
            f"{abs(over):.0f} mV {'over' if over > 0 else 'below'} the {each.picture_mv:.0f} mV of its kind"
        )
        if each.is_over:
            tail = where
        elif abs(over) <= RESOLVED_MV:
            tail = f"the {each.picture_mv:.0f} mV of its kind, as far as this can be read"
        elif abs(over) <= TOLERANCE * each.picture_mv:
            tail = f"{where}, within 5 %"
        else:
            tail = where
        said.append(f"{what} on {name} is {each.peak_mv:.0f} mV above blanking: {tail}.")
        if each.overshoot_mv is not None and each.overshoot_mv > RESOLVED_MV:
            said.append(f"The edge into white goes {each.overshoot_mv:.0f} mV beyond it.")
    if each.sync_mv is not None:
        off = each.sync_mv - each.nominal_sync_mv
        near = abs(off) <= TOLERANCE * each.nominal_sync_mv
        tail = "as it should" if near else f"{abs(off):.0f} mV {'more' if off > 0 else 'less'} than"
        more = f" ({each.nominal_sync_mv:.0f} mV)" if near else f" {each.nominal_sync_mv:.0f} mV"
        if each.kind == "sync":
            said.append(f"Sync on {name} is {each.sync_mv:.0f} mV high.")
        else:
            said.append(f"Sync on {name} is {each.sync_mv:.0f} mV high, {tail}{more}.")
    elif "sync_mv" in each.why and each.kind != "picture":
        said.append(f"The height of sync on {name} cannot be told: {each.why['sync_mv']}.")
    return said


def trim_words(trim: Trim, *, doubted: bool = False) -> list[str]:
    """Return the trim in words; `doubted` when the levels themselves may be a mistake."""
    first = "If the levels are right as they were measured, the trim" if doubted else "The trim"
    best = trim.pads[0]
    sync = (
        f" A pad brings sync on the same wire down to {trim.sync_mv:.0f} mV as well."
        if trim.sync_mv is not None
        else ""
    )
    ohms = ", ".join(f"{value:g}" for value in best.ohms)
    return [
        f"{first} is a gain of {trim.factor:.3f} ({trim.db:.2f} dB), {trim.from_mv:.0f} to "
        f"{trim.to_mv:.0f} mV: by the source's own setting where it has one, else a 75 ohm {best.kind} "
        f"pad of {ohms} ohms ({best.db:.2f} dB, {trim.from_mv * best.factor:.0f} mV).{sync} Measure again "
        "afterwards, terminated."
    ]
