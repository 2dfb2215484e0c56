"""What the capture of the chart tells about a box, as numbers; `Identification` puts it into words."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.affine import Affine
from scalesim.core.encoding import Encoding
from scalesim.core.operator import FieldOperator, Operator, matrix_from_taps
from scalesim.signal.kernel.along_line import AlongLine
from scalesim.signal.kernel.cells import Stack
from scalesim.signal.kernel.ramps import Tone


@dataclass(frozen=True, eq=False)
class Findings:
    """What a box does, as far as its capture tells.

    Parameters:
        method : kinds of the stages in series, joined by "+", or "unknown"
        methods : labels of all that the capture cannot tell apart, the answer first
        same_lines : those of them whose weights are the same as the answer's
        lines_in, lines_out : frame lines of the chart, lines of one captured field or picture
        phase : source lines; where the span of captured line 0 begins, as the chain's stage has it. A pair
            [low, high) for drops, for which every phase between gives the same lines
        step : source lines per line of a field
        kernel : (offset, weight, error) of the weights as measured, offsets in source lines from where
            the line looks
        encoding : "code", "light" or "undecidable"
        flicker_taps : of the filter before interlacing, such as "1/2/1", "paired", "1" (none), or ""
        field_relation : by content: "same", "half-line", "swapped" (half a line apart, and captured
            in the wrong order), "progressive", "unknown"
        residual : rms of what the answer leaves unexplained, in 8-bit codes at full swing
        confidence : 0..1, see `confidence_of`
        chain : text that reproduces the box in `predict`; it was run on the chart's codes and made what was
            captured in every field, within the capture's noise. `measured` where none did
        rows : per field, the top one first: weights of its lines, (lines, source lines)
        distance : mean sum of differences of weights between the answer and the kernel as measured
        doubt : the same between the answer and the one of `methods` that differs most
        misfit_ratio : misfit of the chain over that of the best kernel, of the worse field
        captured : (lines, samples) luma code values, the mean of the frames that were used, swapped fields
            put right
        page, aspect : of the chart that was played
    """

    method: str
    methods: tuple[str, ...]
    same_lines: tuple[str, ...]
    chains: tuple[str, ...]
    lines_in: int
    lines_out: int
    phase: float | tuple[float, float] | None
    step: float
    kernel: tuple[tuple[float, float, float], ...]
    encoding: str
    flicker_taps: str
    field_relation: str
    along: AlongLine
    tone: Tone
    residual: float
    confidence: float
    chain: str
    mode: str
    places: tuple[Affine, ...]
    rows: tuple[NDArray, ...]
    distance: float
    doubt: float
    misfit_ratio: float
    condition: float
    frames: Stack
    captured: NDArray
    page: str = "luma"
    aspect: str = "full"
    notes: tuple[str, ...] = field(default=())

    @property
    def gain(self) -> float:
        """Contrast of the capture path, on code values."""
        return self.tone.gain

    @property
    def lift(self) -> float:
        """Code value the capture path adds at black."""
        return self.tone.lift

    @property
    def gamma(self) -> float:
        """Exponent of the capture path on code values."""
        return self.tone.gamma

    def operator(self) -> FieldOperator:
        """Return the weights of every captured line, one operator per field: (lines_out, lines_in).

        The named method's where one fits, the measured kernel's otherwise.
        """
        encoding: Encoding = "light" if self.encoding == "light" else "code"
        return FieldOperator(tuple(Operator(_sparse(rows), None, encoding) for rows in self.rows))


def _sparse(rows: NDArray) -> Any:
    line, column = np.nonzero(np.abs(rows) > 1e-9)
    return matrix_from_taps(rows.shape, line, column, rows[line, column])
