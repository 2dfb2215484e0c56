"""Where the pictures of a chain look on its source, and what of the source is left, stage by stage."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import lcm

from scalesim.core.affine import IDENTITY, Affine, mean_affine
from scalesim.core.raster import Raster

Looks = tuple[tuple[Affine, ...], Affine]
"""Maps of a stage: one per field phase on the lines, one on the samples."""


@dataclass(frozen=True)
class Geometry:
    """Where the pictures of a chain look on its source, and what of the source is left.

    Parameters:
        lines : per phase, the map from the picture's coordinate u to the source frame's y
        samples : the map along a line
        blocks : per phase, like `lines`, what the lines stand for: the same scale, but no phase within
            a step; the first of 240 lines stands for the first three of 720 whichever it shows
        kept_lines, kept_samples : the interval of the source, in its lines and samples, that no
            stage so far has pushed out of its raster
    """

    lines: tuple[Affine, ...]
    samples: Affine
    blocks: tuple[Affine, ...]
    kept_lines: tuple[float, float]
    kept_samples: tuple[float, float]

    @classmethod
    def of_source(cls, source: Raster) -> Geometry:
        """Return the geometry before the first stage."""
        lines = tuple(source.frame_of_picture(phase) for phase in range(source.period))
        return cls(
            lines=lines,
            samples=IDENTITY,
            blocks=lines,
            kept_lines=(0.0, float(source.frame_lines)),
            kept_samples=(0.0, float(source.samples)),
        )

    def of_phases(self, phases: tuple[int, ...]) -> Geometry:
        """Return the geometry when only some phases' pictures go on."""
        lines, blocks = (tuple(maps[k % len(maps)] for k in phases) for maps in (self.lines, self.blocks))
        return replace(self, lines=lines, blocks=blocks)

    def after_stage(self, looks: Looks, stands_for: Looks, raster: Raster) -> Geometry:
        """Return the geometry after a stage.

        Parameters:
            looks : (per phase on lines, on samples) where the stage's output looks on its input
            stands_for : likewise, what each output line stands for; it decides what is kept
            raster : the raster the stage leaves
        """
        blocks = _composed(stands_for[0], self.blocks)
        across = stands_for[1].after(self.samples)
        return Geometry(
            _composed(looks[0], self.lines),
            looks[1].after(self.samples),
            blocks,
            _kept(self.kept_lines, [_span(m, raster, k) for k, m in enumerate(blocks)]),
            _kept(self.kept_samples, [(across(0.0), across(float(raster.samples)))]),
        )

    def landed(self, raster: Raster) -> Affine:
        """Return the map from landed lines to where they look on the source, the mean over the phases."""
        return _landed(self.lines, raster)

    def landed_blocks(self, raster: Raster) -> Affine:
        """Return the map from landed lines to what they stand for, the mean over the phases."""
        return _landed(self.blocks, raster)


def _composed(stage: tuple[Affine, ...], before: tuple[Affine, ...]) -> tuple[Affine, ...]:
    period = lcm(len(stage), len(before))
    return tuple(stage[k % len(stage)].after(before[k % len(before)]) for k in range(period))


def _landed(maps: tuple[Affine, ...], raster: Raster) -> Affine:
    return mean_affine(
        raster.picture_of_landed(k % raster.period).after(maps[k % len(maps)])
        for k in range(lcm(raster.period, len(maps)))
    )


def _span(lines_map: Affine, raster: Raster, phase: int) -> tuple[float, float]:
    """Return the source interval one phase's picture shows.

    A field covers half a frame line more at its top or bottom than its own lines' middles suggest,
    so the interval is taken on the frame it belongs to.
    """
    if raster.period == 1:
        return lines_map(0.0), lines_map(float(raster.lines))
    shift = (raster.fields[phase % raster.period].parity - 0.5) / 2
    return lines_map(-shift), lines_map(raster.lines - shift)


def _kept(before: tuple[float, float], spans: list[tuple[float, float]]) -> tuple[float, float]:
    low = max(before[0], min(min(span) for span in spans))
    high = min(before[1], max(max(span) for span in spans))
    return low, max(low, high)
