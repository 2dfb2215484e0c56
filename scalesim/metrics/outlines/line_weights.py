"""What the weights of a chain's lines explain of the landed picture, strip by strip, and what is left.

With V known, V s is what a linear chain makes of the source's strips s. Without it, V is taken as
the box, triangle, two-tap or drop of the geometry (interlaced: also filtered 1/2/1), whichever fits
the picture best: it then only serves to take away what lies near an outline, so a fair guess will do.

The landed picture is brought to the source's levels first (gain and offset, by regression). When
the chain mixes light, V s is taken in light: the better fit of the two decides.
Definition of this project.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

import numpy as np

from scalesim.core.affine import Affine
from scalesim.core.build import average_lines, filter_lines, resample_lines, select_lines
from scalesim.core.encoding import code_to_light, light_to_code
from scalesim.core.operator import matrix_from_taps
from scalesim.core.same import Same
from scalesim.errors import NotMeasurable
from scalesim.metrics._base import Evidence
from scalesim.metrics.outlines.floor import moves_from
from scalesim.metrics.outlines.strips import Array, landed_strips, strip_width

_FITS = 1 / 255
"""A root mean square residual below this is rounding: no need to try mixing in light."""

_ROUNDING = 1e-6
"""A landed picture that is nowhere further from V s is V s: float32 leaves 2e-7 to 4e-7 (n = 33 frames and
chains), a chain that does more a tenth of white."""

_AROUND = 16
"""Landed lines either side of the middle that are looked at."""

_AS_WELL, _AS_EXACT = 1.02, 0.1 / 255
"""A kernel that leaves no more than this times, or above, the least residual explains the picture as well.
Art whose dots are all cut alike looks the same after an average and after a triangle."""

KNOWN = "weights of the chain's lines"
"""Name of the `KnownWeights` in an evidence's cache; who measures many frames puts them there once."""

LIKELIEST = "likeliest kernel"
"""Name there of which of `_likely` fits an unknown chain's picture: the number of the first that does."""

LIKELY = ("an average", "a triangle", "two taps", "a drop", "an average and 1/2/1", "a triangle and 1/2/1")
"""Their names, in that order."""

EXPLAINED = "explained picture"
"""Name of the `Explained` there, of who made the picture from the weights and so needs no fit."""


@dataclass(frozen=True, eq=False)
class KnownWeights:
    """V as a sparse matrix, (landed lines, source lines) float32, and as an array.

    Parameters:  sparse : without what is negligible; whole : with it, an array or again a sparse matrix
    """

    sparse: Any
    whole: Any

    @property
    def dense(self) -> Array:
        """V as an array, not to be written to; of the last sparse one kept, as a study has many chains."""
        return self.whole if isinstance(self.whole, np.ndarray) else _dense(Same(self.whole))

    @cached_property
    def columns(self) -> tuple[Array, Array, Array]:
        """V by source lines: where each begins in the other two, landed lines, and weights."""
        from scipy.sparse import csc_array

        whole = csc_array(self.whole)
        whole.sort_indices()
        return whole.indptr.astype(np.int32), whole.indices.astype(np.int32), whole.data

    @cached_property
    def shown_on(self) -> tuple[Array, Array]:
        """(source lines + 1,) each: the first and the last landed line that shows any of a source line.

        Beyond every line, and before, where none does, as below the last.
        """
        landed, lines = self.sparse.shape
        columns = self.sparse.tocsc()
        columns.sort_indices()
        some = np.flatnonzero(np.diff(columns.indptr))
        first, last = np.full(lines + 1, landed), np.full(lines + 1, -1)
        first[some] = columns.indices[columns.indptr[some]]
        last[some] = columns.indices[columns.indptr[some + 1] - 1]
        return first, last

    @classmethod
    def of(cls, coverage: Any) -> KnownWeights:
        """Return both forms of a chain's float64 weights, an array or a sparse matrix: of the latter once."""
        return cls._made(coverage) if isinstance(coverage, np.ndarray) else _known(Same(coverage))

    @classmethod
    def _made(cls, coverage: Any) -> KnownWeights:
        from scipy.sparse import coo_array

        taps = coo_array(coverage)
        sparse = matrix_from_taps(coverage.shape, taps.row, taps.col, taps.data)
        return cls(sparse.astype(np.float32), coverage.astype(np.float32))


