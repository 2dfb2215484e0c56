"""What is said of a landing: no more than the model gives, with the n of its ranges."""

from __future__ import annotations

from collections.abc import Iterable

from scalesim.schema import params_of
from scalesim.tube.lock.circuit import Circuit, Clocked, Countdown
from scalesim.tube.lock.landings import Landing, Outcome
from scalesim.tube.lock.on_display import Landed
from scalesim.tube.lock.ranges import Border, Margin, Spread

DRAWS: dict[Outcome, str] = {
    "one set": "draws both fields on one set of lines",
    "uneven": "draws the fields unevenly",
    "two sets": "interlaces",
    "no lock": "does not lock",
}
"""What a display does with a landing."""
_ALMOST = "draws both fields almost on one set of lines"

CAUTIONS = (
    "This is a model of vertical circuits with values that are engineering judgement; real sets vary. "
    "It explains "
    "what can happen, and promises nothing of a given set.",
    "Nobody needs to open a set to find out: what tells is measured on the cable and seen on the glass. "
    "A tube "
    "holds lethal voltages when off; leave its inside to trained people, and follow the manuals.",
)

_NAMES = {
    "time_constant_us": "time constant",
    "threshold_v": "threshold",
    "least_width_us": "least width",
    "clock_phase": "clock phase",
    "natural_period": "natural period",
    "coupling": "coupling",
    "correction": "correction",
}


def name_of(key: str) -> str:
    """Return a key in words."""
    return _NAMES[key]


def circuit_words(circuit: Circuit) -> str:
    """Return what a circuit is, in words."""
    if isinstance(circuit, Clocked):
        what = "sync" if circuit.front == "level" else "filtered sync"
        return f"a detector that looks at {what} once a {circuit.clock.replace('-', ' ')}"
    if isinstance(circuit, Countdown):
        return f"a {circuit.rule} countdown of half lines"
    return circuit.words


def nominal_words(circuit: Circuit) -> str:
    """Return the circuit's own values: those that its pictures rest on."""
    keys = params_of(circuit)
    told = [(name_of(key), getattr(circuit, key), keys[key].unit) for key in circuit.spans]
    return ", ".join(
        f"{name} {value:g}{f' {unit_words(unit)}' if unit else ''}" for name, value, unit in told
    )


def unit_words(unit: str) -> str:
    """Return a unit as it is printed."""
    return "\u00b5s" if unit == "us" else unit


def landing_words(landing: Landing, paired: bool = True, when: str = "", alike: bool = False) -> str:
    """Return how the fields lie, with L.

    `paired` where it is known which lines the content means to meet; `alike` where all fields lie
    on the same lines, as those of a progressive signal do.
    """
    if landing.lines is None:
        return f"{DRAWS['no lock']}{when} ({landing.why})"
    if alike and landing.outcome == "one set":
        return f"draws every field on the same lines{when}"
    way = "above" if round(landing.lines, 2) < 0 else "below"
    beside = beside_words(landing)
    draws = _ALMOST if beside else DRAWS[landing.outcome]
    said = f"{draws}{when}, the second {lines_words(abs(landing.lines))} {way} the first{beside}"
    return f"{said}{pair_words(landing)}" if landing.pair and paired else said


def beside_words(landing: Landing) -> str:
    """Return how far the second field lies off the lines of the first that it is drawn on; "" for nothing.

    What counts as one set of lines may lie a tenth of a line off it.
    """
    if landing.outcome != "one set" or landing.lines is None:
        return ""
    off = round(landing.lines, 2) - round(landing.lines)
    if abs(off) < 0.01:
        return ""
    us = f" ({abs(off) * landing.line_us:.1f} \u00b5s)" if landing.line_us else ""
    return f", {abs(off):.2f} line{us} {'below' if off > 0 else 'above'} a line of it"


def lines_words(lines: float | None) -> str:
    """Return a distance of fields, or that there is none."""
    return "no lock" if lines is None else f"{round(lines, 2) + 0.0:.2f} lines"


