"""A verdict in a reviewer's words, with the frames it speaks for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from numpy.typing import NDArray

from scalesim.jobs.compare.contest import Contest
from scalesim.jobs.compare.lead import RESAMPLES
from scalesim.jobs.compare.medians import compared, frames_word, labels, names_of
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
        return (f"On {contest.name}, there is only one chain: {contest.chains[0]}.",)
    if kind == "not rated":
        return (f"On {contest.name}, nothing could be ranked: {_why_none(contest)}.",)
    said = [_capture(contest, each) for each in contest.captured if contest.predicted]
    said.append(_verdict(contest, kind, chosen, sure, kinds))
    said += _others(contest, kind, chosen, unbeaten)
    said += _no_lead(contest) if sure is None else []
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
            f"the next best has {second:.2f}; it alone is first in {100 * sure[chosen[0]]:.0f} % of "
            f"{RESAMPLES} random redraws of the frames{_in_nothing(contest, chosen[0])}."
        )
    if kind == "tied":
        return f"{place} {listed(names)} tie for first{_near(contest, chosen)}{_but(contest, chosen)}."
    one, other = chosen
    better, worse = contest.relation(one, other)
    beside, end = labels([*better, *worse])
    return (
        f"{place} it is a trade-off: {names[0]} is better in {compared(better, one, other, beside)}; "
        f"{names[1]} is better in {compared(worse, other, one, beside)}{end}."
    )


def _capture(contest: Contest, own: int) -> str:
    """Return with which predictions a capture agrees; with none, in what it differs from the most alike."""
    label, frames = contest.chains[own], len(contest.frames)
    agreeing = contest.agreeing(own)
    if agreeing:
        names = listed(contest.chains[k] for k in agreeing)
        few = [m for m in contest.deciding if any(m.differing(own, k) for k in agreeing)]
        but = f"; on less than half of the frames it differs in {names_of(few)}" if few else ""
        return (
            f"On {contest.name}: {label} agrees with {names} ({frames_word(frames)}) within what these "
            f"measures resolve: {names_of(contest.deciding)}{but}."
        )
    apart = {
        k: [
            m for m in contest.deciding if m.rated[own] and m.rated[k] and 2 * m.differing(own, k) >= m.frames
        ]
        for k in contest.predicted
    }
    if not any(apart.values()):
        return f"On {contest.name}: it cannot be told whether {label} agrees with a prediction."
    nearest = min(apart, key=lambda k: (len(apart[k]), abs(contest.scores[k] - contest.scores[own])))
    beside, end = labels(apart[nearest])
    return (
        f"On {contest.name}: {label} agrees with none of the predictions ({frames_word(frames)}); from "
        f"{contest.chains[nearest]}, the most alike, it differs in "
        f"{compared(apart[nearest], own, nearest, beside)}{end}."
    )


def _no_lead(contest: Contest) -> list[str]:
    """Return why no lead is told though there are frames enough for one."""
    if len(contest.frames) < MANY_FRAMES:
        return []
    few = [m for m in contest.deciding if m.frames < MANY_FRAMES]
    parts = listed(f"{m.key.short} on {m.frames} of {len(contest.frames)}" for m in few)
    return [
        f"No lead is named: that takes {MANY_FRAMES} frames with every deciding measure, and there is "
        f"{parts}."
    ]


def _in_nothing(contest: Contest, first: int) -> str:
    """Return that a leader is worse in nothing, "" where it is."""
    others = [k for k in range(len(contest.chains)) if k != first]
    beaten = any(contest.relation(first, k)[1] for k in others)
    return "" if beaten else ", and on most frames it is worse than no other in any measure"


def _near(contest: Contest, chosen: Sequence[int]) -> str:
    """Return the mean ranks of a tie that the table shows apart, "" where it does not."""
    ranks = sorted(f"{contest.scores[k]:.2f}" for k in chosen)
    if ranks[0] == ranks[-1]:
        return ""
    return f" (mean ranks of {ranks[0]} to {ranks[-1]} are too near to name a leader)"


def _but(contest: Contest, chosen: Sequence[int]) -> str:
    """Return in what the first two of a tie differ, "" when in nothing."""
    better, worse = contest.relation(chosen[0], chosen[1])
    one, other = chosen[:2]
    beside, end = labels([*better, *worse])
    parts = []
    if better:
        parts.append(f"{contest.chains[one]} is better in {compared(better, one, other, beside)}")
    if worse:
        parts.append(f"{contest.chains[other]} is better in {compared(worse, other, one, beside)}")
    return f"; {' and '.join(parts)}{end}" if parts else ""


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
        beside, end = labels([*better, *worse])
        cost = f", at the cost of {compared(worse, other, first, beside)}" if worse else ""
        names = contest.chains[other], contest.chains[first]
        won = compared(better, other, first, beside)
        said.append(f"{names[0]} is better than {names[1]} in {won}{cost}{end}.")
    return said


def _left_out(contest: Contest) -> list[str]:
    said = []
    undecided = [m for m in contest.measures if not m.decides]
    if undecided:
        total = len(contest.frames)
        parts = (f"{m.key.short} (comparable on {m.frames} of {total} frames)" for m in undecided)
        said.append(f"Left out of the ranking: {listed(parts)}.")
    for own, chain in enumerate(contest.chains):
        missed: dict[str, list[str]] = {}
        for measure in contest.deciding:
            if not measure.rated[own]:
                missed.setdefault(had_on(measure, own), []).append(measure.key.short)
        head = f"On {contest.name}: {chain} is not rated on"
        said += [f"{head} {listed(names)} ({had})." for had, names in missed.items()]
    return said


def _why_none(contest: Contest) -> str:
    total = len(contest.frames)
    return listed(f"{m.key.short} (comparable on {m.frames} of {total} frames)" for m in contest.measures)


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
            "The notes do not say what every frame shows, so the verdict speaks only for frames like "
            "these (set "
            "game or kind in a note, or give each kind a folder of its own)."
        )
    if len(counts) == 1:
        (kind,) = counts
        return (
            f"All {len(frames)} frames are of {kind}, so the verdict speaks for it alone; add frames of "
            "another."
        )
    return f"Frames by kind: {listed(f'{kind} {count}' for kind, count in counts.items())}."


def comparison_sentences(
    verdicts: Sequence[Verdict], kinds: str, warnings: Sequence[str], failed: Mapping[str, str]
) -> list[str]:
    """Return the verdict of each group, the kinds of frames they speak for, then what to keep in mind."""
    said = [sentence for verdict in verdicts for sentence in verdict.words]
    said += [kinds] if kinds and any(v.verdict not in ("alone", "not rated") for v in verdicts) else []
    if len(verdicts) > 1:
        said.append(
            "Screens with different numbers of lines are ranked apart unless the source is the reference."
        )
    said += list(warnings)
    if failed:
        said.append(f"{len(failed)} could not be done: {'; '.join(f'{k} ({v})' for k, v in failed.items())}.")
    return said
