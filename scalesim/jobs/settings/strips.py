"""The quick way of trying settings: look only at strips.

The metrics that follow outlines and edges see nothing but strips, means along the line over 1/240 of the
width. Matrices on the lines commute with those means in code values, so the source is reduced to its
strips once, and a candidate's matrix is applied to 256 columns instead of 1280. The metric's own code
then runs on evidence whose samples are the strips, and gives the same numbers (tests: within 1e-4).

Where light is mixed (`encoding=light`, two fields on one set of lines) the mean over a strip is not the
strip of the mean: reduced to strips, `line_doubling` was up to 0.02 off. Such chains are predicted whole.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.affine import IDENTITY, Affine
from scalesim.core.clip import Clip
from scalesim.core.encoding import luma
from scalesim.core.geometry import Geometry
from scalesim.core.landed import landed
from scalesim.core.picture import split_fields
from scalesim.core.raster import Raster
from scalesim.errors import ParameterError
from scalesim.jobs.settings.compose import Composition, StripView
from scalesim.metrics import Evidence, key_of, measure
from scalesim.metrics.outlines.line_weights import EXPLAINED, KNOWN, Explained
from scalesim.metrics.outlines.strips import landed_strips, source_strips, strip_width

QUICK = ("strips", "geometry")
"""What a metric may need and be measured here: strips, or no picture at all."""

_FOUND_KEPT = 128
"""Things found out about a source (outlines per visible part) that are kept before they are let go."""

_ACROSS_KEPT = 8
"""Ways along the line whose strips are kept: the words of a dial, or the last widths tried."""


@dataclass(frozen=True, eq=False)
class StripEvidence(Evidence):
    """Evidence whose samples are strips; `view` says where they are, the same for every frame."""

    view: StripView | None = None

    @property
    def window(self) -> tuple[Any, Any]:
        """The visible landed lines, and the visible strips (not whole ones: the metrics round)."""
        assert self.view is not None
        return self.view.window

    @property
    def lines(self) -> Affine:
        """Map from landed lines to source frame lines."""
        assert self.view is not None
        return self.view.lines

    @property
    def landed_luma(self) -> NDArray:
        """The strips as they landed: they are luma already."""
        return np.asarray(self.landed)[:, :, 0]


class Strips:
    """One frame reduced to strips; what it takes does not grow with the candidates tried.

    Parameters:
        clip : a still
        reload : gives the clip again
        keep : keep the frame's luma for chains that do something along the line; else the frame is
            read again when that changes
    """

    def __init__(self, clip: Clip, reload: Callable[[], Clip], *, keep: bool = True) -> None:
        self.raster, self._reload = clip.raster, reload
        self.width = strip_width(clip.raster.samples)
        whole = luma(whole_frame(clip))
        self._luma = whole if keep else None
        strips = source_strips(whole)
        self.source = strips[:, :, None]
        self._kept = {"luma": strips, "strips along lines": strips}
        self._found: dict[str, Any] = dict(self._kept)
        self._across: dict[Any, NDArray] = {}

    def evidence(self, chain: Composition) -> Evidence:
        """Return what a metric sees of this frame after a chain."""
        view = chain.view
        reduced = self._reduced(chain)
        fields = split_fields(reduced, self.raster)
        cycle = [chain.down[k % len(chain.down)](fields[k % len(fields)]) for k in range(chain.cycle)]
        shown = landed(cycle, chain.output)
        if len(self._found) > _FOUND_KEPT:
            self._found = dict(self._kept)
        evidence = StripEvidence(
            self.source,
            view.source,
            tuple(cycle),
            shown,
            view.output,
            view.geometry,
            chain.coverage,
            "ideal",
            self._found,
            view,
            floor=chain.floor,
        )
        evidence.cache[KNOWN] = chain.known
        if reduced is self.source:  # these lines are the weights times the source, there is nothing to fit
            evidence.cache[EXPLAINED] = Explained(chain.known.dense, None)
        return evidence

    def _reduced(self, chain: Composition) -> NDArray:
        """Return (frame lines, strips, 1): the strips as they come out along the line."""
        samples, look = chain.across.samples, chain.geometry.samples
        if samples is None and look == IDENTITY:
            return self.source
        taps = None if samples is None else (samples.data.tobytes(), samples.indices.tobytes())
        known = self._across
        if (taps, look) not in known:
            whole = luma(whole_frame(self._reload())) if self._luma is None else self._luma
            shown = chain.across(whole[:, :, None])[:, :, 0]
            strips = landed_strips(shown, look, self.width, range(self.source.shape[1]))
            # a new mapping each time: other threads may be reading the old one
            kept = dict(list(known.items())[1 - _ACROSS_KEPT :])
            known = self._across = {**kept, (taps, look): strips[:, :, None]}
        return known[taps, look]


def whole_frame(clip: Clip) -> NDArray:
    """Return the frame of a still; raise ParameterError for a moving clip."""
    if clip.frame is None:
        raise ParameterError(f"{clip.name}: is a moving clip; tune takes stills (read one frame of it)")
    return clip.frame


def measure_strips(strips: Strips, chain: Composition, names: Sequence[str]) -> tuple[dict, dict]:
    """Return ({key: value or None}, {key: reason}) of one frame after one candidate.

    Parameters:  names : metrics that need no more than `QUICK`
    """
    from_strips = [name for name in names if key_of(name).needs == "strips"]
    values, why = measure(strips.evidence(chain), from_strips) if from_strips else ({}, {})
    if len(from_strips) < len(names):
        nowhere = geometry_evidence(chain.source, chain.output, chain.geometry)
        more = measure(nowhere, [name for name in names if key_of(name).needs == "geometry"])
        values, why = {**values, **more[0]}, {**why, **more[1]}
    return values, why


def geometry_evidence(source: Raster, output: Raster, geometry: Geometry) -> Evidence:
    """Return evidence without pictures, for metrics that see only where the output looks."""
    nothing = np.zeros((1, 1, 1), dtype=np.float32)
    frame = np.broadcast_to(nothing, (source.frame_lines, source.samples, 3))
    shown = np.broadcast_to(nothing, (output.landed_lines, output.samples, 3))
    return Evidence(frame, source, (), shown, output, geometry)
