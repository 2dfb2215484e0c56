"""The figures of a comparison: what opens its page, and the stills of any frame."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from scalesim.figure import Figure
from scalesim.jobs.compare.asked import SOURCE
from scalesim.jobs.compare.crops import Crop
from scalesim.jobs.compare.headline import claims_sentence
from scalesim.jobs.compare.pictures import figure_of, look_of, parts_of
from scalesim.jobs.compare.place import Verdict
from scalesim.jobs.compare.rows import Row
from scalesim.jobs.compare.tables import listed
from scalesim.jobs.compare.views import POINTED_AT
from scalesim.jobs.predict.outcome import Outcome
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


def said_of(row: Row | None, keys: Sequence[str]) -> str:
    """Return some figures of a row in few words: "lost thin detail 37 %, flicker 1.2 % of white"."""
    if row is None:
        return ""
    parts = []
    for name in keys:
        value = row.metrics.get(name)
        if value is not None:
            key = key_of(name)
            number, unit = key.number(value)
            sign = "\u00a0%" if unit.startswith("%") else f" {unit}" if unit else ""
            parts.append(f"{key.short} {number}{sign}")
    return ", ".join(parts)


def keys_to_say(verdict: Verdict | None) -> tuple[str, ...]:
    """Return the metrics that views are labelled with: one claim of either side, and what is marked."""
    claims = () if verdict is None else verdict.claims
    firsts = [
        next(c.key for c in claims if c.chain == chain) for chain in dict.fromkeys(c.chain for c in claims)
    ]
    return tuple(dict.fromkeys([*firsts, *POINTED_AT]))[:2]


def cover_of(
    frame: str,
    labels: Sequence[str],
    shown: Callable[[str], Outcome],
    rows: Sequence[Row],
    verdict: Verdict | None,
    *,
    found: str,
    title: str,
    crop: Crop | None,
    tube: str,
    name: str,
    order: Sequence[str],
) -> Figure:
    """Return an annotated figure of a frame.

    Parameters:
        frame : its name
        labels : who is shown, at most four; `SOURCE` for the source. shown : gives the picture of a label
        verdict, found : what was found, and its words
        crop : the part; None finds it
        order : labels of all contestants
    """
    own = {row.chain: row for row in rows if row.frame == frame}
    keys = keys_to_say(verdict)
    said = {label: said_of(own.get(label), keys) for label in labels}
    wanted, source = [label for label in labels if label != SOURCE], SOURCE in labels
    look = look_of(frame, [(order.index(label), label, shown(label)) for label in wanted], said, tube)
    (chosen, *_) = parts_of(look, [crop] if crop else [])
    letters = "abcd"[: len(wanted) + source]
    names = (["the source"] if source else []) + [str(label) for label in wanted]
    who = listed(f"{each} ({letter})" for each, letter in zip(names, letters, strict=True))
    conclusion = claims_sentence(verdict) or (f"{found}." if found else "")
    on = _rests_on([own[label] for label in wanted if label in own])
    caption = f"The same part of {frame}: {who}. {conclusion}{on} {chosen.why}"
    return figure_of(look, chosen, name, title, " ".join(caption.split()), source=source)


def _rests_on(rows: Sequence[Row]) -> str:
    """Return how many outlines were judged on the frame, " " in front."""
    counts = sorted({n for row in rows for key in POINTED_AT if (n := row.n.get(key))})
    if not counts:
        return ""
    many = f"{counts[0]}" if len(counts) == 1 else f"{counts[0]} to {counts[-1]}"
    return f" Judged on this frame: {many} outlines."


def still_title(frame: str, labels: Sequence[str]) -> str:
    """Return the title of a still that was asked for."""
    return f"{echoed(frame)}: {listed(labels)}"
