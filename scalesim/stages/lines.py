"""Stages that drop, average, resample, repeat and filter lines."""

from __future__ import annotations

from dataclasses import dataclass
from math import floor
from typing import Any

import numpy as np

from scalesim.core.affine import IDENTITY, Affine
from scalesim.core.build import (
    Edge,
    average_lines,
    average_pairs,
    filter_lines,
    repeat_lines,
    resample_lines,
    select_lines,
    span_starts,
)
from scalesim.core.encoding import Encoding
from scalesim.core.kernel import KERNELS
from scalesim.core.operator import FieldOperator, Operator, mixing, still
from scalesim.core.raster import Raster
from scalesim.errors import ParameterError
from scalesim.stages._base import LinearStage, Maps, stage
from scalesim.stages._schema import param

MOST_LINES = 4320
"""More lines than any picture mode has: a slip of the finger, not a scaler."""

EDGES = ("replicate", "black")
ENCODINGS = ("code", "light")
FIELDS = ("aware", "naive")


def _lines_param(**more: Any) -> Any:
    """Return the key `lines` as every scaling stage has it."""
    return param(
        type="whole",
        unit="lines",
        at_least=1,
        at_most=MOST_LINES,
        doc="lines after the stage, per field when there are two",
        remedy="240 keeps one line in three of 720",
        **more,
    )


def _step_param() -> Any:
    return param(
        None,
        unit="input lines",
        above=0,
        at_most=MOST_LINES,
        doc="input lines per output line; default lines in / lines out",
    )


def _phase_param() -> Any:
    return param(
        0.0,
        unit="input lines",
        at_least=-MOST_LINES,
        at_most=MOST_LINES,
        doc="moves the sampling down, in input lines",
    )


def _edge_param() -> Any:
    return param("replicate", type="choice", choices=EDGES, doc="what lies outside the picture")


def _fields_param() -> Any:
    return param(
        "aware",
        type="choice",
        choices=FIELDS,
        doc="aware: each field is scaled for where it lands; naive: both alike",
    )


def field_phases(before: Raster, step: float, phase: float, fields: str) -> tuple[float, ...]:
    """Return the phase of each field's spans.

    A box that knows its fields adds landing_out * step - landing_in, so that a place on the screen
    shows the same place of the source in both; a naive one uses one phase for both.
    """
    if fields == "naive":
        return (phase,) * before.period
    return tuple(phase + float(landing) * step - float(landing) for landing in before.landings)


@dataclass(frozen=True, kw_only=True)
class _Reduction(LinearStage):
    """What line-drop and line-average share: lines, phase, step, edge, fields."""

    lines: int = _lines_param()
    phase: float = _phase_param()
    step: float | None = _step_param()
    edge: Edge = _edge_param()
    fields: str = _fields_param()

    def raster(self, before: Raster) -> Raster:
        """Return the raster with `lines` lines; more than there are is refused."""
        if self.lines > before.lines:
            raise ParameterError(
                f"{self.kind}: lines is {self.lines}; it must be at most the {before.lines} lines that "
                "come in (line-repeat and resample add lines)"
            )
        return before.with_(lines=self.lines)

    def maps(self, before: Raster) -> Maps:
        """Return the spans as maps: output line r looks at r*step + phase."""
        return self.spans(before), IDENTITY

    def spans(self, before: Raster) -> tuple[Affine, ...]:
        """Return step and phase of the spans, per field phase."""
        step = before.lines / self.lines if self.step is None else self.step
        return tuple(Affine(step, p) for p in field_phases(before, step, self.phase, self.fields))


@stage("line-drop", example={"lines": 240, "phase": 1})
@dataclass(frozen=True, kw_only=True)
class LineDrop(_Reduction):
    """Keep, for each output line, the source line in which its span begins; drop the rest.

    Output line r is input line floor(r*step + phase). A pure choice: exact in code values and light.
    """

    def maps(self, before: Raster) -> Maps:
        """Return where the kept lines are: on average over the picture, their middles."""
        return tuple(self._kept(span) for span in self.spans(before)), IDENTITY

    def reach(self, before: Raster) -> Maps:
        """Return the blocks: a kept line stands for the block of `step` lines it was taken from."""
        blocks = (Affine(s.scale, s.scale * floor(s.offset / s.scale + 1e-9)) for s in self.spans(before))
        return tuple(blocks), IDENTITY

    def operator(self, before: Raster) -> FieldOperator:
        """Return one choice of lines per field phase."""
        return FieldOperator(
            tuple(
                Operator(select_lines(before.lines, self.lines, s.scale, s.offset, edge=self.edge))
                for s in self.spans(before)
            )
        )

    def _kept(self, span: Affine) -> Affine:
        starts = span_starts(self.lines, span.scale, span.offset)[:-1]
        before_middle = float(np.mean(np.floor(starts) - starts)) + 0.5 - span.scale / 2
        return Affine(span.scale, span.offset + before_middle)


