"""A nonlinear stage that changes size, for tests: the greatest line of a span."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from scalesim.core.affine import IDENTITY, Affine
from scalesim.core.raster import Raster
from scalesim.schema import param
from scalesim.stages import PictureStage
from scalesim.stages._base import Maps
from scalesim.stages._spans import blocks_of, field_phases

SPOILT = ("", "naive", "unaware", "raster", "dtype", "list")


@dataclass(frozen=True, kw_only=True)
class Greatest(PictureStage):
    """Each output line is the greatest, value by value, of the lines its span touches.

    Spoilt on purpose: `naive` takes one phase for both fields and says so, `unaware` does it and claims to
    know its fields; `raster`, `dtype` and `list` give another size or kind of array than they should.
    """

    kind: ClassVar[str] = "greatest"
    lines: int = param(240, type="whole")
    spoil: str = param("", type="choice", choices=SPOILT)

    def raster(self, before: Raster) -> Raster:
        return before.with_(lines=self.lines + (self.spoil == "raster"))

    def maps(self, before: Raster) -> Maps:
        return tuple(self._spans(before, "naive" if self.spoil == "naive" else "aware")), IDENTITY

    def reach(self, before: Raster) -> Maps:
        fields = "naive" if self.spoil == "naive" else "aware"
        return blocks_of(before, tuple(self._spans(before, fields)), fields), IDENTITY

    def apply(self, values: NDArray, before: Raster, phase: int = 0) -> NDArray:
        spans = self._spans(before, "naive" if self.spoil in ("naive", "unaware") else "aware")
        span = spans[phase % before.period]
        begin = span(np.arange(self.lines) + 0.0)
        first = np.clip(np.floor(begin + 1e-9).astype(int), 0, before.lines - 1)
        end = np.clip(np.ceil(begin + span.scale - 1e-9).astype(int), first + 1, before.lines)
        found = np.stack([values[a:b].max(axis=0) for a, b in zip(first, end, strict=True)])
        if self.spoil == "list":
            return found.tolist()  # type: ignore[no-any-return]  # wrong on purpose
        return found.astype(np.float16) if self.spoil == "dtype" else found

    def _spans(self, before: Raster, fields: str) -> list[Affine]:
        step = before.lines / self.lines
        return [Affine(step, phase) for phase in field_phases(before, step, 0.0, fields)]
