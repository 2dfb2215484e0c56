"""One set of lines or two, from short exposures of one set-up: where lines lie on the glass, photo by
photo."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.glass.candidates import reduced
from scalesim.signal.glass.carrier import carrier
from scalesim.signal.glass.demodulate import cells_of
from scalesim.signal.glass.exposure import Landing, unknown
from scalesim.signal.glass.find import Found
from scalesim.signal.glass.motion import STILL, Motion, motion, outside

SAME, OTHER = 0.15, 0.35
"""Pitches: nearer to 0 than the first is the same place, farther than the second the other."""

ALONE = 40.0
"""Cells that share their noise by the smoothing."""
LARGE = 2e6
"""Pixels up to which photos are registered as they are."""


@dataclass(frozen=True)
class Step:
    """From one photo to another: where the lines went, in pitches -1/2..1/2, and its error."""

    offset: float
    error: float


def room_of(found: Found, bezel: tuple[int, int, int, int] | None) -> NDArray[np.bool_]:
    """Return (rows, columns) of the reduced photo that belong to the tube and not to its picture.

    Parameters:  bezel : left, top, right, bottom in pixels of the photo, where it is known
    """
    shape = found.view.light.shape
    if bezel is None:
        return outside(found.fit.used, found.fit.cells.size, shape)
    room = np.zeros(shape, dtype=bool)
    left, top, right, bottom = (round(each / found.view.factor) for each in bezel)
    room[max(top, 0) : bottom, max(left, 0) : right] = True
    return room


def step(found: Found, light: NDArray[np.float32], moved: Motion) -> Step | None:
    """Return where the lines of another photo lie against those found, on the glass; None without lines
    there.

    Parameters:
        found : lines of the first photo; light : of the other, (rows, columns), of the same size
        moved : of the camera, in pixels of the reduced photo
    """
    fit = found.fit
    wave, mean = carrier(reduced(light, found.view.factor), _period(found) * 1.2)
    frame = fit.frame
    # the other photo's pixel x shows what lay at T^-1 x: phase there is that of the first at that place
    x, y = np.meshgrid(np.arange(0, frame.columns, 16.0), np.arange(0, frame.rows, 16.0))
    xy = np.column_stack([x.ravel(), y.ravel()])
    back = np.linalg.solve(moved.matrix, (xy - moved.middle - moved.shift).T).T + moved.middle
    basis = frame.basis(xy[:, 0], xy[:, 1])
    wanted = frame.basis(back[:, 0], back[:, 1]) @ fit.coefficients
    coefficients = np.linalg.lstsq(basis, wanted, rcond=None)[0]
    cells = cells_of(wave, mean, frame.parts(coefficients), fit.cells.size).smoothed(2.5 * fit.cells.size[0])
    first = fit.cells.z
    heights = np.abs(cells.z)
    used = fit.used & (heights > 0.3 * np.median(heights[fit.used]))
    if used.sum() < 20:
        return None
    turned = cells.z[used] * np.conj(first[used])
    error = 0.0
    if moved is not STILL:
        away = np.column_stack([cells.x[used], cells.y[used]]) - moved.middle
        turned, error = _levelled(turned, away)
    squared = turned**2
    coherence = float(np.abs(squared.sum()) / np.abs(squared).sum())
    if coherence < 0.6:
        return None
    offset = float(np.angle(turned.sum()) / (2 * np.pi))
    spread = float(np.sqrt(max(1 - coherence, 0.0)) / (4 * np.pi)) / np.sqrt(max(used.sum() / ALONE, 1.0))
    alike = float(np.abs(turned.sum()) / np.abs(turned).sum())
    error = float(np.sqrt(spread**2 + error**2 + (moved.error / _period(found)) ** 2))
    return Step(offset, error + (0.5 if alike < 0.5 else 0.0))


def _levelled(turned: NDArray, away: NDArray) -> tuple[NDArray, float]:
    """Return the carrier freed of what turns it evenly from the bezel on, and the error at the bezel, lines.

    The camera's motion is known best where the bezel is. What it turned beyond shows in the lines themselves,
    as a phase that grows evenly with the distance from there.

    Parameters:  turned : (n,) carrier against the first photo's; away : (n, 2) from the bezel, pixels
    """
    reach = float(np.abs(away).max()) + 1.0
    design = np.column_stack([np.ones(len(away)), away / reach])
    weight = np.abs(turned)
    slope = np.zeros(2)
    for _ in range(3):
        own = (turned * np.exp(-2j * np.pi * (design[:, 1:] @ slope))) ** 2
        middle = np.angle(own.sum())
        phase = np.angle(own * np.exp(-1j * middle)) / (4 * np.pi)  # twice: half a line apart agrees
        normal = (design * weight[:, None]).T @ design + 1e-9 * weight.sum() * np.eye(3)
        found = np.linalg.solve(normal, (design * weight[:, None]).T @ phase)
        slope = slope + found[1:]
    left = phase - design @ found
    spread = float(np.sqrt(np.average(left**2, weights=weight)))
    inverse = np.linalg.inv(design.T @ design + 1e-9 * len(design) * np.eye(3))
    error = spread * float(np.sqrt(min(ALONE * inverse[0, 0], 1e3)))
    return turned * np.exp(-2j * np.pi * (design[:, 1:] @ slope)), error


def _registered(
    found: Found, first: NDArray[np.float32], other: NDArray[np.float32], room: NDArray[np.bool_]
) -> Motion | None:
    """Return how the camera moved in pixels of the reduced photo; small photos are not reduced for it."""
    factor = found.view.factor
    if factor == 1 or first.size > LARGE:
        return motion(found.view.light, reduced(other, factor), room)
    wide = np.repeat(np.repeat(room, factor, axis=0), factor, axis=1)
    rows, columns = wide.shape
    made = motion(first[:rows, :columns], other[:rows, :columns], wide)
    return None if made is None else made.reduced(factor)


def together(
    found: Found,
    first: NDArray[np.float32],
    others: Sequence[NDArray[np.float32]],
    room: NDArray[np.bool_],
    *,
    tripod: bool,
) -> Landing:
    """Return where the lines of several short exposures lie.

    Two places half a pitch apart are two sets. One place in all of n photos is one set, unless all caught
    fields of one parity: a chance of 1 in 2^(n-1) for two sets, which the confidence carries.

    Parameters:
        found : lines of the first photo; first, others : light of the photos; room : see `room_of`
        tripod : the camera stood still, so that no bezel is needed
    """
    steps = []
    for light in others:
        if (
            light.shape != (found.lines.rows, found.lines.columns)
            and reduced(light, found.view.factor).shape != found.view.light.shape
        ):
            return unknown("the photos differ in size; take them with one setting")
        moved = STILL if tripod else _registered(found, first, light, room)
        if moved is None:
            return unknown(
                "nothing that belongs to the tube is in view to register the photos by; keep 10 to 15 % of "
                "the width for the lit bezel, name it with --bezel, or use a tripod and say --tripod"
            )
        made = step(found, light, moved)
        if made is not None and made.error < SAME:
            steps.append(made)
    if not steps:
        return unknown(
            "the lines of the other photos do not continue those of the first; take them in one go"
        )
    return _told(steps)


def _told(steps: list[Step]) -> Landing:
    offsets = np.array([abs(each.offset) for each in steps])
    errors = np.array([each.error for each in steps])
    if ((offsets > SAME) & (offsets < OTHER)).any():
        return unknown(
            f"the lines of a photo lie {offsets[(offsets > SAME) & (offsets < OTHER)][0]:.2f} pitch from "
            "those of the first, neither on them nor between; brace the camera and show more of the bezel"
        )
    other = offsets >= OTHER
    photos = len(steps) + 1
    if other.any():
        value = float(np.average(offsets[other], weights=1 / errors[other] ** 2))
        error = float(1.96 * np.sqrt(1 / np.sum(1 / errors[other] ** 2)) + 0.01)
        return Landing(
            "two", value, error, 0.98, "photos of one set-up show lines in two places on the glass", "pair"
        )
    signed = np.array([each.offset for each in steps])
    value = float(np.average(signed, weights=1 / errors**2))
    error = float(1.96 * np.sqrt(1 / np.sum(1 / errors**2)) + 0.01)
    chance = 1 / (1 + 0.5 ** (photos - 1))
    return Landing(
        "one",
        value,
        error,
        float(chance),
        f"all {photos} photos show the lines in one place on the glass (photos that all caught fields of "
        "one parity would look the same)",
        "pair",
    )


def _period(found: Found) -> float:
    fit = found.fit
    x, y = np.array(fit.frame.centre[0]), np.array(fit.frame.centre[1])
    lines = found.lines
    return float(lines.period(x * found.view.factor, y * found.view.factor)) / found.view.factor