@stage("line-average", example={"lines": 240})
@dataclass(frozen=True, kw_only=True)
class LineAverage(_Reduction):
    """Average the span of each output line, every source line weighted by its share (area mean)."""

    encoding: Encoding = param(
        "code", type="choice", choices=ENCODINGS, doc="what is averaged: code values or light"
    )

    def operator(self, before: Raster) -> FieldOperator:
        """Return one box average per field phase."""
        return FieldOperator(
            tuple(
                mixing(
                    average_lines(before.lines, self.lines, s.scale, s.offset, edge=self.edge),
                    encoding=self.encoding,
                )
                for s in self.spans(before)
            )
        )


@stage("resample", example={"lines": 240, "kernel": "cubic"})
@dataclass(frozen=True, kw_only=True)
class Resample(LinearStage):
    """Weigh lines (and samples) by a kernel centred on each span's middle: a polyphase scaler.

    `phase` and `step` belong to the lines when `lines` is given, else to the samples; samples
    resampled beside lines use phase 0 and their own ratio.
    """

    lines: int | None = param(
        None,
        type="whole",
        unit="lines",
        at_least=1,
        at_most=MOST_LINES,
        doc="lines after the stage, per field",
        remedy="240 keeps one line in three of 720",
    )
    samples: int | None = param(
        None, type="whole", unit="samples", at_least=1, at_most=8192, doc="samples of a line after the stage"
    )
    kernel: str = param(
        "linear",
        type="choice",
        choices=tuple(KERNELS),
        doc="linear, cubic (Keys, a = -1/2), lanczos2 or lanczos3",
    )
    phase: float = _phase_param()
    step: float | None = _step_param()
    antialias: bool = param(True, type="switch", doc="widen the kernel by the ratio when reducing")
    encoding: Encoding = param(
        "code", type="choice", choices=ENCODINGS, doc="what is mixed: code values or light"
    )
    edge: Edge = _edge_param()
    fields: str = _fields_param()

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


@stage("line-repeat", example={"times": 2})
@dataclass(frozen=True, kw_only=True)
class LineRepeat(LinearStage):
    """Show every line `times` times in a row; on fields, every field line."""

    times: int = param(
        2,
        type="whole",
        unit="times",
        at_least=1,
        at_most=16,
        doc="how often each line is shown",
        remedy="2 doubles 240 lines to 480",
    )

    def raster(self, before: Raster) -> Raster:
        """Return the raster with `times` as many lines."""
        return before.with_(lines=before.lines * self.times)

    def maps(self, before: Raster) -> Maps:
        """Return the map of the repetition."""
        return (Affine(1.0 / self.times, 0.0),), IDENTITY

    def operator(self, before: Raster) -> FieldOperator:
        """Return the repetition, a pure choice."""
        return still(repeat_lines(before.lines, self.times))


@stage("flicker-filter", example={"taps": "1/2/1"})
@dataclass(frozen=True, kw_only=True)
class FlickerFilter(LinearStage):
    """Low-pass the lines before interlacing, so that no detail lives in one field only.

    `taps` are an odd, symmetric list, normalised to sum 1; `1` is off. `paired` replaces frame lines
    2k and 2k+1 by their mean, so that both fields carry one content.
    """

    taps: tuple[float, ...] | str = param(
        (1.0, 2.0, 1.0), type="taps", choices=("paired",), doc="weights, such as 1/2/1, or paired"
    )

    def raster(self, before: Raster) -> Raster:
        """Return the raster unchanged; `paired` needs an even number of lines."""
        if self.taps == "paired" and before.lines % 2:
            raise ParameterError(
                f"flicker-filter: taps=paired got {before.lines} lines; the number must be even "
                f"(scale to {before.lines - 1} or {before.lines + 1} lines first)"
            )
        return before

    def operator(self, before: Raster) -> FieldOperator:
        """Return the filter, in code values."""
        if isinstance(self.taps, str):
            return still(average_pairs(before.lines), encoding="code")
        return FieldOperator((mixing(filter_lines(before.lines, self.taps), encoding="code"),))
