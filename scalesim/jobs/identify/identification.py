"""`Identification`: the answer of `identify`."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.draw.operator_picture import LINES, operator_picture
from scalesim.figure import Figure
from scalesim.jobs.identify.check import IdentifyCheck, check_identification
from scalesim.jobs.identify.compared import FOLDER, compared_part
from scalesim.jobs.identify.cover import cover_of
from scalesim.jobs.identify.figures import kernel_plot
from scalesim.jobs.identify.findings import Findings
from scalesim.jobs.identify.operator import measured_chain, operator_file
from scalesim.jobs.identify.plain import headline, made_of
from scalesim.jobs.identify.words import sentences, table
from scalesim.plot import Plot
from scalesim.result import Code, File, Part, Picture, Result, Table

OPERATOR = "operator.json"
"""Name of the file that keeps the measured weights."""


class Identification(Findings, Result):
    """What a box does, as far as its capture tells; a `Result`."""

    kind = "identify"

    @property
    def title(self) -> str:
        """What the box does, in plain words."""
        return headline(self)

    def cover(self) -> Figure:
        """Return the chart as it was captured, as this answer predicts it, and what is left."""
        return cover_of(self, self.check)

    @property
    def undecided(self) -> bool:
        """True when no chain of named stages reproduces the capture."""
        return self.method == "unknown"

    @cached_property
    def check(self) -> IdentifyCheck:
        """The chart through this answer, against the capture."""
        return check_identification(self)

    def sentences(self) -> list[str]:
        """Return the outcome, first what the box does, then what limits the answer."""
        return sentences(self)

    def table(self) -> Table:
        """Return the numbers with their units."""
        return table(self)

    def figures(self) -> tuple[Plot, ...]:
        """Return the measured kernel with the named method's weights over it."""
        return (kernel_plot(self),)

    @property
    def pictures(self) -> dict[str, NDArray]:
        """The operator's middle as squares; the capture, the same predicted, and what is left."""
        matrix, _ = operator_picture(self.rows[0])
        return {"matrix": matrix / np.float32(255), **self.check.pictures}

    def picture_file(self, name: str) -> str:
        """Return the place of a picture; those that the page wipes against each other may go into it."""
        return f"{name}.png" if name == "matrix" else f"{FOLDER}{name}.png"

    def parts(self) -> Iterable[Part]:
        """Yield the kernel, the prediction against the capture, the chain, and the numbers."""
        matrix, corner = operator_picture(self.rows[0])
        squares = Picture(
            "matrix",
            matrix,
            "The operator, its middle",
            "Weights as squares",
            f"Output lines {corner[0]} to {corner[0] + LINES - 1} down, source lines from {corner[1]} "
            "across. Every square is a weight: orange adds, blue takes away, white is nothing.",
        )
        yield Part(made_of(self), items=(*self.figures(), squares))
        yield compared_part(self.check)
        yield Part("The chain that reproduces it", (self._reproduce(),), (Code(self.chain),))
        yield Part("Measured", items=(self.table(),))

    def files(self) -> dict[str, File]:
        """Return the measured weights, and a chain that reproduces the box."""
        chain = measured_chain(self, OPERATOR) if self.undecided else Chain(self.chain)
        operator = operator_file(self).to_json()
        return {"operator": File(OPERATOR, operator), "chain": File("box.toml", chain.to_toml())}

    def _reproduce(self) -> str:
        if self.undecided:
            return (
                "No name that was tried fits, so the chain uses the weights as they were measured, in "
                "operator.json."
            )
        return "The same box by its name; operator.json holds the weights line by line."

    def to_dict(self) -> dict[str, Any]:
        """Return the result's keys."""
        return {
            "method": self.method,
            "methods": list(self.methods),
            "same_lines": list(self.same_lines),
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
                "blur_error_samples": self.along.blur_error,
            },
            "gain": self.gain,
            "lift": self.lift,
            "gamma": self.gamma,
            "residual": self.residual,
            "misfit_ratio": self.misfit_ratio,
            "distance": self.distance,
            "doubt": self.doubt,
            "condition": self.condition,
            "confidence": self.confidence,
            "chain": self.chain,
            "frames_used": list(self.frames.used),
            "frames_left_out": list(self.frames.unstable),
            "notes": list(self.notes),
            "check": self.check.to_dict(),
        }
