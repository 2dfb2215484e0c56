"""The outlines that a metric judged, as cases: where each is, and the lines that show what became of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scalesim.metrics.judged import Judged, Profile
from scalesim.metrics.outlines.shares import Outlines
from scalesim.metrics.outlines.strips import Array


@dataclass(frozen=True, eq=False)
class Verdict:
    """What was found of outlines; a value alone needs no places.

    Parameters:
        which : (outlines,) True for those that were judged, of which the weights are not all 0
        severity : (outlines,) how badly, 0..1
        needed : (outlines,) landed lines that each needs
    """

    outlines: Outlines
    which: Array
    severity: Array
    needed: Array

    @property
    def n(self) -> int:
        """How many were judged."""
        return int(np.count_nonzero(self.which))

    @property
    def value(self) -> float:
        """Their mean severity by weight, as `judged_outlines` has it."""
        weight = self.outlines.weight[self.which]
        return float((self.severity[self.which] * weight).sum() / weight.sum())


def judged_outlines(verdict: Verdict) -> Judged:
    """Return the outlines that were judged, each with its place."""
    outlines, severity, needed = verdict.outlines, verdict.severity, verdict.needed
    judged = np.flatnonzero(verdict.which)
    top, bottom = outlines.found.ends
    span = np.stack((outlines.line, outlines.line + outlines.shares.shape[1]), axis=1)
    contrast = outlines.found.level

    def profile(k: int) -> Profile:
        at = int(judged[k])
        held = _inner(outlines.found.profile[at])
        seen = _inner(outlines.shares[at])
        return Profile(
            int(outlines.found.first[at]) + held.start,
            tuple(float(share) for share in outlines.found.profile[at][held]),
            int(outlines.line[at]) + seen.start,
            tuple(float(share) for share in outlines.shares[at][seen]),
            float(contrast[at]),
            int(needed[at]),
        )

    return Judged(
        "outlines",
        np.stack((top, bottom), axis=1)[judged].astype(np.float64),
        outlines.samples[judged],
        span[judged].astype(np.float64),
        severity[judged].astype(np.float64),
        outlines.weight[judged].astype(np.float64),
        profile=profile,
    )


def _inner(shares: Array) -> slice:
    """Return the entries from the first to the last that is not 0, the whole when all are."""
    some = np.flatnonzero(np.abs(shares) > 1e-6)
    return slice(int(some[0]), int(some[-1]) + 1) if len(some) else slice(0, len(shares))
