"""What the values of a frame rest on, for its viewer: the cases a measure judged, the worst first."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from scalesim.jobs.compare.rows import Row
from scalesim.metrics import METRICS, Evidence, judged, key_of
from scalesim.metrics import Judged as Cases
from scalesim.result import Judged, Pointed

FLICKER = "flicker_percent"
MOST = 60
"""Outlines and lines that are lit up."""
MOST_PLACES = 12
"""Places that are lit up: they are large, and overlap."""

_LEAST = 0.005
"""Severity below which nothing is at fault: it would read 0 %."""

Opens = Callable[[Row, str], str]
"""Takes a row and a measure's key, and gives what a `Cell` opens, "" for nothing."""


@dataclass(frozen=True)
class Openings:
    """Where every value of a comparison opens its evidence: an `Opens`.

    Parameters:  frames, contestants : their names and labels, in the order of their numbers
    """

    frames: Sequence[str]
    contestants: Sequence[str]

    def __call__(self, row: Row, key: str) -> str:
        """Return "part of the frame, measure, layer", "" where there is nothing to point at."""
        shown, value = _told_by(key), row.metrics.get(key)
        if not shown or value is None or (value == 0 and key_of(key).better == "lower"):
            return ""
        frame, own = self.frames.index(row.frame), self.contestants.index(row.chain)
        return f"{part_anchor(frame)} {shown} {layer_id(frame, own)}"


def no_opening(row: Row, key: str) -> str:
    """Return "": these values open nothing."""
    return ""


def _told_by(key: str) -> str:
    """Return the measure whose cases a value rests on, itself or one of its function; "" for none."""
    names = (key, *(each.name for each in METRICS[key].keys))
    return next((name for name in names if key_of(name).case), "")


def part_anchor(frame: int) -> str:
    """Return the anchor of a frame's part, counted from 0."""
    return f"frame-{frame + 1}"


def layer_id(frame: int, contestant: int) -> str:
    """Return the id of a contestant's layer in a frame's viewer, both counted from 0."""
    return f"{frame + 1:02d}-{contestant + 1:02d}"


@dataclass(frozen=True)
class Found:
    """What a measure judged in one picture: what its cases are called, and those that are lit up."""

    what: str
    pointed: Pointed


def cases_of(evidence: Evidence, known: Mapping[str, Cases]) -> dict[str, Cases]:
    """Return what each measure judged in one picture, by its key, where there is something to point at.

    Parameters:  known : what was judged of it already
    """
    keys = [key for key in METRICS if key_of(key).case]
    found = ((key, known[key] if key in known else judged(evidence, key)) for key in keys)
    return {key: cases for key, cases in found if cases is not None and cases.n}


def found_in(layer: str, cases: Mapping[str, Cases]) -> dict[str, Found]:
    """Return the little that is lit up of a layer, by its id, of what `cases_of` gave for it."""
    return {key: Found(each.what, _pointed(layer, key, each)) for key, each in cases.items()}


def lit(layers: Sequence[Mapping[str, Found]]) -> tuple[Judged, ...]:
    """Return what is lit up, measure by measure, of all layers."""
    return tuple(
        Judged(
            key,
            key_of(key).label,
            next(found[key].what for found in layers if key in found),
            key_of(key).case,
            tuple(found[key].pointed for found in layers if key in found),
        )
        for key in METRICS
        if any(key in found for found in layers)
    )


def _pointed(layer: str, key: str, cases: Cases) -> Pointed:
    most = MOST_PLACES if cases.what == "places" else MOST
    worst = cases.worst(most, least=_LEAST)
    faulty = int(np.count_nonzero((cases.harm > 0) & (cases.severity > _LEAST)))
    told = tuple((*map(_short, (*case.lines, *case.samples)), round(100 * case.severity)) for case in worst)
    shows = f"{layer}-flicker" if key == FLICKER and cases.map is not None else ""
    return Pointed(layer, cases.n, faulty, told, shows)  # type: ignore[arg-type]  # five numbers each


def _short(value: float) -> float:
    """Return a place with as few digits as it needs."""
    return int(value) if float(value).is_integer() else round(float(value), 2)
