"""The sentences of a comparison's page that its numbers do not write themselves."""

from __future__ import annotations

from collections.abc import Sequence

from scalesim.jobs.compare.evidence import Opens, no_opening
from scalesim.jobs.compare.rows import Row
from scalesim.jobs.compare.tables import listed
from scalesim.metrics import METRICS, key_of
from scalesim.result import Cell
from scalesim.tube.display import Display


def title_of(chains: int, frames: int, captured: bool) -> str:
    """Return the page's title, from how many contestants and frames there are."""
    plural = ("" if chains == 1 else "s", "" if frames == 1 else "s")
    if captured:
        return f"{chains} scaler chains and captured boxes compared on {frames} frame{plural[1]}"
    return f"{chains} scaler chain{plural[0]} compared on {frames} frame{plural[1]}"


def opening(
    contestants: Sequence[str], frames: Sequence[str], rows: Sequence[Row], by: Sequence[str]
) -> tuple[str, ...]:
    """Return what was compared and by what."""
    if not frames:
        return (f"Compared: {listed(contestants)}; no frame could be read.",)
    measures = listed(key_of(key).label for key in by)
    modes = listed(dict.fromkeys(row.mode_in for row in rows)) if rows else "no mode"
    return (
        f"Compared: {listed(contestants)}; on {listed(frames)} "
        f"({modes}). Ranked by {measures}, all of equal weight: the chains are ranked on every "
        "frame by each of these measures, and a chain's score is the mean of its ranks.",
    )


def figures_of(row: Row, *, shorter: bool = False, opens: Opens = no_opening) -> tuple[Cell, ...]:
    """Return the figures of a row that a caption (a still's: `shorter`) has room for."""
    found = ((key_of(name), row.metrics.get(name)) for name in METRICS)
    said = ((key, key.caption(value, 2 if shorter else 1)) for key, value in found if value is not None)
    return tuple(Cell(text, opens=opens(row, key.name)) for key, text in said if text)


_MODELLED = (
    "Modelled: the lines and samples each box keeps, mixes or drops, its rounding, where the fields "
    "land, and what the tube hides, all as the chains above say.",
    "Not modelled: the tube's beam, mask and glass, the eye, analogue bandwidth and noise unless a "
    "chain names them, sync, and lag. A chain is a model of its boxes, as good as what is known of "
    "them: check one with a test chart before you trust its place.",
    "The numbers: the height of an edge is the height of its 10 to 90 % transition, in scan lines (0.8 is "
    "the sharpest a progressive picture can be, 0.4 an interlaced one); a split outline sits on one "
    "scan line more than it needs; flicker is the change of light between successive fields where they "
    "land.",
)

_ON_TUBE = (
    "On the tube: the beam of every scan line and its growth, sharpness along the line, black level, border "
    "and mask of {displays}, as their numbers say; not the shape of a picture, convergence, glare, or what "
    "is aged or badly set. The metrics are of the lines, not of the glass."
)


def modelled(displays: Sequence[Display]) -> tuple[str, ...]:
    """Return what is modelled and what is not, with the tubes that pictures are shown on."""
    if not displays:
        return _MODELLED
    what, not_modelled, numbers = _MODELLED
    lines = not_modelled.replace("the tube's beam, mask and glass, ", "")
    tubes = _ON_TUBE.format(displays=listed(display.name for display in displays))
    return what, tubes, lines, numbers


CAUTIONS = (
    "Light. An interlaced display shows alternate lines in turn, 25 or 30 times a second, which can trigger "
    "seizures in people with photosensitive epilepsy. Nothing here alternates by itself; what a page lets "
    "you start does so once a second at most. Mind the same in a video edit: do not cut the fields against "
    "each other at field rate.",
    "Levels. A signal that is too strong can damage a display's input. The display's manual gives the "
    "limits; measure before you connect, and leave adjustments to a qualified technician.",
    "High voltage. A picture tube holds lethal voltages, also when it is off and unplugged. Service "
    "belongs to the service manual and to qualified technicians.",
)

FIDELITY_NOTE = (
    "Likeness to an ideal scaling, after a residual vertical shift is removed. It knows nothing of "
    "flicker: an unfiltered interlaced picture equals its ideal and still flickers. It decides no place "
    "above unless it was asked to."
)


def reference_sentence(reference: str) -> str:
    """Return what the fidelity figures compare with."""
    with_what = {
        "ideal": "the ideal: the source averaged to the chain's own lines over exact areas, in linear light",
        "source": "the source, both drawn on its lines through one beam",
    }
    return f"Compared with {with_what.get(reference, reference)}."
