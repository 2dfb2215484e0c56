"""Flicker: how much the light of successive fields differs where they land.

Each field is painted on a grid of frame lines (half a field-line pitch apart): a line at its
landing with weight 1 and the frame lines above and below it with 1/2; on the finer grid of uneven fields
likewise, falling evenly to the next line of the field. Steady white painted so is 1
everywhere. The flicker of a place is the absolute difference of the two paintings, in light (V^2.4,
BT.709 luminance), in percent of that white. Rows at the border that one field does not reach are left
out. A flat field gives exactly 0; an unfiltered bright line in one field of black gives 100.

Definition of this project. On fields half a line apart it equals the 1/2/1 low-pass of their
difference, the vertical filter commonly used before interlacing (common practice, no published source).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from scalesim.core.compiled import compiled
from scalesim.core.cycle import luminance_of_each
from scalesim.core.raster import Raster
from scalesim.errors import NotMeasurable
from scalesim.metrics._base import Evidence, metric
from scalesim.metrics.judged import Judged
from scalesim.metrics.key import Key, Resolution

SHARP_FLICKER = 10.0
"""Percent of white above which a place counts towards `flicker_area`."""


_ROWS = 32
"""Rows of the flicker map that are made at a time."""

PLACES = 30
"""Places told apart down the flicker map, and along it."""


def flicker_map(pictures: Sequence[NDArray], raster: Raster) -> NDArray:
    """Return |painting of picture 0 - painting of picture 1| in percent of steady white.

    Parameters:  pictures : two (lines, samples, 3) successive pictures of a cycle, code values
    Returns:     (frame-line rows both reach, samples) float32
    """
    return _map_of(luminance_of_each(pictures)[:2], raster)


def _map_of(lights: Sequence[NDArray], raster: Raster) -> NDArray:
    """Return the same of the light of two pictures, (lines, samples) each."""
    found = np.empty((_rows(raster, len(lights[0])), lights[0].shape[1]), lights[0].dtype)
    for rows, part in _parts(lights, raster):
        np.multiply(part, found.dtype.type(100.0), out=found[rows])
    return found


def _rows(raster: Raster, lines: int) -> int:
    """Return the painted rows that two fields of so many lines both reach."""
    starts, grid = _starts(raster)
    return max(0, grid * (lines - 1) + 1 - (max(starts) - min(starts)))


def _parts(lights: Sequence[NDArray], raster: Raster) -> Iterator[tuple[slice, NDArray]]:
    """Yield the flicker map of the light of two fields in parts, as shares of white, and which rows each is.

    A part stays in the processor's cache; it is not to be kept, as the next one takes its place.
    """
    starts, grid = _starts(raster)
    # painted row 0 is the line's own landing, so the common rows begin at the later start
    begin, count = max(starts), _rows(raster, len(lights[0]))
    made = np.empty((_ROWS, lights[0].shape[1]), lights[0].dtype)
    for row in range(min(grid, count)):  # rows a pitch apart lie alike between the lines of either field
        for top in range(row, count, grid * _ROWS):
            rows = slice(top, min(top + grid * _ROWS, count), grid)
            part = made[: len(range(*rows.indices(count)))]
            a, b = (
                _painted(light, begin - start + top, grid, len(part))
                for light, start in zip(lights, starts, strict=True)
            )
            np.subtract(a, b, out=part)
            yield rows, np.abs(part, out=part)


def _starts(raster: Raster) -> tuple[list[int], int]:
    """Return the painted row of each field's first line, and painted rows in a field-line pitch."""
    grid = max(2, raster.landing_parts)
    return [int(raster.fields[k % raster.period].landing * grid) for k in range(2)], grid


def _painted(light: NDArray, first: int, grid: int, count: int) -> NDArray:
    """Return so many painted rows of a field, a pitch apart, each evenly between two of its lines.

    Parameters:  first : the first of them, row 0 being the first line itself; grid : painted rows in a pitch
    """
    line, place = divmod(first, grid)
    above = light[line : line + count]
    if place == 0:
        return above
    below, share = light[line + 1 : line + 1 + count], light.dtype.type(place / grid)
    painted: NDArray
    if 2 * place == grid:
        painted = above + below
        painted *= share
    else:
        painted = above * (1 - share)
        painted += below * share
    return painted


def _said(value: float) -> str:
    if value == 0:
        return "The picture stands still: nothing alternates between fields."
    return f"Between fields the light changes by {value:.1f} % of white on average."


@metric(
    Key(
        "flicker_percent",
        "% of white",
        "lower",
        "flicker, mean",
        reading="change of light between two fields, mean over the picture",
        differs=Resolution(0.02, 0.06, 0.25, 0.12, position=0.088, position_mean=0.029),
        family="flicker",
        fine_digits=2,
        short="flicker",
        head="flicker, % of white",
        improves="steadier",
        wins="flickers less",
        best="steadiest",
        worst="flickers most",
        told=True,
        say=_said,
        captions=("flicker {} % of white",),
        zero="steady",
        judge=lambda evidence: judged_flicker(evidence),
        case="{} % of white on average there",
    )
)
def flicker_percent(evidence: Evidence) -> tuple[float]:
    """Mean of the flicker map inside the visible window; 0 if steady."""
    if len(evidence.pictures) == 1:
        return (0.0,)
    rows, columns = _seen(evidence)
    means = _means(_lights(evidence), evidence.raster, columns)
    return (100.0 * float(means[rows].mean(dtype=np.float64)),)


