"""The linked pictures of one frame of a comparison: what the viewer shows, and whom it opens with."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

import numpy as np
from numpy.typing import NDArray

from scalesim.core.codes import to_codes
from scalesim.core.raster import Raster, visible_slices
from scalesim.draw import diverging
from scalesim.jobs.compare.crops import Crop
from scalesim.jobs.compare.difference import LIMIT, difference, scale, steps_of
from scalesim.jobs.compare.evidence import FLICKER, Found, cases_of, found_in, layer_id, lit
from scalesim.jobs.compare.look import Face, face_for, place_on
from scalesim.jobs.compare.made_of import looks_of, made_of
from scalesim.jobs.predict.outcome import Outcome
from scalesim.jobs.predict.views import Contestant, packed
from scalesim.jobs.predict.words import signal_sentence
from scalesim.metrics import Judged as Cases
from scalesim.result import Box, Layer, Picture, Viewer

SOURCE = "source"
"""Id of the source's layer."""

FLICKER_LIMIT = 50.0
"""Percent of white at the end of the scale of flicker maps: a bright thin line reaches it."""

_FOLDER = "pictures"
_CLOSER = (
    "All panes show the same place. Flip shows one picture after another in place; Slice shows a column of "
    "the source, the scan lines made of it, and with which weights; a difference map shows how the light "
    "after a chain differs from that of an ideal scaling to the same lines and samples."
)


def viewer_of(
    number: int,
    name: str,
    source: NDArray,
    contestants: Sequence[Contestant],
    tube: str,
    crop: Crop,
    pair: Sequence[str],
) -> Viewer:
    """Return the linked pictures of a frame.

    Parameters:
        number, name : of the frame, from 0
        source : its codes
        crop : what it begins at
        pair : labels of the two that matter, which it opens with; the first two where one is not there
    """
    face = face_for([each.placed.raster for each in contestants], tube)
    chains, maps, found = [], [], []
    for each in contestants:
        chains.append(_landed_layer(number, each, face))
        own, cases = _maps(number, each, face)
        maps += own
        found.append(cases)
    whole = Box(0, 0, face.width, face.height)
    caption = "Before any box, drawn over the whole face of the tube."
    stem = f"{_FOLDER}/{number + 1:02d}-{SOURCE}"
    first = Layer(SOURCE, stem, source, "The source", caption, whole)
    return Viewer(
        name,
        "Look closer",
        (_CLOSER,),
        (first, *chains, *maps),
        opening_of(chains, pair),
        middle_of(contestants[0].placed, face, crop),
        scale(),
        source=SOURCE,
        contestants=tuple(layer.id for layer in chains),
        judged=lit(found),
    )


def middle_of(outcome: Outcome, face: Face, crop: Crop) -> tuple[float, float]:
    """Return where the middle of a part lies on the face, in its units."""
    top, left, height, width = crop
    raster, geometry = outcome.raster, outcome.geometry
    line = geometry.landed_blocks(raster).inverse()(top + height / 2)
    sample = geometry.samples.inverse()(left + width / 2)
    return sample * face.width / raster.samples, line * face.height / raster.landed_lines


def opening_of(chains: Sequence[Layer], pair: Sequence[str]) -> tuple[str, str]:
    """Return the ids of the two that the viewer opens with; one alone is seen beside the source."""
    if len(chains) == 1:
        return SOURCE, chains[0].id
    there = {layer.label: layer.id for layer in chains}
    ids = [there[label] for label in pair if label in there]
    if len(ids) < 2:
        ids = list(dict.fromkeys((*ids, *(layer.id for layer in chains))))
    return ids[0], ids[1]


def _place(each: Contestant, face: Face) -> Box:
    raster = each.placed.raster
    return place_on(face, (raster.landed_lines, raster.samples), raster)


def _landed_layer(number: int, each: Contestant, face: Face) -> Layer:
    outcome, own = each.placed, layer_id(number, each.number)
    fields = []
    for phase in range(2 if each.pictures == 2 else 0):
        name = f"{_FOLDER}/{own}-field-{phase}"
        shown = Picture(name, partial(_field, each, phase), _field_name(outcome, phase))
        fields.append((shown, _field_place(face, outcome.raster, phase)))
    signal = signal_sentence(outcome.source.mode, outcome.mode_out, outcome.raster)
    caption = signal + (" At rest: both fields as they land." if fields else "")
    taps, why = made_of(outcome)
    return Layer(
        own,
        f"{_FOLDER}/{own}-landed",
        lambda: each.view.values,
        each.label,
        caption,
        _place(each, face),
        tuple(fields),
        looks=looks_of(outcome),
        taps=taps,
        no_taps=why,
    )


