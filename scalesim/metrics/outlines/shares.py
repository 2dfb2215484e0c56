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
from scalesim.metrics.outlines.beside import Limits, shares_near
from scalesim.metrics.outlines.found import SourceOutlines
from scalesim.metrics.outlines.line_weights import known_of
from scalesim.metrics.outlines.near import Near
from scalesim.metrics.outlines.source import find_outlines
from scalesim.metrics.outlines.strips import Array, strip_width

THICKEST = 2.0
"""Thicker detail, in scan lines (at least 2 source lines), is not an outline: six lines of 720 on 240."""

THIN = 1.5
"""Up to this thick, in scan lines (at least 2 source lines), an outline may be lost; no thicker one is."""

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
        thin : (outlines,) True where it is thin enough to be lost, see `THIN`
        shares : (outlines, lines) of consecutive landed lines around it; 0 beyond its reach
        nearest : (outlines, lines) True within a scan line and a half of its middle
        line : (outlines,) the landed line of the first of the shares
        samples : (outlines, 2) begin and end along the line, in source samples
        found : the same outlines in the source; their strips count from the first visible one
    """

    weight: Array
    length: Array
    thickness: Array
    thin: Array
    shares: Array
    nearest: Array
    line: Array
    samples: Array
    found: SourceOutlines

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

    Raises: NotMeasurable when the visible source has fewer than `LEAST_LENGTH` widths of them, or no weights
        say how much of one a landed line holds
    """
    if evidence.no_weights:
        raise NotMeasurable(evidence.no_weights)
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
    source = evidence.source_strips
    lines, strips = _visible(evidence)
    cut_out = source[:, strips.start : strips.stop]
    thickest, thin = (max(2.0, scan_lines * abs(look.scale) / pitch) for scan_lines in (THICKEST, THIN))
    name = f"outlines {strips} {thickest}"
    anywhere = evidence.once(name, lambda: find_outlines(cut_out, thickest))
    found = evidence.once(f"{name} within {lines}", lambda: anywhere.within(lines))
    if not len(found):
        none = np.zeros((0, 1))
        return Outlines(*(none[:, 0],) * 4, none, none > 0, none[:, 0], np.zeros((0, 2)), found)
    thickness = found.thickness / look.scale
    middle = (found.middle - look.offset) / look.scale
    reach = thickness / 2 + (_REACH_UNKNOWN if known_of(evidence) is None else _REACH_KNOWN) / pitch
    near = Near.of(middle, reach, len(evidence.landed))
    limits = Limits(closest=1.5 / pitch, left=0.5 * vanishing_share(thickness))
    shares, nearest = shares_near(evidence, strips, found, near, limits)
    length = found.pieces / source.shape[1]
    return Outlines(
        weight=np.abs(found.level) * length,
        length=length,
        thickness=thickness,
        thin=found.thickness <= thin + 1e-6,
        shares=shares,
        nearest=nearest,
        line=near.first,
        samples=_along(found, strips.start, strip_width(evidence.source.shape[1])),
        found=found,
    )


def _along(found: SourceOutlines, first: int, width: int) -> Array:
    """Return (outlines, 2): where each begins and ends along the line, in source samples."""
    begin = found.strip[found.starts] + first
    return np.stack((begin, begin + found.pieces), axis=1) * float(width)


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
