"""What a ranking says: every contestant's place, and the verdict of those ranked together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any, Literal

from scalesim.jobs.compare.contest import Contest

Kind = Literal["leader", "first on these frames", "tied", "trade-off", "alone", "not rated"]


@dataclass(frozen=True)
class Place:
    """A chain's place among those it is ranked with.

    Parameters:
        raster : what they share: the lines on the screen, and the note's value when grouped by one
        rank, score : 1 is best; the mean of its ranks, the measures of equal weight. None when no measure
            that decides could be had. A capture has the rank of the prediction it agrees with
        reason : why, in words
        medians : metric key -> median over the frames that are ranked, None where it cannot be had
        frames : metric key -> on how many frames the chain has it
        of_frames : how many frames there are
        lead : share of resamples of the frames in which it alone is first, None where a measure that
            decides is ranked over fewer than six frames
        not_rated : measures that it has on too few frames to be ranked by
    """

    raster: str
    chain: str
    rank: int | None
    score: float | None
    reason: str
    medians: Mapping[str, float | None]
    frames: Mapping[str, int]
    of_frames: int
    lead: float | None = None
    not_rated: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """Return the place as plain values."""
        return asdict(self) | {"not_rated": list(self.not_rated)}


@dataclass(frozen=True)
class Standing:
    """A chain that no other beats in everything: at what it is better than another such, and at what cost.

    Parameters:
        better, costs : metric keys at which it is better, and worse, than some other of these
        better_than, worse_than : such a key -> than whom
    """

    chain: str
    better: tuple[str, ...]
    costs: tuple[str, ...]
    better_than: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    worse_than: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True)
class Claim:
    """In what a chain is better than another, of a verdict.

    Parameters:
        key : the metric; own, other : medians of both; frames : on how many, and won : on how many of them it
            is better
        here : whether moving the frames by part of a scan line could turn it
        ties : how many times what the measure resolves they are apart
    """

    chain: str
    than: str
    key: str
    own: float
    other: float
    frames: int
    won: int
    here: bool
    ties: float


@dataclass(frozen=True)
class Verdict:
    """What may be said of contestants that are ranked together.

    Parameters:
        raster : what they share
        verdict : "leader" (from six frames on), "first on these frames", "tied" practically, "trade-off"
            between `ends`, "alone", or "not rated"
        leader : who comes first, None without one
        ends : of a trade-off, the two that differ most in what they are better at
        tied : who is tied
        unbeaten : all that no other beats in everything
        decided_by : measures that decide -> on how many frames all rated contestants have them
        undecided : measures that do not -> on how many frames contestants could be ranked by them
        frames : how many frames there are
        words : the verdict as sentences
        agrees : captured box -> the predictions it agrees with in all measures that decide
        claims : what a title may say of it, the plainest first; () where nothing differs
        lead_told : whether there were frames enough to speak of others than these
    """

    raster: str
    verdict: Kind
    leader: str | None = None
    ends: tuple[Standing, ...] = ()
    tied: tuple[str, ...] = ()
    unbeaten: tuple[Standing, ...] = ()
    decided_by: Mapping[str, int] = field(default_factory=dict)
    undecided: Mapping[str, int] = field(default_factory=dict)
    frames: int = 0
    words: tuple[str, ...] = ()
    agrees: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    claims: tuple[Claim, ...] = ()
    lead_told: bool = False

    def to_dict(self) -> dict[str, Any]:
        """Return the verdict as plain values."""
        return asdict(self)


@dataclass(frozen=True)
class Ranking:
    """Places, best first, group by group, and a verdict for each group with the contest it judges."""

    places: tuple[Place, ...]
    verdicts: tuple[Verdict, ...]
    contests: tuple[Contest, ...] = ()
