"""The keys every scaling stage shares, and the spans they give each field."""

from __future__ import annotations

from dataclasses import MISSING
from math import floor
from typing import Any

from scalesim.core.affine import Affine
from scalesim.core.raster import Raster
from scalesim.schema import param

MOST_LINES = 4320
"""More lines than any picture mode has: a slip of the finger, not a scaler."""

EDGES = ("replicate", "black")
ENCODINGS = ("code", "light")
FIELDS = ("aware", "naive")


def lines_param(default: Any = MISSING) -> Any:
    """Return the key `lines` as every scaling stage has it."""
    return param(
        default,
        type="whole",
        unit="lines",
        at_least=1,
        at_most=MOST_LINES,
        doc="lines after the stage, per field when there are two",
        remedy="240 keeps one line in three of 720",
    )


def step_param() -> Any:
    return param(
        None,
        unit="input lines",
        at_least=1 / 64,
        at_most=MOST_LINES,
        doc="input lines per output line; default lines in / lines out",
    )


def phase_param() -> Any:
    return param(
        0.0,
        unit="input lines",
        at_least=-MOST_LINES,
        at_most=MOST_LINES,
        doc="moves the sampling down, in input lines",
    )


def edge_param() -> Any:
    return param("replicate", type="choice", choices=EDGES, doc="what lies outside the picture")


def fields_param() -> Any:
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


def blocks_of(before: Raster, spans: tuple[Affine, ...], fields: str) -> tuple[Affine, ...]:
    """Return what the lines stand for: blocks of `step` lines, whichever of their lines are shown.

    Only whole steps of a phase move the blocks. The first field's spans begin at its own first line, a
    quarter of a field line off where the frame's share of them begins; blocks are taken on the frame.
    """
    back = 0.0 if before.scan != "interlaced" or fields == "naive" else 0.25
    found = []
    for span, landing in zip(spans, before.landings, strict=False):
        own = 0.0 if fields == "naive" else float(landing) * (span.scale - 1)
        phase = span.scale * floor((span.offset - own) / span.scale + 1e-9)
        found.append(Affine(span.scale, phase + own - back * (span.scale - 1)))
    return tuple(found)
