"""Outlines on the screen: what share of each source outline every landed line carries.

A landed line's *share* w of an outline is 1 when it shows the outline's full contrast and 0 when it
shows the background. With the weights V of the chain's lines (from the evidence, or the box of the
geometry when the chain has none that are known), s the source and y the landed picture brought to
the source's levels,

    w_k = sum_i V_ki p_i  +  (y_k - sum_i V_ki s_i) / D

with p the outline's profile over the source lines and D its contrast. For a flat background this is
(y_k - background) / D whatever V is; where other detail is near, V takes it away. What the picture
does beyond V (noise, rounding, other filters) is in the second term, so it is measured, not assumed.
y is the mean over the outline's whole length, weighted by contrast squared.

When the chain mixes light, V s is taken in light: the better fit of the two decides.

*Landed lines* are scan lines; on an interlaced raster they are frame lines, half a scan line apart,
and an outline's thickness counts in those: three source lines of 720 are 1 scan line of 240, but 2
frame lines of 480. For fields on one set of lines the landed picture is their mean.

Left out: outlines that reach beyond the visible window or that a stage pushed out of the picture.
Definition of this project.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scalesim.core.affine import Affine
from scalesim.core.build import average_lines, resample_lines, select_lines
from scalesim.core.encoding import code_to_light, light_to_code
from scalesim.core.operator import matrix_from_taps
from scalesim.errors import NotMeasurable
from scalesim.metrics._base import Evidence
from scalesim.metrics.outlines_source import (
    Array,
    SourceOutlines,
    find_outlines,
    landed_strips,
    source_strips,
    strip_width,
)

THICKEST = 1.5
"""Thicker detail, in scan lines (at least 2 source lines), is not an outline."""

LEAST_LENGTH = 0.25
"""Less outline than this, in picture widths altogether, says nothing about a chain."""

_REACH_UNKNOWN, _REACH_KNOWN = 1.5, 3.0
"""Scan lines looked at beyond the outline: a triangle's reach and some, or a six-tap kernel's when V
takes the neighbours' detail away."""


@dataclass(frozen=True, eq=False)
class Outlines:
    """The outlines of one source on the screen.

    Parameters:
        weight : (outlines,) contrast times length, in code values times picture widths
        length : (outlines,) in picture widths
        thickness : (outlines,) in landed lines, by the geometry
        cover : (outlines,) the sum of the shares it ought to have: from V when known, else `thickness`
        shares : (outlines, lines) of consecutive landed lines around it; 0 beyond its reach
        nearest : (outlines, lines) True within one scan line either side of its middle
    """

    weight: Array
    length: Array
    thickness: Array
    cover: Array
    shares: Array
    nearest: Array

    @property
    def least_share(self) -> Array:
        """Share below which an outline has vanished, see `vanishing_share`."""
        return vanishing_share(self.thickness)


def vanishing_share(thickness: Array) -> Array:
    """Return min(0.15, 0.45 thickness), the share below which an outline has vanished.

    A line of thickness tau < 1 that falls evenly on two scan lines leaves tau/2 on each, with a box
    and with a triangle, the softest fair kernel. At 3:1 that is 0.167 for one source line: 0.15 lies
    below it, so that nothing a fair average keeps counts as lost. Coarser ratios leave less, and
    there nine tenths of tau/2 is the limit.
    """
    return np.minimum(0.15, 0.45 * thickness)


def outlines_of(evidence: Evidence) -> Outlines:
    """Return the outlines of the evidence, found and followed once.

    Raises: NotMeasurable when the visible source has fewer than `LEAST_LENGTH` widths of them
    """
    if "outlines" not in evidence.cache:
        evidence.cache["outlines"] = _follow(evidence)
    outlines: Outlines = evidence.cache["outlines"]
    length = float(outlines.length.sum())
    if length < LEAST_LENGTH:
        raise NotMeasurable(
            f"the source has too few thin horizontal outlines: {length:.2f} picture widths in all, "
            f"at least {LEAST_LENGTH} are needed"
        )
    return outlines


def _follow(evidence: Evidence) -> Outlines:
    look, pitch = evidence.lines, evidence.raster.landed_pitch
    source = source_strips(evidence.source_luma)
    lines, strips = _visible(evidence)
    cut_out = source[lines.start : lines.stop, strips.start : strips.stop]
    found = find_outlines(cut_out, max(2.0, THICKEST * look.scale / pitch))
    found = found.moved(lines.start, strips.start)
    thickness = found.thickness / look.scale
    middle = (found.middle - look.offset) / look.scale
    known = evidence.coverage is not None
    reach = (_REACH_KNOWN if known else _REACH_UNKNOWN) / pitch
    near = _near(middle, thickness / 2 + reach)
    looked_at = np.abs(near + 0.5 - middle[:, None]) < (thickness / 2 + reach)[:, None]
    looked_at &= (near >= 0) & (near < len(evidence.landed))
    weights = _weights(evidence)
    by_weights = _profile_shares(found, weights, near) * looked_at
    beyond = _beyond_weights(evidence, source, strips, weights)
    measured = by_weights + _residual_shares(found.moved(0, -strips.start), beyond, near) * looked_at
    length = found.pieces / source.shape[1]
    strength = np.abs(found.mean(found.contrast))
    return Outlines(
        weight=strength * length,
        length=length,
        thickness=thickness,
        cover=by_weights.sum(axis=1) if known else thickness,
        shares=measured,
        nearest=looked_at & (np.abs(near + 0.5 - middle[:, None]) <= 1.5 / pitch),
    )


