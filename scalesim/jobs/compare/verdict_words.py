"""A verdict in a reviewer's words, with the frames it speaks for."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from numpy.typing import NDArray

from scalesim.jobs.compare.contest import Contest, Measure
from scalesim.jobs.compare.place import Kind, Verdict
from scalesim.jobs.compare.reasons import had_on, place_reason
from scalesim.jobs.compare.tables import listed
from scalesim.metrics.key import MANY_FRAMES


def verdict_words(
    contest: Contest,
    kind: Kind,
    chosen: Sequence[int],
    unbeaten: Sequence[int],
    sure: NDArray | None,
    kinds: Mapping[str, str],
) -> tuple[str, ...]:
    """Return the verdict, what it costs, and what did not decide, as sentences."""
    if kind == "alone":
        return (f"On {contest.name}, there is one chain only: {contest.chains[0]}.",)
    if kind == "not rated":
        return (f"On {contest.name}, nothing could be ranked: {_why_none(contest)}.",)
    said = [_verdict(contest, kind, chosen, sure, kinds)]
    said += _others(contest, kind, chosen, unbeaten)
    said += _left_out(contest)
    return tuple(said)


def _verdict(
    contest: Contest, kind: Kind, chosen: Sequence[int], sure: NDArray | None, kinds: Mapping[str, str]
) -> str:
    names = [contest.chains[k] for k in chosen]
    if sure is None:
        frames = len(contest.frames)
        these = (
            f"On {'this one frame' if frames == 1 else f'these {frames} frames'}{_of_kind(contest, kinds)}"
        )
        place = f"{these}, on {contest.name},"
    else:
        place = f"On {contest.name}, over {len(contest.frames)} frames{_of_kind(contest, kinds)},"
    if kind == "first on these frames":
        return f"{place} {names[0]} comes first: {place_reason(contest, chosen[0], 1)}."
    if kind == "leader":
        assert sure is not None
        first, second = sorted(contest.scores)[:2]
        return (
            f"{place} {names[0]} leads: {place_reason(contest, chosen[0], 1)}. Its mean rank is {first:.2f}, "
            f"the next has {second:.2f}; it stays first in {100 * sure[chosen[0]]:.0f} % of resamples."
        )
    if kind == "tied":
        return f"{place} {listed(names)} are practically tied{_but(contest, chosen)}."
    one, other = chosen
    better, worse = contest.relation(one, other)
    return (
        f"{place} it is a trade-off: {names[0]} is better in {_told(better, one, other)}; {names[1]} is "
        f"better in {_told(worse, other, one)}."
    )


def _but(contest: Contest, chosen: Sequence[int]) -> str:
    """Return in what the first two of a tie differ, "" when in nothing."""
    better, worse = contest.relation(chosen[0], chosen[1])
    parts = []
    if better:
        parts.append(f"{contest.chains[chosen[0]]} is better in {_told(better, chosen[0], chosen[1])}")
    if worse:
        parts.append(f"{contest.chains[chosen[1]]} is better in {_told(worse, chosen[1], chosen[0])}")
    return f"; {' and '.join(parts)}" if parts else ""


def _others(contest: Contest, kind: Kind, chosen: Sequence[int], unbeaten: Sequence[int]) -> list[str]:
    """Return the others that none beats in everything, and what each costs against the first."""
    if kind == "tied" or (kind == "trade-off" and set(unbeaten) <= set(chosen)):
        return []
    said = []
    first = chosen[0]
    for other in unbeaten:
        if other in chosen:
            continue
        better, worse = contest.relation(other, first)
        if not better:
            continue
        cost = f", at the cost of {_told(worse, other, first)}" if worse else ""
        names = contest.chains[other], contest.chains[first]
        said.append(f"{names[0]} is better than {names[1]} in {_told(better, other, first)}{cost}.")
    return said


def _told(measures: Iterable[Measure], own: int, other: int) -> str:
    """Return measures with two contestants' medians: "flicker (2.0 against 3.1 %)"."""
    return listed(_compared(measure, own, other) for measure in measures)


def _compared(measure: Measure, own: int, other: int) -> str:
    values = [measure.median(k) or 0.0 for k in (own, other)]
    (one, unit), (two, _) = (measure.key.number(value) for value in values)
    return f"{measure.key.short} ({one} against {two}{f' {unit}' if unit else ''})"


def _left_out(contest: Contest) -> list[str]:
    said = []
    undecided = [m for m in contest.measures if not m.decides]
    if undecided:
        total = len(contest.frames)
        parts = (f"{m.key.short} (to be compared on {m.frames} of {total} frames)" for m in undecided)
        said.append(f"Not decided upon: {listed(parts)}.")
    for measure in contest.deciding:
        for own, rated in enumerate(measure.rated):
            if not rated:
                chain = contest.chains[own]
                said.append(f"{chain} is not rated on {measure.key.short} ({had_on(measure, own)}).")
    return said


def _why_none(contest: Contest) -> str:
    total = len(contest.frames)
    return listed(f"{m.key.short} (to be compared on {m.frames} of {total} frames)" for m in contest.measures)


def _of_kind(contest: Contest, kinds: Mapping[str, str]) -> str:
    own = {kinds.get(frame, "") for frame in contest.frames}
    return f" of {own.pop()}" if len(own) == 1 and "" not in own else ""


def kinds_sentence(frames: Sequence[str], kinds: Mapping[str, str]) -> str:
    """Return what kinds of frames a comparison speaks for; "" below six frames."""
    if len(frames) < MANY_FRAMES:
        return ""
    counts: dict[str, int] = {}
    for frame in frames:
        counts[kinds.get(frame, "")] = counts.get(kinds.get(frame, ""), 0) + 1
    if "" in counts:
        return (
            "Of what the frames are is not known of all: the verdict speaks for frames like these (a note's "
            "game or kind, or a folder for each, says it)."
        )
    if len(counts) == 1:
        (kind,) = counts
        return (
            f"All {len(frames)} frames are of {kind}: the verdict speaks for it alone; add frames of another."
        )
    return f"Frames by kind: {listed(f'{kind} {count}' for kind, count in counts.items())}."


def comparison_sentences(
    verdicts: Sequence[Verdict], kinds: str, warnings: Sequence[str], failed: Mapping[str, str]
) -> list[str]:
    """Return the verdict of each group, the kinds of frames they speak for, then what to keep in mind."""
    said = [sentence for verdict in verdicts for sentence in verdict.words]
    said += [kinds] if kinds and any(v.verdict not in ("alone", "not rated") for v in verdicts) else []
    if len(verdicts) > 1:
        said.append("Screens of different lines are ranked apart, unless the source is the reference.")
    said += list(warnings)
    if failed:
        said.append(f"{len(failed)} could not be done: {'; '.join(f'{k} ({v})' for k, v in failed.items())}")
    return said