@lru_cache(maxsize=1)
def _dense(sparse: Same) -> Array:
    dense: Array = sparse.held.toarray()
    return dense


@lru_cache(maxsize=64)
def _known(coverage: Same) -> KnownWeights:
    return KnownWeights._made(coverage.held)


@dataclass(frozen=True, eq=False)
class Explained:
    """A landed picture as weights and a remainder.

    Parameters:
        weights : V, (landed lines, source lines) float32
        beyond : y - V s in the source's levels, (landed lines, visible strips); None for nothing at all
    """

    weights: Array
    beyond: Array | None


def explain(evidence: Evidence, source: Array, strips: range) -> Explained:
    """Return V and what the landed picture shows beyond it.

    Parameters:  source : (source lines, strips) of the whole picture; strips : the visible ones
    """
    if EXPLAINED in evidence.cache:
        explained: Explained = evidence.cache[EXPLAINED]
        return explained
    known = known_of(evidence)
    if known is not None and mixed_alone(evidence, strips):
        return Explained(known.dense, None)
    landed = landed_of(evidence, strips)
    seen = np.ascontiguousarray(source[:, strips.start : strips.stop])
    steps = evidence.once(f"steps {strips}", lambda: np.abs(np.diff(seen, axis=0)))
    trust = _trust(evidence, steps)
    if known is None:
        fits = [(_residual(landed, weights @ seen, trust), weights) for weights in _likely(evidence)]
        sizes = [_size(residual, trust) for residual, _ in fits]
        limit = max(_AS_WELL * min(sizes), min(sizes) + _AS_EXACT)
        number = next(k for k, size in enumerate(sizes) if size <= limit)
        evidence.cache[LIKELIEST] = number
        beyond, weights = fits[number]
        return Explained(weights.toarray(), beyond)
    beyond = _residual(landed, known.sparse @ seen, trust)
    if _size(beyond, trust) > _FITS:
        in_light = _residual(landed, light_to_code(known.sparse @ code_to_light(seen)), trust)
        beyond = min(beyond, in_light, key=lambda residual: _size(residual, trust))
    return Explained(known.dense, beyond)


def known_of(evidence: Evidence) -> KnownWeights | None:
    """Return a chain's weights in both forms, found once; None where they are not known."""
    if KNOWN not in evidence.cache and evidence.weights is not None:
        evidence.cache[KNOWN] = KnownWeights.of(evidence.weights)
    found: KnownWeights | None = evidence.cache.get(KNOWN)
    return found


def mixed_alone(evidence: Evidence, strips: range) -> bool:
    """Return whether there is `nothing_beyond`, and the picture is not explained already."""
    if EXPLAINED in evidence.cache:
        return False
    seen = np.ascontiguousarray(evidence.source_strips[:, strips.start : strips.stop])
    return nothing_beyond(evidence, strips, seen, landed_of(evidence, strips))


def nothing_beyond(evidence: Evidence, strips: range, seen: Array, landed: Array) -> bool:
    """Return whether the landed picture is V s and nothing besides, as of a chain that only mixes lines.

    Parameters:  strips : which; seen : they in the source; landed : and in the landed picture
    """
    known = known_of(evidence)
    if known is None:
        return False
    name = f"nothing beyond {strips}"
    if name not in evidence.cache:
        evidence.cache[name] = evidence.lands_as_mixed(known.sparse) or _is_rounding(
            known.sparse @ seen - landed
        )
    found: bool = evidence.cache[name]
    return found


def _is_rounding(beyond: Array) -> bool:
    return bool(np.abs(beyond, out=beyond).max(initial=0) < _ROUNDING)


def likely_shifted(evidence: Evidence) -> tuple[Array, ...]:
    """Return the likeliest V of an unknown chain with its sampling moved onto the eighths of a source line.

    Only a picture that was explained has one. Each is (some landed lines about the middle, source lines).
    """
    number, middle = evidence.cache[LIKELIEST], len(evidence.landed) // 2
    rows = slice(max(0, middle - _AROUND), middle + _AROUND)
    moves = moves_from(evidence.lines.offset)
    return tuple(_likely(evidence, move)[number][rows].toarray() for move in moves)