def _visible(evidence: Evidence) -> tuple[range, range]:
    """Return the source lines and strips that the display shows whole."""
    window, geometry = evidence.window, evidence.geometry
    lines = _inside(evidence.lines, window[0], geometry.kept_lines, 1, evidence.source.shape[0])
    width = strip_width(evidence.source.shape[1])
    strips = _inside(
        evidence.samples, window[1], geometry.kept_samples, width, evidence.source.shape[1]
    )
    return lines, strips


def _inside(look: Affine, seen: slice, kept: tuple[float, float], unit: int, size: int) -> range:
    low = max(0.0, kept[0], look(seen.start))
    high = min(float(size), kept[1], look(seen.stop))
    first = int(np.ceil(low / unit - 1e-6))
    return range(first, max(first, int(np.floor(high / unit + 1e-6))))


def _near(middle: Array, reach: Array) -> Array:
    """Return (outlines, lines): the landed lines around each middle, as many for each outline."""
    side = int(np.ceil(reach.max(initial=0.0))) + 1
    return np.floor(middle).astype(np.int64)[:, None] + np.arange(-side, side + 1)


def _weights(evidence: Evidence) -> Array:
    """Return V, (landed lines, source lines) float32: the known weights, else the geometry's box."""
    if evidence.coverage is not None:
        return evidence.coverage.astype(np.float32)
    lines_in, lines_out = evidence.source.shape[0], evidence.landed.shape[0]
    look = evidence.lines
    box: Array = average_lines(lines_in, lines_out, look.scale, look.offset).toarray()
    return box.astype(np.float32)


def _profile_shares(found: SourceOutlines, weights: Array, near: Array) -> Array:
    """Return (outlines, lines) sum_i V_ki p_i."""
    rows = found.first[:, None] + np.arange(found.profile.shape[1])
    rows = np.clip(rows, 0, weights.shape[1] - 1)
    near = np.clip(near, 0, weights.shape[0] - 1)
    taps = weights[near[:, :, None], rows[:, None, :]]
    shares: Array = np.einsum("okr,or->ok", taps, found.profile)
    return shares


def _residual_shares(found: SourceOutlines, beyond: Array, near: Array) -> Array:
    """Return (outlines, lines) of residual over contrast, by least squares over each outline's pieces."""
    if not len(found):
        return np.zeros(near.shape)
    near = np.clip(near, 0, len(beyond) - 1)
    per_piece = np.repeat(near, found.pieces, axis=0)
    residual = beyond[per_piece, found.strip[:, None]]
    return found.mean(residual / found.contrast[:, None])


def _beyond_weights(evidence: Evidence, source: Array, strips: range, weights: Array) -> Array:
    """Return y - V s in the source's levels, (landed lines, visible strips)."""
    width = strip_width(evidence.source.shape[1])
    landed = landed_strips(evidence.landed_luma, evidence.samples, width, strips)
    seen = source[:, strips.start : strips.stop]
    trust = _trust(evidence, seen)
    residual = _residual(landed, weights @ seen, trust)
    if evidence.coverage is not None and float(np.sqrt(np.mean(residual**2))) > 1 / 255:
        in_light = _residual(landed, light_to_code(weights @ code_to_light(seen)), trust)
        if np.mean(in_light**2) < np.mean(residual**2):
            return in_light
    return residual


def _trust(evidence: Evidence, seen: Array) -> Array:
    """Return how far each landed place tells the levels: most where the source around is flat.

    There the output shows the level whatever the kernel is. Weight 1 / (0.01^2 + variation^2), the
    total variation of the source from one landed line above to one below; 0 beyond the source.
    """
    lines_in, lines_out = len(seen), len(evidence.landed)
    look = evidence.lines
    variation = np.zeros(seen.shape)
    np.cumsum(np.abs(np.diff(seen, axis=0)), axis=0, out=variation[1:])
    line = np.arange(lines_out)
    above = np.floor(look(line - 1.0)).astype(np.int64)  # type: ignore[attr-defined]
    below = np.ceil(look(line + 2.0)).astype(np.int64)  # type: ignore[attr-defined]
    inside = (look(line + 0.0) >= -1e-6) & (look(line + 1.0) <= lines_in + 1e-6)
    around = (
        variation[np.clip(below, 0, lines_in - 1)] - variation[np.clip(above, 0, lines_in - 1)]
    )
    trust: Array = inside[:, None] / (0.01**2 + around**2)
    return trust


def _residual(landed: Array, predicted: Array, trust: Array) -> Array:
    """Return landed - predicted after gain and offset are matched by a regression weighted by trust.

    A gain outside 0.2..5 comes from pictures too plain to tell it, and is taken as 1.
    """
    total = max(float(trust.sum()), 1e-30)
    mean_in = float((trust * predicted).sum()) / total
    mean_out = float((trust * landed).sum()) / total
    about = predicted - mean_in
    spread = float((trust * about**2).sum())
    gain = float((trust * about * landed).sum()) / spread if spread > 1e-12 * total else 1.0
    if not 0.2 <= gain <= 5:
        gain = 1.0
    residual: Array = (landed - mean_out) / gain - about
    return residual
