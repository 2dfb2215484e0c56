"""The two contestants that matter: what a reader wants to see against each other first."""

from __future__ import annotations

from collections.abc import Sequence

from scalesim.jobs.compare.place import Place, Verdict


def pair_of(verdicts: Sequence[Verdict], ranking: Sequence[Place]) -> tuple[str, ...]:
    """Return the labels of the two ends of a trade-off, else of the first and last of a ranking.

    That of the first screen on which two at least are ranked; () when there is none.
    """
    for verdict in verdicts:
        if len(verdict.ends) == 2:
            return verdict.ends[0].chain, verdict.ends[1].chain
        placed = [place.chain for place in ranking if place.raster == verdict.raster and place.rank]
        if len(placed) > 1:
            return placed[0], placed[-1]
    return ()
