"""The figures of a comparison: what opens its page, and the stills of any frame."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

from scalesim.figure import MOST_VIEWS, Figure
from scalesim.jobs.compare.asked import SOURCE, StillAsked
from scalesim.jobs.compare.contest import Contest
from scalesim.jobs.compare.crops import Asked, Crop, crops_of
from scalesim.jobs.compare.evidence import Opens, no_opening
from scalesim.jobs.compare.headline import (
    agreement,
    claims_sentence,
    contestants_that_matter,
    finding,
    main_verdict,
    named,
)
from scalesim.jobs.compare.pictures import figure_of, look_of, parts_of
from scalesim.jobs.compare.place import Place, Verdict
from scalesim.jobs.compare.rows import Row
from scalesim.jobs.compare.tables import listed
from scalesim.jobs.predict.outcome import Outcome
from scalesim.jobs.predict.views import POINTED_AT
from scalesim.metrics import key_of
from scalesim.texts import echoed

_MOST_TIES = 20.0
_SEEN = 2.0
"""What can be pointed at in a picture counts twice when a frame is chosen."""


def telling_frame(
    rows: Sequence[Row], verdict: Verdict | None, labels: Sequence[str], frames: Sequence[str]
) -> str:
    """Return the frame on which the verdict's claims show most, in what can be pointed at before all else."""
    found = {(row.frame, row.chain): row.metrics for row in rows}
    having = [frame for frame in frames if all((frame, label) in found for label in labels)]
    if not having:
        return ""

    def score(frame: str) -> float:
        if verdict is not None and verdict.claims:
            pairs = [(c.key, c.chain, c.than) for c in verdict.claims if {c.chain, c.than} <= set(labels)]
            pairs = pairs or [(c.key, labels[0], labels[-1]) for c in verdict.claims]
            return sum(_ahead(found, frame, *pair) for pair in pairs)
        return sum(abs(_ahead(found, frame, key, labels[0], labels[-1])) for key in POINTED_AT)

    return max(having, key=lambda frame: (round(score(frame), 6), -having.index(frame)))


def _ahead(
    found: Mapping[tuple[str, str], Mapping[str, float | None]], frame: str, name: str, one: str, two: str
) -> float:
    """Return how many ties one is better than another in a metric of a frame, at most so many."""
    key = key_of(name)
    values = [found[frame, chain].get(name) if (frame, chain) in found else None for chain in (one, two)]
    if values[0] is None or values[1] is None:
        return 0.0
    merits = [key.merit(value) for value in values if value is not None]
    least, share = key.difference_parts()
    ties = (merits[0] - merits[1]) / max(least, share * max(map(abs, merits)), 1e-9)
    ties = ties if key.better == "higher" else -ties
    return (_SEEN if name in POINTED_AT else 1.0) * max(-_MOST_TIES, min(_MOST_TIES, ties))


def said_of(row: Row, keys: Sequence[str]) -> dict[str, str]:
    """Return some figures of a row in few words, by their metric: "lost thin detail 37 %"."""
    parts = {}
    for name in keys:
        value = row.metrics.get(name)
        if value is not None:
            key = key_of(name)
            number, unit = key.number(value)
            sign = "\u00a0%" if unit.startswith("%") else f" {unit}" if unit else ""
            parts[name] = f"{key.short} {number}{sign}"
    return parts


def keys_to_say(verdict: Verdict | None) -> tuple[str, ...]:
    """Return the metrics that views are labelled with: one claim of either side, and what is marked."""
    claims = () if verdict is None else verdict.claims
    firsts = [
        next(c.key for c in claims if c.chain == chain) for chain in dict.fromkeys(c.chain for c in claims)
    ]
    return tuple(dict.fromkeys([*firsts, *POINTED_AT]))[:2]


