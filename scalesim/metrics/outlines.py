"""Outlines on the screen: what share of each source outline every landed line carries.

A landed line's *share* w of an outline is 1 when it shows the outline's full contrast and 0 when it
shows the background. With V the weights of the chain's lines (known or likely, see `line_weights`),
s the source and y the landed picture brought to the source's levels,

    w_k = sum_i V_ki p_i  +  (y_k - sum_i V_ki s_i) / D

with p the outline's profile over the source lines and D its contrast. For a flat background this is
(y_k - background) / D whatever V is; where other detail is near, V takes it away. What the picture
does beyond V (noise, rounding, other filters) is in the second term, so it is measured, not assumed.
It is the least-squares mean over the outline's whole length.

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
from scalesim.errors import NotMeasurable
from scalesim.metrics._base import Evidence
from scalesim.metrics.line_weights import Explained, explain
from scalesim.metrics.outlines_source import (
    SourceOutlines,
    find_outlines,
)
from scalesim.metrics.strips import Array, landed_strips, source_strips, strip_width

THICKEST = 1.5
"""Thicker detail, in scan lines (at least 2 source lines), is not an outline."""

LEAST_LENGTH = 0.25
"""Less outline than this, in picture widths altogether, says nothing about a chain."""

_REACH_UNKNOWN, _REACH_KNOWN = 1.5, 3.0
"""Scan lines looked at beyond an outline: a triangle's reach and some, or a six-tap kernel's when a
known V takes the neighbours' detail away."""


@dataclass(frozen=True, eq=False)
class Outlines:
    """The outlines of one source on the screen.

    Parameters:
        weight : (outlines,) contrast times length, in code values times picture widths
        length : (outlines,) in picture widths
        thickness : (outlines,) in landed lines, by the geometry
        cover : (outlines,) the sum its shares ought to have: from V when known, else `thickness`
        shares : (outlines, lines) of consecutive landed lines around it; 0 beyond its reach
        nearest : (outlines, lines) True within a scan line and a half of its middle
    """

    weight: Array
    length: Array
    thickness: Array
    cover: Array
    shares: Array
    nearest: Array

    @property
    def least_share(self) -> Array:
        """Share below which an outline has vanished."""
        return vanishing_share(self.thickness)