def _means(lights: Sequence[NDArray], raster: Raster, columns: slice) -> NDArray:
    """Return the mean of every row of the flicker map over some columns, as a share of white."""
    loops, count = compiled(), _rows(raster, len(lights[0]))
    if loops is not None and all(light.dtype == np.float32 for light in lights):
        starts, grid = _starts(raster)
        means = np.zeros(count)
        ends = columns.indices(lights[0].shape[1])[:2]
        one, other = map(np.ascontiguousarray, lights)
        loops.apart(one, other, (max(starts) - starts[0], max(starts) - starts[1]), grid, ends, means)
        return means
    means = np.zeros(count, lights[0].dtype)
    for some, part in _parts(lights, raster):
        # NumPy adds a row pairwise, which rounds little; in float64 it is slow
        np.mean(part[:, columns], axis=1, out=means[some])
    return means


@metric(
    Key(
        "flicker_p95",
        "% of white",
        "lower",
        "flicker, worst twentieth",
        reading="change of light that a twentieth of the picture exceeds",
        family="flicker",
        improves="steadier",
    )
)
def flicker_p95(evidence: Evidence) -> tuple[float]:
    """95th percentile of the flicker map inside the visible window; 0 if steady."""
    seen = _seen_map(evidence)
    return (0.0 if seen is None else float(np.percentile(seen, 95)),)


@metric(
    Key(
        "flicker_area",
        "% of area",
        "lower",
        "area that flickers by over 10 %",
        reading="part of the picture whose light changes by more than 10 % of white",
        family="flicker",
        head="flickering area, %",
        improves="steadier",
    )
)
def flicker_area(evidence: Evidence) -> tuple[float]:
    """Share of the visible window where the flicker map is above `SHARP_FLICKER`, in percent; 0 if steady."""
    seen = _seen_map(evidence)
    return (0.0 if seen is None else float(100.0 * np.count_nonzero(seen > SHARP_FLICKER) / seen.size),)


def whole_map(evidence: Evidence) -> NDArray:
    """Return the flicker map of an evidence with fields, made once."""
    if "flicker map" not in evidence.cache:
        evidence.cache["flicker map"] = _map_of(_lights(evidence), evidence.raster)
    found: NDArray = evidence.cache["flicker map"]
    return found


def _lights(evidence: Evidence) -> Sequence[NDArray]:
    """Return the light of the two fields, made once."""
    if "light of fields" not in evidence.cache:
        evidence.cache["light of fields"] = luminance_of_each(evidence.pictures)[:2]
    found: Sequence[NDArray] = evidence.cache["light of fields"]
    return found


def _seen_map(evidence: Evidence) -> NDArray | None:
    """Return what is visible of the flicker map, None where the picture stands still."""
    return None if len(evidence.pictures) == 1 else whole_map(evidence)[_seen(evidence)]


def judged_flicker(evidence: Evidence) -> Judged:
    """Return the places of the visible flicker map, a 30th of it high and wide, and the map itself.

    Severity is the mean of a place, 1 for 100 % of white; its weight is its area.

    Raises: NotMeasurable for a picture without fields: there is nothing to point at
    """
    if len(evidence.pictures) == 1:
        raise NotMeasurable("the picture stands still: nothing alternates between fields")
    rows, columns = _seen(evidence)
    seen = whole_map(evidence)[rows, columns]
    down, along = (np.linspace(0, n, min(PLACES, n) + 1).round().astype(np.int64) for n in seen.shape)
    sums = np.add.reduceat(np.add.reduceat(seen, down[:-1], axis=0, dtype=np.float64), along[:-1], axis=1)
    area = np.diff(down)[:, None] * np.diff(along)
    # painted row r is centred where the later landing begins, half a field-line pitch apart
    starts, grid = _starts(evidence.raster)
    shown = evidence.raster.landed_rows
    step = shown / grid
    first = (max(starts) / grid + float(evidence.raster.slot) / 2) * shown - step / 2

    def spread(edges: NDArray, axis: int) -> NDArray:
        pair = np.stack((edges[:-1], edges[1:]), axis=1).astype(np.float64)
        return np.broadcast_to(np.expand_dims(pair, 1 - axis), (*area.shape, 2)).reshape(-1, 2)

    landed = first + step * (spread(down, 0) + rows.start)
    samples = spread(along, 1) + columns.start
    ends = np.array([[rows.start, rows.start + len(seen)]]) * step + first
    sides = np.array([[columns.start, columns.start + seen.shape[1]]])
    return Judged(
        "places",
        np.sort(evidence.lines(landed), axis=1),
        np.sort(evidence.samples(samples), axis=1),
        landed,
        (sums / area).ravel() / 100.0,
        area.ravel().astype(np.float64),
        times=100.0,
        map=seen,
        map_lines=_pair(evidence.lines(ends)),
        map_samples=_pair(evidence.samples(sides)),
    )


def _pair(ends: NDArray) -> tuple[float, float]:
    low, high = np.sort(ends.ravel())
    return float(low), float(high)


def _seen(evidence: Evidence) -> tuple[slice, slice]:
    """Return the rows and columns of the flicker map that are visible.

    Raises: NotMeasurable when the fields have no line in common
    """
    starts, grid = _starts(evidence.raster)
    lines, columns = evidence.raster.lines, evidence.landed.shape[1]
    rows = grid * (lines - 1) + 1 - (max(starts) - min(starts))
    if rows <= 0:
        raise NotMeasurable("the fields have no line in common: there are too few lines")
    seen = evidence.raster.visible
    return (
        slice(int(seen.top * rows), max(1, round(seen.bottom * rows))),
        slice(int(seen.left * columns), max(1, round(seen.right * columns))),
    )
