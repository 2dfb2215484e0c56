"""The page's title as a finding, made from the verdict and saying no more than it does."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from scalesim.jobs.compare.contest import Contest
from scalesim.jobs.compare.medians import AT_THIS_POSITION, frames_word, number_of
from scalesim.jobs.compare.place import Claim, Place, Verdict
from scalesim.jobs.compare.tables import listed
from scalesim.metrics import key_of

_WEIGHT = {"leader": 0, "first on these frames": 1, "trade-off": 2, "tied": 3, "alone": 5, "not rated": 6}
_MOST_NAMES = 3
_KINDS = re.compile(r", (predicted|captured|matched to [^,]*(, captured)?)(?=,|$)")


def main_verdict(verdicts: Sequence[Verdict], sizes: Mapping[str, int]) -> Verdict | None:
    """Return the verdict that a page opens with: of the most contestants, then frames; None for none.

    One of predictions as they are comes before one of predictions matched to a capture: the figures of the
    first are those that stand below the pictures.

    Parameters:  sizes : group -> how many contestants it has
    """
    if not verdicts:
        return None

    def rank(v: Verdict) -> tuple[bool, bool, int, int, int]:
        size = sizes.get(v.raster, 0)
        return _WEIGHT[v.verdict] > 3, 0 < len(v.agrees) < size, -size, -v.frames, _WEIGHT[v.verdict]

    return min(verdicts, key=rank)


def agreement(contests: Sequence[Contest], main: Verdict | None) -> str:
    """Return with which predictions captures agree, wherever they were matched; "" without any.

    Of captures that a tie is about nothing is said again.
    """
    found: dict[str, list[tuple[str, ...]]] = {}
    for own in contests:
        for capture in own.captured if own.predicted else ():
            agreeing = tuple(own.chains[k] for k in own.agreeing(capture))
            found.setdefault(own.chains[capture], []).append(agreeing)
    told = set() if main is None else set(main.tied)
    alike: dict[tuple[str, ...], list[str]] = {}
    for label, each in found.items():
        always = tuple(name for name in each[0] if all(name in names for names in each))
        if always and not told >= {label, *always}:
            alike.setdefault(always, []).append(label)
    return "; ".join(
        f"{listed(labels)} agree{'s' if len(labels) == 1 else ''} with {listed(names)}"
        for names, labels in alike.items()
    )


def finding(verdict: Verdict | None, ranking: Sequence[Place] = ()) -> str:
    """Return what a verdict found in a few words, "" where it found nothing that compares.

    The screen is named where the words could be taken for more: of a first place when there are others, of
    two chains when they are ranked on others, too. Frames too few for a lead are "these".
    """
    if verdict is None or verdict.verdict in ("alone", "not rated"):
        return ""
    where = _where(verdict, ranking)
    if verdict.verdict == "tied":
        names = verdict.tied
        said = f"{len(names)} chains" if len(names) > _MOST_NAMES else listed(names)
        return f"{said} tie for first{where}"
    if verdict.verdict == "trade-off":
        one, other = (_wins(_first(verdict.claims, each.chain)) for each in verdict.ends)
        between = "; " if any("," in each.chain for each in verdict.ends) else ", "
        return f"{one}{between}{other}{where}"
    leads = "leads" if verdict.verdict == "leader" else "comes first"
    claim = _first(verdict.claims, verdict.leader or "")
    why = f": {key_of(claim.key).best}{_here(claim)}" if claim else ""
    return f"{verdict.leader} {leads}{where}{why}"


def _where(verdict: Verdict, ranking: Sequence[Place]) -> str:
    screens = [_screen(place.raster) for place in ranking if place.chain in named(verdict)]
    others = len({_screen(place.raster) for place in ranking}) > 1
    several = others if verdict.leader is not None else len(set(screens)) > 1
    screen = f" on {verdict.raster}" if several else ""
    said = [found for chain in named(verdict) if (found := _first(verdict.claims, chain))]
    most = verdict.verdict == "trade-off" and any(claim.won < claim.frames for claim in said)
    if verdict.lead_told:
        return f"{screen}, on most frames" if most else screen
    these = f"most of {_these(verdict.frames)}" if most else _these(verdict.frames)
    return f"{screen}{',' if several else ''} on {these}"


def _screen(group: str) -> str:
    """Return who is ranked together without whether they are predicted, captured or matched."""
    return _KINDS.sub("", group)


def named(verdict: Verdict) -> set[str]:
    """Return the contestants that a verdict's words name."""
    first = {verdict.leader} if verdict.leader is not None else set()
    return {*verdict.tied, *(each.chain for each in verdict.ends), *first}


def contestants_that_matter(
    verdict: Verdict | None, ranking: Sequence[Place], labels: Sequence[str]
) -> list[str]:
    """Return the two that a figure compares: winner and loser, the ends of a trade-off, the first of a tie.

    One where there is one only.
    """
    if verdict is None or verdict.verdict in ("alone", "not rated"):
        return list(labels[:2])
    if verdict.verdict == "trade-off":
        return [each.chain for each in verdict.ends]
    if verdict.verdict == "tied":
        return list(verdict.tied[:2])
    own = [place.chain for place in ranking if place.raster == verdict.raster and place.rank is not None]
    others = [chain for chain in own if chain != verdict.leader]
    return [str(verdict.leader), *others[-1:]]


def claims_sentence(verdict: Verdict | None) -> str:
    """Return the claims with their medians and n, "" without any."""
    if verdict is None or not verdict.claims:
        return ""
    shown = [
        found
        for chain in dict.fromkeys(c.chain for c in verdict.claims)
        if (found := _first(verdict.claims, chain))
    ]
    parts = [f"{_wins(claim)} than {claim.than} ({_numbers(claim)})" for claim in shown]
    counts = {claim.frames for claim in shown}
    rests = f"; medians of {frames_word(counts.pop())}" if len(counts) == 1 else ""
    return f"{'; '.join(parts)}{rests if verdict.frames > 1 else ''}."


def _numbers(claim: Claim) -> str:
    key = key_of(claim.key)
    one, two = (number_of(key, value) for value in (claim.own, claim.other))
    unit = key.number(claim.own)[1]
    on = f", on {claim.won} of {claim.frames} frames" if claim.won < claim.frames else ""
    return f"{one} against {two}{f' {unit}' if unit else ''}{on}"


def _first(claims: Sequence[Claim], chain: str) -> Claim | None:
    return next((claim for claim in claims if claim.chain == chain), None)


def _wins(claim: Claim | None) -> str:
    assert claim is not None
    return f"{claim.chain} {key_of(claim.key).wins}{_here(claim)}"


def _here(claim: Claim) -> str:
    return f" {AT_THIS_POSITION}" if claim.here else ""


def _these(frames: int) -> str:
    return "this frame" if frames == 1 else f"these {frames} frames"
