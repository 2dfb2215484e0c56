"""Stages that treat each code value alone: analogue level and digital rounding."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.core.raster import Raster
from scalesim.schema import param
from scalesim.stages._base import PointStage, stage


@stage("level", example={"gain": 0.9, "lift": 0.02})
@dataclass(frozen=True, kw_only=True)
class Level(PointStage):
    """Analogue gain and black level: V*gain + lift, clipped to 0..1 unless `clip=off`."""

    gain: float = param(1.0, unit="times", at_least=0, at_most=16, doc="contrast; 1 leaves it")
    lift: float = param(0.0, unit="code value, 1 = white", at_least=-2, at_most=2, doc="added to every value")
    clip: bool = param(True, type="switch", doc="cut what leaves 0..1")

    def apply(self, values: NDArray, before: Raster) -> NDArray:
        """Return V*gain + lift."""
        out = values * values.dtype.type(self.gain) + values.dtype.type(self.lift)
        return np.clip(out, 0.0, 1.0, out=out) if self.clip else out


@stage("quantise", example={"bits": 6})
@dataclass(frozen=True, kw_only=True)
class Quantise(PointStage):
    """A digital box's rounding to full-range codes: floor(V*(2^bits - 1) + 1/2), clipped to the codes."""

    bits: int = param(8, type="whole", unit="bits", at_least=1, at_most=16, doc="bits per component")

    def apply(self, values: NDArray, before: Raster) -> NDArray:
        """Return the rounded values, again as 0..1."""
        top = values.dtype.type(2**self.bits - 1)
        codes = np.multiply(values, top)
        codes += values.dtype.type(0.5)
        np.floor(codes, out=codes)
        np.clip(codes, 0.0, top, out=codes)
        codes /= top
        return codes
