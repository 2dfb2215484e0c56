"""The picture on the screen's lines, and the frame as a file holds it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from scalesim.core.encoding import code_to_light, light_to_code
from scalesim.core.picture import weave
from scalesim.core.raster import Raster


def woven(pictures: Sequence[NDArray], raster: Raster) -> NDArray:
    """Return the frame: a progressive picture as it is, or two fields by the parity of their content.

    Parameters:  pictures : (lines, samples, 3) each, at least `raster.period`, in the order of time
    Returns:     (frame_lines, samples, 3), same dtype, code values
    """
    if raster.period == 1:
        return pictures[0]
    return weave(list(pictures[:2]), [field.parity for field in raster.fields])


def landed(pictures: Sequence[NDArray], raster: Raster, *, shared: bool = False) -> NDArray:
    """Return the picture as its lines land on the screen, over one cycle of a still.

    - progressive: the picture; when a still gives alternating pictures, their mean in light;
    - interlaced: each field's lines where they land, between the other's;
    - else: every line over the height it fills, see `scalesim.core.raster`, and the mean in light where the
      lines of two fields overlap. So fields on one set of lines are their mean. Where the other field's line
      would lie outside the picture, half the light is left; what lies above the first scan line or below the
      last is not shown.

    Parameters:  shared : whether it may be where the pictures lie, when they lie there as they land; then it
        must not be written to
    Returns:     (landed_lines, samples, 3), same dtype, code values
    """
    if len(pictures) == 1:
        return pictures[0]
    if raster.scan == "interlaced":
        whole = pictures[0].base if shared else None
        if whole is not None and _lie_landed(pictures[:2], whole, raster):
            return whole
        out = np.zeros((raster.landed_lines, *pictures[0].shape[1:]), pictures[0].dtype)
        for phase, values in enumerate(pictures[:2]):
            for rows, lines, _ in places(raster, phase):
                out[rows] = values[lines]
        return out
    kind = pictures[0].dtype.type
    light = np.zeros((raster.landed_lines, *pictures[0].shape[1:]), pictures[0].dtype)
    for phase, values in enumerate(pictures):
        own = code_to_light(values)
        for rows, lines, share in places(raster, phase):
            light[rows] += own[lines] * kind(share * raster.period / len(pictures))
    return light_to_code(light)


def _lie_landed(fields: Sequence[NDArray], whole: NDArray, raster: Raster) -> bool:
    """Return whether the lines of fields are those of `whole` on which they land, and there are no others."""
    if whole.shape != (raster.landed_lines, *fields[0].shape[1:]) or 2 * raster.lines != len(whole):
        return False
    return all(
        is_memory(whole[rows], values[lines])
        for phase, values in enumerate(fields)
        for rows, lines, _ in places(raster, phase)
    )


def is_memory(one: NDArray, other: NDArray) -> bool:
    """Return whether two arrays are one and the same memory."""
    first, second = (each.__array_interface__ for each in (one, other))
    return one.strides == other.strides and all(first[k] == second[k] for k in ("data", "shape", "typestr"))


def places(raster: Raster, phase: int) -> Iterator[tuple[slice, slice, float]]:
    """Yield which landed lines show which lines of a field, and with which share of their light.

    As many times as a line is landed lines tall; the two slices are equally long.
    """
    step = raster.landed_rows
    for first, share in raster.slots(phase).items():
        skipped = max(0, -(first // step))
        begin = first + skipped * step
        count = min(raster.lines - skipped, max(0, -(-(raster.landed_lines - begin) // step)))
        if count > 0:
            yield slice(begin, begin + (count - 1) * step + 1, step), slice(skipped, skipped + count), share
