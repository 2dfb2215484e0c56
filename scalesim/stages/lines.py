"""Stages that drop, average, repeat and filter lines."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scalesim.core.affine import IDENTITY, Affine
from scalesim.core.build import (
    Edge,
    average_lines,
    average_pairs,
    filter_lines,
    repeat_lines,
    select_lines,
    span_starts,
)
from scalesim.core.encoding import Encoding
from scalesim.core.operator import FieldOperator, Operator, mixing, still
from scalesim.core.raster import Raster
from scalesim.errors import ParameterError
from scalesim.schema import param
from scalesim.stages._base import LinearStage, Maps, stage
from scalesim.stages._spans import (
    ENCODINGS,
    MOST_LINES,
    blocks_of,
    edge_param,
    field_phases,
    fields_param,
    lines_param,
    phase_param,
    step_param,
)


@dataclass(frozen=True, kw_only=True)
class _Reduction(LinearStage):
    """What line-drop and line-average share: lines, phase, step, edge, fields."""

    lines: int = lines_param()
    phase: float = phase_param()
    step: float | None = step_param()
    edge: Edge = edge_param()
    fields: str = fields_param()

    def raster(self, before: Raster) -> Raster:
        """Return the raster with `lines` lines."""
        return before.with_(lines=self.lines)

    def maps(self, before: Raster) -> Maps:
        """Return the spans as maps: output line r looks at r*step + phase."""
        return self.spans(before), IDENTITY

    def reach(self, before: Raster) -> Maps:
        """Return what the lines stand for: a shown line stands for its block of `step` lines."""
        return blocks_of(before, self.spans(before), self.fields), IDENTITY

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

    def raster(self, before: Raster) -> Raster:
        """Return the raster with `lines` lines; more than there are is refused."""
        if self.lines > before.lines:
            raise ParameterError(
                f"{self.kind}: lines is {self.lines}; it must be at most the {before.lines} lines that "
                "come in (line-repeat, line-average and resample add lines)"
            )
        return before.with_(lines=self.lines)

    def maps(self, before: Raster) -> Maps:
        """Return where the kept lines are: on average over the picture, their middles."""
        return tuple(self._kept(span) for span in self.spans(before)), IDENTITY

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
    """Average the span of each output line, every source line weighted by its share (area mean).

    More lines than come in are allowed: a span shorter than a line lies on one line or on two.
    """

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
        """Return the raster with `times` as many lines; more than any mode has are refused."""
        if before.lines * self.times > MOST_LINES:
            raise ParameterError(
                f"line-repeat: times is {self.times} of {before.lines} lines; they must become at most "
                f"{MOST_LINES} (repeat them fewer times)"
            )
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