@dataclass(frozen=True)
class Covers:
    """What the figures of a comparison are made from: its fields of these names, see `Comparison`."""

    rows: Sequence[Row]
    verdicts: Sequence[Verdict]
    contests: Sequence[Contest]
    ranking: Sequence[Place]
    contestants: Sequence[str]
    crop: Asked | None
    tube: str
    opens: Opens = no_opening

    @property
    def main(self) -> Verdict | None:
        """The verdict that the page opens with."""
        groups = [place.raster for place in self.ranking]
        return main_verdict(self.verdicts, {group: groups.count(group) for group in groups})

    @property
    def finding(self) -> str:
        """Its words, and with which predictions captures agree; "" where nothing was found."""
        said = finding(self.main, self.ranking), agreement(self.contests, self.main)
        return "; ".join(filter(None, said))

    @property
    def pair(self) -> list[str]:
        """The contestants that matter."""
        return contestants_that_matter(self.main, self.ranking, self.contestants)

    @property
    def shown(self) -> list[str]:
        """Who is seen in a figure: those that matter, and the first capture where there is room for it."""
        pair = self.pair
        captures = [own.chains[k] for own in self.contests for k in own.captured]
        return [*pair, *(label for label in captures if label not in pair)][: max(len(pair), MOST_VIEWS - 1)]

    @property
    def telling(self) -> str:
        """The frame that shows most of the finding, of those that it is about; "" for none."""
        main = self.main
        own = [each.frames for each in self.contests if main is not None and each.name == main.raster]
        frames = own[0] if own else list(dict.fromkeys(row.frame for row in self.rows))
        found = telling_frame(self.rows, main, self.shown, frames)
        return found or telling_frame(self.rows, main, self.pair, frames)

    def parts(self, frame: str) -> Sequence[Crop]:
        """Return the parts of a frame that were asked for."""
        crops = crops_of(self.crop)
        return crops.get(frame, crops.get("", ()))

    def about(self, labels: Sequence[str]) -> Verdict | None:
        """Return the verdict that is about all of these, and claims nothing of others; None for none."""
        for verdict in self.verdicts if self.main is None else (self.main, *self.verdicts):
            about = {*named(verdict), *(each for c in verdict.claims for each in (c.chain, c.than))}
            if about and about <= set(labels):
                return verdict
        return None

    def figure(
        self, asked: StillAsked, shown: Callable[[str], Outcome], name: str, title: str = ""
    ) -> Figure:
        """Return an annotated figure of a frame.

        Parameters:
            asked : of whom, without labels of those that matter; shown : gives the picture of a label
            name : of its files; title : "" names who is seen
        """
        frame = asked.frame
        own = {row.chain: row for row in self.rows if row.frame == frame}
        labels = asked.labels or (SOURCE, *self.shown)
        wanted, source = [label for label in labels if label in own], SOURCE in labels
        verdict = self.about(wanted)
        told = {label: _on_this_frame(said_of(own[label], keys_to_say(verdict))) for label in wanted}
        said = {label: ", ".join(parts.values()) for label, parts in told.items()}
        outcomes = [(self.contestants.index(label), label, partial(shown, label)) for label in wanted]
        look = look_of(frame, outcomes, said, self.tube)
        (chosen, *_) = parts_of(look, [asked.crop] if asked.crop else self.parts(frame))
        names = ["the source"] * source + wanted
        who = listed(f"{each} ({letter})" for each, letter in zip(names, "abcd", strict=False))
        found = claims_sentence(verdict) or (f"{words}." if (words := finding(verdict, self.ranking)) else "")
        found = f"{self._matched(verdict)}{found}"
        rests = _rests_on([own[label] for label in wanted])
        caption = f"The same part of {frame}: {who}. {found}{rests} {chosen.why}"
        title = title or f"{echoed(frame)}: {listed(wanted)}"
        made = figure_of(look, chosen, name, title, " ".join(caption.split()), source=source)
        opens = {
            label: tuple((text, self.opens(own[label], key)) for key, text in parts.items())
            for label, parts in told.items()
        }
        views = tuple(replace(view, opens=opens.get(view.label, ())) for view in made.views)
        return replace(made, views=views)

    def _matched(self, verdict: Verdict | None) -> str:
        """Return that a verdict's values are not those below the pictures, "" where they are."""
        name = "" if verdict is None else verdict.raster
        own = next((each for each in self.contests if each.name == name), None)
        if own is None or not (own.captured and own.predicted):
            return ""
        return f"With the predictions matched to the path of {own.chains[own.captured[0]]}: "


def _on_this_frame(parts: Mapping[str, str]) -> dict[str, str]:
    """Return what is said below a view: figures of the frame, where the caption has medians over frames."""
    first = next(iter(parts), "")
    return {key: f"this frame: {text}" if key == first else text for key, text in parts.items()}


def _rests_on(rows: Sequence[Row]) -> str:
    """Return how many outlines were judged on the frame, " " in front."""
    counts = sorted({n for row in rows for key in POINTED_AT if (n := row.n.get(key))})
    if not counts:
        return ""
    many = f"{counts[0]}" if len(counts) == 1 else f"{counts[0]} to {counts[-1]}"
    return f" Judged on this frame: {many} outlines."
