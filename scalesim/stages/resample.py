"""The stage that resamples lines and samples with a kernel."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from scalesim.core.affine import IDENTITY, Affine
from scalesim.core.build import Edge, resample_lines
from scalesim.core.encoding import Encoding
from scalesim.core.kernel import KERNELS
from scalesim.core.operator import FieldOperator, mixing
from scalesim.core.raster import Raster
from scalesim.errors import ParameterError
from scalesim.schema import param
from scalesim.stages._base import LinearStage, Maps, stage
from scalesim.stages._spans import (
    ENCODINGS,
    blocks_of,
    edge_param,
    field_phases,
    fields_param,
    lines_param,
    phase_param,
    step_param,
)


@stage("resample", example={"lines": 240, "kernel": "cubic"})
@dataclass(frozen=True, kw_only=True)
class Resample(LinearStage):
    """Weigh lines (and samples) by a kernel centred on each span's middle: a polyphase scaler.

    `phase` and `step` belong to the lines when `lines` is given, else to the samples; samples
    resampled beside lines use phase 0 and their own ratio.
    """

    lines: int | None = lines_param(None)
    samples: int | None = param(
        None, type="whole", unit="samples", at_least=1, at_most=8192, doc="samples of a line after the stage"
    )
    kernel: str = param(
        "linear",
        type="choice",
        choices=tuple(KERNELS),
        doc="linear, cubic (Keys, a = -1/2), lanczos2 or lanczos3",
    )
    phase: float = phase_param()
    step: float | None = step_param()
    antialias: bool = param(True, type="switch", doc="widen the kernel by the ratio when reducing")
    encoding: Encoding = param(
        "code", type="choice", choices=ENCODINGS, doc="what is mixed: code values or light"
    )
    edge: Edge = edge_param()
    fields: str = fields_param()

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.lines is None and self.samples is None:
            raise ParameterError(
                "resample: neither lines nor samples is given; give lines=… or samples=… or both"
            )

    def raster(self, before: Raster) -> Raster:
        """Return the raster with the new lines and samples."""
        return before.with_(lines=self.lines or before.lines, samples=self.samples or before.samples)

    def maps(self, before: Raster) -> Maps:
        """Return the spans as maps on both axes."""
        lines: tuple[Affine, ...] = (IDENTITY,)
        samples = IDENTITY
        if self.lines is not None:
            step = before.lines / self.lines if self.step is None else self.step
            lines = tuple(Affine(step, p) for p in field_phases(before, step, self.phase, self.fields))
        if self.samples is not None:
            own = self.lines is None
            step = self.step if own and self.step is not None else before.samples / self.samples
            samples = Affine(step, self.phase if own else 0.0)
        return lines, samples

    def reach(self, before: Raster) -> Maps:
        """Return what the lines stand for, their blocks, and where the samples look."""
        lines, samples = self.maps(before)
        return (lines if self.lines is None else blocks_of(before, lines, self.fields)), samples

    def operator(self, before: Raster) -> FieldOperator:
        """Return one pair of kernels per field phase."""
        line_maps, sample_map = self.maps(before)
        across = None if self.samples is None else self._matrix(before.samples, self.samples, sample_map)
        if self.lines is None:
            return FieldOperator((mixing(samples=across, encoding=self.encoding),))
        return FieldOperator(
            tuple(
                mixing(self._matrix(before.lines, self.lines, m), across, encoding=self.encoding)
                for m in line_maps
            )
        )

    def _matrix(self, size_in: int, size_out: int, spans: Affine) -> Any:
        return resample_lines(
            size_in,
            size_out,
            spans.scale,
            spans.offset,
            kernel=self.kernel,
            antialias=self.antialias,
            edge=self.edge,
        )
