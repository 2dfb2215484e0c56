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
from typing import Any

import numpy as np

from scalesim.core.build import average_lines, filter_lines, resample_lines, select_lines
from scalesim.core.encoding import code_to_light, light_to_code
from scalesim.core.operator import matrix_from_taps
from scalesim.errors import NotMeasurable
from scalesim.metrics._base import Evidence
from scalesim.metrics.strips import Array, landed_strips, strip_width

_FITS = 1 / 255
"""A root mean square residual below this is rounding: no need to try mixing in light."""


@dataclass(frozen=True, eq=False)
class Explained:
    """A landed picture as weights and a remainder.

    Parameters:
        weights : V, (landed lines, source lines) float32
        beyond : y - V s in the source's levels, (landed lines, visible strips)
    """

    weights: Array
    beyond: Array


def explain(evidence: Evidence, source: Array, strips: range) -> Explained:
    """Return V and what the landed picture shows beyond it.

    Parameters:  source : (source lines, strips) of the whole picture; strips : the visible ones
    """
    width = strip_width(evidence.source.shape[1])
    landed = landed_strips(evidence.landed_luma, evidence.samples, width, strips)
    seen = np.ascontiguousarray(source[:, strips.start : strips.stop])
    trust = _trust(evidence, seen)
    fits = [(_residual(landed, weights @ seen, trust), weights) for weights in _candidates(evidence)]
    beyond, weights = min(fits, key=lambda fit: _size(fit[0], trust))
    if evidence.coverage is not None and _size(beyond, trust) > _FITS:
        in_light = _residual(landed, light_to_code(weights @ code_to_light(seen)), trust)
        beyond = min(beyond, in_light, key=lambda residual: _size(residual, trust))
    return Explained(weights.toarray(), beyond)


def _candidates(evidence: Evidence) -> list[Any]:
    """Return the known V, or those the geometry suggests, as sparse float32 matrices."""
    if evidence.coverage is not None:
        lines_in, lines_out = evidence.coverage.shape[::-1]
        rows, columns = np.nonzero(evidence.coverage)
        known = matrix_from_taps((lines_out, lines_in), rows, columns, evidence.coverage[rows, columns])
        return [known.astype(np.float32)]
    raster = (evidence.source.shape[0], evidence.landed.shape[0])
    look = (evidence.lines.scale, evidence.lines.offset)
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


def _trust(evidence: Evidence, seen: Array) -> Array:
    """Return how far each landed place tells the levels: most where the source around is flat.

    There the output shows the level whatever the kernel is. Weight 1 / (0.01^2 + variation^2), the
    total variation of the source from one landed line above to one below; 0 beyond the source.
    """
    look, line = evidence.lines, np.arange(len(evidence.landed))
    variation = np.zeros(seen.shape, dtype=np.float32)
    np.cumsum(np.abs(np.diff(seen, axis=0)), axis=0, out=variation[1:])
    above = np.floor(look.scale * (line - 1) + look.offset).astype(np.int64)
    below = np.ceil(look.scale * (line + 2) + look.offset).astype(np.int64)
    begin, end = look.scale * line + look.offset, look.scale * (line + 1) + look.offset
    inside = (begin >= -1e-6) & (end <= len(seen) + 1e-6)
    last = len(seen) - 1
    around = variation[np.clip(below, 0, last)] - variation[np.clip(above, 0, last)]
    trust: Array = inside[:, None] / (0.01**2 + around**2)
    return trust


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