def _field_name(outcome: Outcome, phase: int) -> str:
    """Return "top field" or "bottom field"; pictures that merely take turns are counted."""
    if outcome.raster.period != 2:
        return f"picture {phase + 1} of 2"
    return "top field" if outcome.raster.fields[phase].parity == 0 else "bottom field"


def _field(each: Contestant, phase: int) -> NDArray:
    """Return the codes that are seen of one picture of the cycle."""
    outcome = each.outcome
    codes = to_codes(outcome.cycle[phase])
    lines, samples = visible_slices(outcome.raster, *codes.shape[:2])
    return codes[lines, samples]


def _field_place(face: Face, raster: Raster, phase: int) -> Box:
    """Return where the display draws the lines of a picture of the cycle, each a field-line pitch tall."""
    landing = float(raster.fields[phase % raster.period].landing)
    # a field line is centred where it lands but a pitch tall, so it may begin higher than what it fills there
    lines = landing - (1 - float(raster.slot)) / 2
    return place_on(face, (raster.lines, raster.samples), raster, lower=lines * face.height / raster.lines)


def _maps(number: int, each: Contestant, face: Face) -> tuple[list[Layer], dict[str, Found]]:
    """Return the maps of a contestant, and what is lit up in it: its picture is let go after."""
    outcome = each.outcome
    maps = [_difference_layer(number, each, outcome, _place(each, face))]
    evidence = outcome.evidence()
    cases = cases_of(evidence, each.judged)
    evidence.cache.clear()
    if FLICKER in cases:
        maps.append(_flicker_layer(number, each, face, cases[FLICKER]))
    return maps, found_in(layer_id(number, each.number), cases)


def _difference_layer(number: int, each: Contestant, outcome: Outcome, place: Box) -> Layer:
    own = f"{layer_id(number, each.number)}-difference"
    percent = difference(outcome)
    typical, most = np.abs(percent).mean(), np.abs(percent).max()
    caption = (
        f"Difference from ideal scaling: mean {typical:.1f} %, largest {most:.0f} % of white; "
        f"scale ± {LIMIT:.0f} %. Blue is darker, orange lighter, white equal."
    )
    return Layer(
        own,
        f"{_FOLDER}/{own}",
        packed(steps_of(percent)),
        f"Difference: {each.label}",
        caption,
        place,
        light=False,
        palette=diverging.colours(),
        percent=LIMIT,
        looks=looks_of(each.placed),
        of=layer_id(number, each.number),
    )


def _flicker_layer(number: int, each: Contestant, face: Face, cases: Cases) -> Layer:
    """Return the map of light that changes between the fields, on the rows and samples it was judged on."""
    assert cases.map is not None
    rows, samples = cases.map.shape
    own, raster, geometry = layer_id(number, each.number), each.placed.raster, each.placed.geometry
    top, bottom = (geometry.landed(raster).inverse()(line) for line in cases.map_lines)
    left, right = (geometry.samples.inverse()(sample) for sample in cases.map_samples)
    tall, wide = face.height / raster.landed_lines, face.width / raster.samples
    caption = (
        f"Change of light between the two fields: mean {cases.map.mean():.1f} %, largest "
        f"{cases.map.max():.0f} % of white; scale to {FLICKER_LIMIT:.0f} %. White is steady."
    )
    return Layer(
        f"{own}-flicker",
        f"{_FOLDER}/{own}-flicker",
        packed(diverging.steps_of(cases.map, FLICKER_LIMIT)),
        f"Flicker: {each.label}",
        caption,
        Box(left * wide, top * tall, (right - left) * wide, (bottom - top) * tall),
        light=False,
        palette=diverging.colours(),
        percent=FLICKER_LIMIT,
        looks=(
            ((cases.map_lines[1] - cases.map_lines[0]) / rows, cases.map_lines[0]),
            ((cases.map_samples[1] - cases.map_samples[0]) / samples, cases.map_samples[0]),
        ),
        of=own,
    )
