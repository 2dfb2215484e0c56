"""The answer of clocks, as a `Result`."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from math import floor
from typing import Any

from scalesim.core.clocks import Pair, there_and_back
from scalesim.core.spans import hz, span
from scalesim.jobs.clocks.standard import STANDARD
from scalesim.plot import Axis, Panel, Plot, Series
from scalesim.result import Part, Result, Table
from scalesim.texts import capital

FIFTY, SIXTY = Fraction(50), Fraction(60)
FAR = Fraction(1, 100)
"""Rates farther apart than this judder all the time; nearer ones hitch now and then."""
_SHOWN_S = Fraction(1, 4)
_STARTS = 60


@dataclass(frozen=True)
class Link:
    """A clock and the next: who they are, how their rates were given, and the pair."""

    first: str
    second: str
    first_given: str
    second_given: str
    pair: Pair


@dataclass(frozen=True, eq=False)
class Clocked(Result):
    """What clocks do; a `Result`.

    Parameters:  links : each clock with the next, () for the table alone; ppm : how far each may be off
    """

    links: tuple[Link, ...]
    ppm: Fraction

    kind = "clocks"

    @property
    def title(self) -> str:
        """The rates."""
        if not self.links:
            return "Clocks that are not locked: the standard pairs"
        rates = [hz(self.links[0].pair.source), *(hz(link.pair.output) for link in self.links)]
        return f"Clocks that are not locked: {' to '.join(rates)}"

    def sentences(self) -> list[str]:
        """Return what each link does."""
        said = [sentence for link in self.links for sentence in _link_said(link, self.ppm)]
        if len(self.links) == 2:
            said.append(_series_said(self.links[0].pair, self.links[1].pair))
        return said or ["These are the pairs that meet on a bench; give two rates for your own."]

    def table(self) -> Table:
        """Return the links, or the standard pairs."""
        if not self.links:
            return _table("Standard pairs", STANDARD)
        rows = [(f"{a.first} {a.first_given}", f"{a.second} {a.second_given}", a.pair) for a in self.links]
        return _table("Clocks", tuple(rows))

    def figures(self) -> tuple[Plot, ...]:
        """Return where moving things stand, for the links or for 50 Hz in 60 Hz."""
        far = [link.pair for link in self.links if _far(link.pair)]
        return (_judder_plot(far[0] if far else Pair(FIFTY, SIXTY)),)

    def parts(self) -> Iterator[Part]:
        """Yield what the page shows."""
        if self.links:
            yield Part("These clocks", items=(self.table(),))
        yield Part("Standard pairs", _HOW, (_table("Standard pairs", STANDARD),))
        yield Part("50 Hz in a 60 Hz box, and back", _fifty_said(), (_fifty_table(), *self.figures()))

    def to_dict(self) -> dict[str, Any]:
        """Return the document's keys."""
        there, back = Pair(FIFTY, SIXTY), Pair(SIXTY, FIFTY)
        lost = _starts_that_lose(there, back)
        return {
            "pairs": [
                {"from": each.first, "to": each.second, **_pair_dict(each.pair, self.ppm)}
                for each in self.links
            ],
            "standard": [{"from": a, "to": b, **_pair_dict(pair, Fraction(0))} for a, b, pair in STANDARD],
            "fifty_in_sixty": {
                "repeats_per_s": float(there.repeats_per_s),
                "judder_rms_ms": there.judder_rms_ms,
                "judder_peak_ms": there.judder_peak_ms,
                "starts_that_lose": float(lost),
            },
        }


_HOW = (
    "Drift is by how much the output falls behind the source each second; below 0 it gains. In the time of "
    "a wrap "
    "that is one source picture: a frame buffer then repeats one or drops one, and the tear of a single "
    "buffer has "
    "passed once through the picture (downward above 0, in picture heights a second). The rates are exact; "
    "real "
    "crystals are 20 to 100 parts in a million off, so clocks of one nominal rate drift by up to 200 µs/s.",
)


def _far(pair: Pair) -> bool:
    return abs(pair.ratio - 1) > FAR


def _link_said(link: Link, ppm: Fraction) -> list[str]:
    pair = link.pair
    names = f"{capital(link.first)} at {hz(pair.source)} into {link.second} at {hz(pair.output)}"
    if pair.wrap_s is None:
        if not ppm:
            return [f"{names}: equal rates; as far as both clocks keep to them, nothing drifts."]
        least = float(1_000_000 / (2 * ppm * pair.source))
        return [
            f"{names}: equal rates, but clocks {float(ppm):g} ppm off drift by up to {float(2 * ppm):g} "
            "µs/s and wrap in "
            f"{span(least)} or more."
        ]
    what = "repeats" if pair.output > pair.source else "drops"
    way = "down" if pair.output > pair.source else "up"
    every = span(float(pair.wrap_s))
    said = [
        f"{names}: they drift by {abs(float(pair.drift_us_per_s)):.6g} µs/s, which is one source picture "
        "every "
        f"{every}. So often a frame buffer {what} a picture; the tear of a single buffer rolls {way} "
        "through the "
        "picture in that time."
    ]
    off = ppm * (pair.source + pair.output) / 1_000_000
    if off > pair.hitches_per_s / 100:
        fastest = span(float(1 / (pair.hitches_per_s + off)))
        slowest = span(float(1 / (pair.hitches_per_s - off))) if pair.hitches_per_s > off else "for ever"
        said.append(f"With each clock up to {float(ppm):g} ppm off, that time may be {fastest} to {slowest}.")
    if _far(pair):
        said.append(
            f"That is {float(pair.hitches_per_s):.4g} hitches a second: motion judders by "
            f"{pair.judder_rms_ms:.1f} ms (root "
            f"mean square, {pair.judder_peak_ms:.1f} ms from end to end)."
        )
    return said