def _likely(evidence: Evidence, moved: float = 0.0) -> list[Any]:
    """Return the V the geometry suggests, as sparse float32 matrices; `moved` down by source lines."""
    raster = (evidence.source.shape[0], evidence.landed.shape[0])
    look = (evidence.lines.scale, evidence.lines.offset + moved)
    middle = look[1] + look[0] / 2  # a drop shows the line in the middle of where the output looks
    likely = [
        average_lines(*raster, *look),
        resample_lines(*raster, *look),
        resample_lines(*raster, *look, antialias=False),
        select_lines(*raster, look[0], middle),
    ]
    if evidence.raster.scan == "interlaced":  # a flicker filter is the rule there
        likely += [filter_lines(raster[1], (1, 2, 1)) @ weights for weights in likely[:2]]
    return [weights.astype(np.float32) for weights in likely]


def landed_of(evidence: Evidence, strips: range) -> Array:
    """Return the strips of the landed picture, taken once per evidence."""
    name = f"landed {strips}"
    if name not in evidence.cache:
        width = strip_width(evidence.source.shape[1])
        evidence.cache[name] = landed_strips(evidence.landed_luma, evidence.samples, width, strips)
    landed: Array = evidence.cache[name]
    return landed


def _trust(evidence: Evidence, steps: Array) -> Array:
    """Return how far each landed place tells the levels: most where the source around is flat.

    There the output shows the level whatever the kernel is. Weight 1 / (0.01^2 + variation^2), the
    total variation of the source from one landed line above to one below; 0 beyond the source.

    Parameters:  steps : (source lines - 1, strips) magnitude of the steps from each line to the next
    """
    look, line = evidence.lines, np.arange(len(evidence.landed))
    begin, end = look.scale * line + look.offset, look.scale * (line + 1) + look.offset
    inside = (begin >= -1e-6) & (end <= len(steps) + 1 + 1e-6)
    trust: Array = _around(look, len(line), len(steps)) @ steps
    trust *= trust
    trust += np.float32(0.01**2)
    np.divide(inside[:, None], trust, out=trust)
    return trust


@lru_cache(maxsize=32)
def _around(look: Affine, landed: int, steps: int) -> Any:
    """Return the sparse matrix that adds up the steps from one landed line above to one below."""
    line = np.arange(landed)
    ends = look.scale * np.stack((line - 1, line + 2)) + look.offset
    above, below = np.clip((np.floor(ends.min(axis=0)), np.ceil(ends.max(axis=0))), 0, steps).astype(np.int64)
    count = below - above
    places = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count) + np.repeat(above, count)
    taps = matrix_from_taps((landed, steps), np.repeat(line, count), places, np.ones(len(places)))
    return taps.astype(np.float32)


def _residual(landed: Array, predicted: Array, trust: Array) -> Array:
    """Return landed - predicted after gain and offset are matched by a regression weighted by trust.

    A gain outside 0.2..5 comes from pictures too plain to tell it (thin lines on one grey, all lost),
    and is taken as 1. Raises: NotMeasurable when the two are clearly opposed (correlation below -1/2)
    """
    weight = trust / max(float(trust.sum()), 1e-30)
    about_in = predicted - float((weight * predicted).sum())
    about_out = landed - float((weight * landed).sum())
    weighted = weight * about_in
    together, spread = float((weighted * about_out).sum()), float((weighted * about_in).sum())
    gain = together / spread if spread > 1e-12 else 1.0
    if together < 0 and together**2 > 0.25 * spread * float((weight * about_out**2).sum()):
        raise NotMeasurable("the output does not follow the source: it is darker where the source is lighter")
    if not 0.2 <= gain <= 5:
        gain = 1.0
    residual: Array = about_out / gain - about_in
    return residual


def _size(residual: Array, trust: Array) -> float:
    """Return the root mean square over the lines that look at the source."""
    lines = residual[trust[:, 0] > 0] if residual.size else residual
    return float(np.sqrt(np.mean(lines**2))) if lines.size else 0.0