def pair_words(landing: Landing) -> str:
    """Return which frame lines share a scan line, as the end of a sentence."""
    lower = {"down": "2k + 1", "up": "2k \u2212 1"}.get(landing.pair)
    return f": frame lines 2k and {lower} share a scan line" if lower else ""


def spread_words(spread: Spread, short: bool = False) -> str:
    """Return the outcomes over the ranges, most frequent first."""
    ranked = sorted(spread.shares.items(), key=lambda item: -item[1])
    told = ", ".join(f"{share_words(share)} {outcome}" for outcome, share in ranked)
    return told if short else f"{told} (of {spread.n} sets of values that lock on the standard signal)"


def share_words(share: float) -> str:
    """Return a share of a grid: never 0 or 100 % for what is not none or all."""
    if 0 < share < 0.01:
        return "under 1 %"
    if 0.99 < share < 1:
        return "over 99 %"
    return f"{100 * share:.0f} %"


def landing_sentences(name: str, found: Landed, paired: bool = True, alike: bool = False) -> list[str]:
    """Return what one display makes of a signal: its nominal values first, its ranges, its histories."""
    first = found.first
    cold = " when started on it" if first.history else ""
    said = [
        f"{name}, {circuit_words(found.circuit)} ({nominal_words(found.circuit)}), "
        f"{landing_words(first, paired, cold, alike)}.",
        f"Over its ranges: {spread_words(found.spreads[0])}.",
    ]
    said += [*useless_sentence(found), *undecided_sentence(found), *history_sentences(found)]
    said += [margin_sentence(found.margins)] * bool(found.margins)
    said += [border_sentence(each) for each in found.borders]
    return said


def useless_sentence(found: Landed) -> list[str]:
    """Return that no display has these values: they find no vertical sync in the standard signal either."""
    if found.works:
        return []
    return ["Its own values find no vertical sync at all, in the standard signal either: check them."]


def undecided_sentence(found: Landed) -> list[str]:
    """Return that a circuit stands on a border, where its noise alone takes it across."""
    if (edge := found.undecided) is None:
        return []
    way = "more" if edge.by > 0 else "less"
    size = size_words(abs(edge.by), edge.unit)
    return [
        f"It stands on a border: {size} {way} of {name_of(edge.key)}, less than its own noise, gives "
        f"{lines_words(edge.to)}, so either may come."
    ]


def history_sentences(found: Landed) -> list[str]:
    """Return what another history gives."""
    told = []
    for landing in found.landings[1:]:
        if landing.outcome == found.first.outcome:
            told.append("Switched over to it from the standard signal, it does the same.")
        else:
            told.append(
                f"Switched over to it from the standard signal, it {landing_words(landing)}: what went "
                "before decides."
            )
    return told


def margin_sentence(margins: Iterable[Margin]) -> str:
    """Return how far each value is from the next landing."""
    return f"Margins: {margin_words(margins)}."


def margin_words(margins: Iterable[Margin]) -> str:
    """Return the same as a part of a sentence, a dash for none."""
    told = []
    for each in margins:
        way = "more" if each.by > 0 else "less"
        told.append(
            f"{size_words(abs(each.by), each.unit)} {way} of {name_of(each.key)} gives {lines_words(each.to)}"
        )
    return "; ".join(told) or "\u2013"


def size_words(size: float, unit: str) -> str:
    """Return a margin with its unit."""
    shown = unit_words(unit)
    return (
        f"{size:.0f} {shown}"
        if unit == "mV"
        else f"{size:.2g} {shown}"
        if size < 1
        else f"{size:.1f} {shown}"
    )


def border_sentence(border: Border) -> str:
    """Return that a small drift crosses a border."""
    of = " of its period" if border.key == "clock_phase" else ""
    return (
        f"A drift of its {name_of(border.key)} by {abs(border.percent):g} %{of} "
        f"{'upward' if border.percent > 0 else 'downward'} gives {lines_words(border.to)}: warming up "
        "may decide."
    )