def _starts_that_lose(first: Pair, second: Pair) -> Fraction:
    """Return the share of starts from which two frame buffers in series lose pictures they need not lose."""
    need = max(first.source - second.output, Fraction(0)) / first.source
    lose = 0
    for k in range(_STARTS):
        asked, lost, _ = there_and_back(first, second, Fraction(2 * k + 1, 2 * _STARTS))
        lose += Fraction(lost, max(asked, 1)) > need
    return Fraction(lose, _STARTS)


def _series_said(first: Pair, second: Pair) -> str:
    asked, lost, repeated = there_and_back(first, second, Fraction(1, 2))
    if not lost and not repeated:
        return "Through both frame buffers every source picture is shown once."
    many = "none are" if not lost else f"{lost} {'is' if lost == 1 else 'are'}"
    return (
        f"Through both frame buffers, of {asked} source pictures {many} lost and {repeated} shown again (the "
        "second box half a picture ahead)."
    )


def _table(title: str, pairs: tuple[tuple[str, str, Pair], ...]) -> Table:
    columns = (
        "source",
        "output",
        "drift µs/s",
        "wraps in s",
        "repeats a second",
        "drops a second",
        "tear, heights a second",
    )
    rows = tuple(
        (
            first,
            second,
            f"{float(pair.drift_us_per_s):.3f}",
            "–" if pair.wrap_s is None else f"{float(pair.wrap_s):.4f}",
            f"{float(pair.repeats_per_s):.5g}",
            f"{float(pair.drops_per_s):.5g}",
            f"{float(pair.tear_heights_per_s):.4g}",
        )
        for first, second, pair in pairs
    )
    return Table(title, columns, rows, ("left", "left", *["right"] * 5), head=0)


def _fifty_said() -> tuple[str, ...]:
    there, back = Pair(FIFTY, SIXTY), Pair(SIXTY, FIFTY)
    share = _starts_that_lose(there, back)
    kept = "whatever the start, all source pictures come back"
    if share:
        kept = (
            f"from {100 * float(share):.0f} % of the starts one picture in five is lost and another shown "
            "twice; "
            "from the others all come back"
        )
    return (
        "A box that takes 50 Hz and puts out 60 must make six pictures of five. What it can do, and what "
        "that costs:",
        f"Back to 50 Hz in a second box, one picture in six is dropped: {kept}. It is the first box's "
        "repeats that "
        "should be dropped, and nothing tells the second one which they are.",
    )


def _fifty_table() -> Table:
    there = Pair(FIFTY, SIXTY)
    rows = (
        (
            "repeat",
            "every fifth picture is shown twice, 10 a second",
            f"{there.judder_rms_ms:.1f} ms rms, {there.judder_peak_ms:.1f} ms from end to end",
        ),
        (
            "tear",
            f"a tear in five pictures of six, {float(there.tear_heights_per_s):g} heights a second",
            "none, but seams of what moves sideways",
        ),
        ("blend", "five pictures of six are mixed of two", "none, but what moves is seen double"),
        ("put out 50 Hz", "nothing, if the display takes 50 Hz", "none"),
        ("play at 60", "the source must have a 60 Hz mode", "none"),
    )
    return Table("Ways through", ("what the box does", "which means", "judder"), rows, head=0)


def _judder_plot(pair: Pair) -> Plot:
    """Return how late each shown picture is against steady motion, for frame buffer and ideal."""
    count = max(floor(_SHOWN_S * pair.output), 12)
    lag = [float(1000 / pair.source * (k * pair.ratio - floor(k * pair.ratio))) for k in range(count)]
    times = [float(1000 * k / pair.output) for k in range(count)]
    series = Series(tuple(times), tuple(lag), style="stems", role=0)
    return Plot(
        "judder",
        "Judder of a frame buffer",
        f"How old the source picture is that each output picture shows, {hz(pair.source)} into "
        f"{hz(pair.output)}. Steady "
        "motion would need one height throughout; the saw is the judder.",
        (Panel(Axis("time, ms", 0), Axis("age of the picture, ms", 0, grid=True), (series,)),),
        size=(900, 330),
    )


def _pair_dict(pair: Pair, ppm: Fraction) -> dict[str, Any]:
    wrap = pair.wrap_s
    return {
        "rate_in_hz": float(pair.source),
        "rate_in": str(pair.source),
        "rate_out_hz": float(pair.output),
        "rate_out": str(pair.output),
        "drift_us_per_s": float(pair.drift_us_per_s),
        "drift_within_us_per_s": float(2 * ppm),
        "wrap_s": None if wrap is None else float(wrap),
        "repeats_per_s": float(pair.repeats_per_s),
        "drops_per_s": float(pair.drops_per_s),
        "tear_heights_per_s": float(pair.tear_heights_per_s),
        "judder_rms_ms": pair.judder_rms_ms,
        "judder_peak_ms": pair.judder_peak_ms,
        **({"why": {"wrap_s": "equal rates: nothing drifts"}} if wrap is None else {}),
    }
