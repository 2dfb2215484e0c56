"""The answer of `identify`: what a box does to lines, as far as its capture tells."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.affine import Affine
from scalesim.core.encoding import Encoding
from scalesim.core.operator import FieldOperator, Operator, matrix_from_taps
from scalesim.jobs.identify.words import sentences, table
from scalesim.result import Table
from scalesim.signal.kernel.along_line import AlongLine
from scalesim.signal.kernel.cells import Stack
from scalesim.signal.kernel.ramps import Tone


@dataclass(frozen=True, eq=False)
class Identification:
    """What a box does, as far as its capture tells; a `Result`.

    Parameters:
        method : kinds of the stages in series, joined by "+", or "unknown"
        methods : labels of all that cannot be told apart at this ratio, simplest first
        lines_in, lines_out : frame lines of the chart, lines of one captured field or picture
        phase : source lines; where the span of captured line 0 begins, as the chain's stage has it. A pair
            [low, high) for drops, for which every phase between gives the same lines
        step : source lines per line of a field
        kernel : (offset, weight, error) of the weights as measured, offsets in source lines from where
            the line looks
        encoding : "code", "light" or "undecidable"
        flicker_taps : of the filter before interlacing, such as "1/2/1", "paired", "1" (none), or ""
        field_relation : by content: "same", "half-line", "progressive", "unknown"
        residual : rms of what the answer leaves unexplained, in 8-bit codes at full swing
        confidence : 0..1, see `confidence_of`
        chain : text that reproduces the box in `predict`
    """

    method: str
    methods: tuple[str, ...]
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
    misfit_ratio: float
    condition: float
    frames: Stack
    notes: tuple[str, ...] = field(default=())

    kind = "identify"

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

    @property
    def pictures(self) -> dict[str, NDArray]:
        """None: a kernel is a table."""
        return {}

    def operator(self) -> FieldOperator:
        """Return the weights of every captured line, one operator per field: (lines_out, lines_in).

        The named method's where one fits, the measured kernel's otherwise.
        """
        encoding: Encoding = "light" if self.encoding == "light" else "code"
        return FieldOperator(tuple(Operator(_sparse(rows), None, encoding) for rows in self.rows))

    def sentences(self) -> list[str]:
        """Return the outcome in a reviewer's words."""
        return sentences(self)

    def table(self) -> Table:
        """Return the numbers with their units."""
        return table(self)

    def to_dict(self) -> dict[str, Any]:
        """Return the result's keys."""
        return {
            "method": self.method,
            "methods": list(self.methods),
            "chains": list(self.chains),
            "mode": self.mode,
            "lines_in": self.lines_in,
            "lines_out": self.lines_out,
            "phase": list(self.phase) if isinstance(self.phase, tuple) else self.phase,
            "step": self.step,
            "kernel": [{"offset": o, "weight": w, "error": e} for o, w, e in self.kernel],
            "encoding": self.encoding,
            "flicker_taps": self.flicker_taps,
            "field_relation": self.field_relation,
            "registration": {
                "lines": [{"step": p.scale, "phase": p.offset} for p in self.places],
                "samples": {"scale": self.along.scale, "shift": self.along.shift},
                "likeness": self.along.likeness,
                "blur_samples": self.along.blur,
            },
            "gain": self.gain,
            "lift": self.lift,
            "gamma": self.gamma,
            "residual": self.residual,
            "misfit_ratio": self.misfit_ratio,
            "condition": self.condition,
            "confidence": self.confidence,
            "chain": self.chain,
            "frames_used": list(self.frames.used),
            "frames_left_out": list(self.frames.unstable),
            "notes": list(self.notes),
        }


def _sparse(rows: NDArray) -> Any:
    line, column = np.nonzero(np.abs(rows) > 1e-9)
    return matrix_from_taps(rows.shape, line, column, rows[line, column])