def vanishing_share(thickness: Array) -> Array:
    """Return the share below which an outline has vanished: min(0.15, 0.45 thickness).

    A line of thickness tau < 1 that falls evenly on two scan lines leaves tau/2 on each, with a box
    and with a triangle, the softest fair kernel. At 3:1 that is 0.167 for one source line: 0.15 lies
    below it, so nothing a fair average keeps counts as vanished. Coarser ratios leave less, and there
    nine tenths of tau/2 is the limit.
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
    source = evidence.once("strips along lines", lambda: source_strips(evidence.source_luma))
    lines, strips = _visible(evidence)
    cut_out = source[lines.start : lines.stop, strips.start : strips.stop]
    thickest = max(2.0, THICKEST * look.scale / pitch)
    name = f"outlines {lines} {strips} {thickest}"
    found = evidence.once(name, lambda: find_outlines(cut_out, thickest))
    if not len(found):
        return Outlines(*(np.zeros(0),) * 4, np.zeros((0, 1)), np.zeros((0, 1), dtype=bool))
    explained = explain(evidence, source, strips)
    found = found.moved_down(lines.start)
    thickness = found.thickness / look.scale
    middle = (found.middle - look.offset) / look.scale
    known = evidence.coverage is not None
    reach = thickness / 2 + (_REACH_KNOWN if known else _REACH_UNKNOWN) / pitch
    near = _near(middle, reach)
    away = np.abs(near + 0.5 - middle[:, None])
    looked_at = (away < reach[:, None]) & (near >= 0) & (near < len(evidence.landed))
    by_weights, beyond = _shares(found, explained, near)
    nearby = looked_at & (away <= reach[:, None] + 1 / pitch)
    flat = _contrast_left(evidence, found, near, nearby, strips) < 0.5 * vanishing_share(thickness)
    if known:
        looked_at &= _reached(by_weights)
    length = found.pieces / source.shape[1]
    return Outlines(
        weight=np.abs(found.mean(found.contrast)) * length,
        length=length,
        thickness=thickness,
        cover=(by_weights * looked_at).sum(axis=1) if known else thickness,
        shares=(by_weights + beyond) * looked_at * ~flat[:, None],
        nearest=looked_at & (away <= 1.5 / pitch),
    )


def _contrast_left(
    evidence: Evidence, found: SourceOutlines, near: Array, nearby: Array, strips: range
) -> Array:
    """Return how far the landed lines around each outline differ among themselves, in its contrast.

    Where they are all alike the outline is gone, whatever share of it went into them: the lines of a
    grating that average to one grey, or a picture that is black.
    """
    width = strip_width(evidence.source.shape[1])
    landed = landed_strips(evidence.landed_luma, evidence.samples, width, strips)
    rows = np.repeat(np.clip(near, 0, len(landed) - 1), found.pieces, axis=0)
    values = landed[rows, found.strip[:, None]]
    counted = np.repeat(nearby, found.pieces, axis=0)
    highest = np.where(counted, values, -np.inf).max(axis=1, keepdims=True)
    lowest = np.where(counted, values, np.inf).min(axis=1, keepdims=True)
    left = np.where(np.isfinite(highest - lowest), highest - lowest, 0.0)
    mean: Array = found.mean(left / np.abs(found.contrast)[:, None])[:, 0]
    return mean


def _visible(evidence: Evidence) -> tuple[range, range]:
    """Return the source lines and strips that the display shows whole."""
    (lines, samples), geometry = evidence.window, evidence.geometry
    height, width = evidence.source.shape[:2]
    strip = strip_width(width)
    whole = width // strip * strip
    return (
        _inside(evidence.lines, lines, geometry.kept_lines, 1, height),
        _inside(evidence.samples, samples, geometry.kept_samples, strip, whole),
    )


def _inside(look: Affine, seen: slice, kept: tuple[float, float], unit: int, size: int) -> range:
    """Return the whole units of the source inside both the visible window and what was kept."""
    low = max(0.0, kept[0], look(seen.start))
    high = min(float(size), kept[1], look(seen.stop))
    first = int(np.ceil(low / unit - 1e-6))
    return range(first, max(first, int(np.floor(high / unit + 1e-6))))


def _near(middle: Array, reach: Array) -> Array:
    """Return (outlines, lines): consecutive landed lines around each middle, as many for each."""
    side = int(np.ceil(reach.max())) + 1
    near: Array = np.floor(middle).astype(np.int64)[:, None] + np.arange(-side, side + 1)
    return near


def _reached(by_weights: Array) -> Array:
    """Return True where a known V puts some of the outline, or next to there; everywhere if V drops it.

    Further away there is only rounding and noise to be read.
    """
    touched = np.abs(by_weights) > 0.001
    beside = np.pad(touched, ((0, 0), (1, 1)))
    reached: Array = touched | beside[:, 2:] | beside[:, :-2]
    return reached | ~touched.any(axis=1, keepdims=True)


def _shares(found: SourceOutlines, explained: Explained, near: Array) -> tuple[Array, Array]:
    """Return the two terms of the shares, (outlines, lines) each: by the weights, and beyond them."""
    landed_lines, source_lines = explained.weights.shape
    near = np.clip(near, 0, landed_lines - 1)
    rows = found.first[:, None] + np.arange(found.profile.shape[1])
    taps = explained.weights[near[:, :, None], np.clip(rows, 0, source_lines - 1)[:, None, :]]
    residual = explained.beyond[np.repeat(near, found.pieces, axis=0), found.strip[:, None]]
    by_weights: Array = np.einsum("okr,or->ok", taps, found.profile)
    return by_weights, found.mean(residual / found.contrast[:, None])
