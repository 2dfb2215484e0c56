"""Where a field's lines look, to a hundredth of a line, from a free-form kernel alone."""

from __future__ import annotations

from dataclasses import replace
from math import gcd

import numpy as np
from numpy.typing import NDArray

from scalesim.core.affine import Affine
from scalesim.signal.kernel.field_lines import Domain, FieldLines, windows
from scalesim.signal.kernel.freeform import FreeForm, basis, cycle_basis, described, design_of, least_squares

_MOST_CLASSES = 16
_OWN_TAPS = 4
_COARSE_KNOT = 0.25
"""Knots of the kernel that alignment uses, in steps."""
_SMOOTH = 1e-4
_ROUNDS: dict[Domain, int] = {"code": 2, "light": 4}
_DISTURBED = 3.0
"""A line this many times worse explained than the usual one is left out."""


def aligned(field: FieldLines, place: Affine, rounds: int) -> Affine:
    """Return the place after Gauss-Newton on a smooth free-form kernel."""
    values = field.values("code").astype(np.float32)
    for _ in range(rounds):
        seen = windows(field, place)
        target = values[seen.rows]
        knot = place.scale * _COARSE_KNOT
        design = design_of(basis(seen.distances, seen.reach, knot), seen.sources).astype(np.float32)
        solution, _ = least_squares(design, target, smooth=_SMOOTH)
        moved = basis(seen.distances - 0.05, seen.reach, knot) - basis(
            seen.distances + 0.05, seen.reach, knot
        )
        by_place = np.matmul((moved @ solution[:-1] / 0.1)[:, None, :], seen.sources)[:, 0]
        lever = (seen.rows + 0.5 - field.lines / 2)[:, None] / field.lines
        slopes = np.stack([by_place.ravel(), (by_place * lever).ravel()], axis=1)
        rest = (target - design @ solution).ravel()
        change = np.clip(np.linalg.solve(slopes.T @ slopes, slopes.T @ rest), -0.5, 0.5)
        scale = place.scale + float(change[1]) / field.lines
        middle = place(field.lines / 2) + float(change[0])
        place = Affine(scale, middle - scale * field.lines / 2)
    return place


def trimmed(field: FieldLines, place: Affine) -> FieldLines:
    """Return the field without the lines that no common kernel explains: black ones, disturbed ones.

    Lines are judged against those that look at the same place within a source line: where lines are
    chosen at a broken pitch, some of them always fit a common kernel badly, and tell the phase.
    """
    seen = windows(field, place)
    shapes = basis(seen.distances, seen.reach, place.scale * _COARSE_KNOT)
    design = design_of(shapes, seen.sources).astype(np.float32)
    target = field.values("code")[seen.rows].astype(np.float32)
    usable = field.usable.copy()
    keep = np.ones(len(seen.rows), dtype=bool)
    length = cycle(len(field.codes), place.scale)
    alike = seen.rows % length if length else np.floor(seen.fraction * _MOST_CLASSES).astype(int)
    for _ in range(2):
        solution, _ = least_squares(design[keep], target[keep], smooth=_SMOOTH)
        far = (target - design @ solution).std(axis=1)
        usual = np.full(len(far), float(np.median(far[keep])))
        for kind in np.unique(alike):
            same = alike == kind
            usual[same] = np.maximum(usual[same], np.median(far[same]))
        keep = far <= np.maximum(_DISTURBED * usual, 0.03)
    usable[seen.rows[~keep]] = False
    return replace(field, usable=usable)


def centred(field: FieldLines, place: Affine) -> Affine:
    """Return the place moved so that the free-form kernel's centroid is where lines look."""
    fit = free_form(field, place, "code")
    distances = windows(field, place).distances
    near = np.abs(distances) <= 2 * place.scale
    mass = float((fit.window * near).sum())
    centroid = float((fit.window * distances * near).sum()) / mass
    return Affine(place.scale, place.offset + centroid)


def cycle(lines_in: int, step: float) -> int:
    """Return after how many lines the pattern of a step repeats, or 0 when not within 16.

    A step is taken for lines_in / n for a whole n when it is that within 1e-7.
    """
    lines_out = round(lines_in / step)
    if not lines_out or abs(lines_in / lines_out - step) > 1e-7:
        lines_out = round(2 * lines_in / step)
        if abs(2 * lines_in / lines_out - step) > 1e-7:
            return 0
        length = lines_out // gcd(2 * lines_in, lines_out)
        return length if length <= _MOST_CLASSES else 0
    length = lines_out // gcd(lines_in, lines_out)
    return length if length <= _MOST_CLASSES else 0


def free_form(field: FieldLines, place: Affine, domain: Domain) -> FreeForm:
    """Return the kernel the field itself shows at a place, fitted in code values as they are clipped."""
    seen = windows(field, place)
    length = cycle(len(field.codes), place.scale)
    length = length if length <= _OWN_TAPS else 0
    distances = seen.distances
    shapes = cycle_basis(seen.rows % length, distances, length) if length else basis(distances, seen.reach)
    design = design_of(shapes, seen.sources)
    solution, normal = least_squares(design, field.values(domain)[seen.rows])
    target = field.values("code")[seen.rows]
    best = _misfit(field, design, solution, target, domain)
    for _ in range(_ROUNDS[domain]):
        mixed = design @ solution
        slopes = field.slope(mixed, domain)
        if domain == "code" and slopes.min() > 0.5:
            break
        change, normal = least_squares(design * slopes[..., None], target - field.to_code(mixed, domain))
        solution = solution + change
        misfit = _misfit(field, design, solution, target, domain)
        settled = abs(best - misfit) < 0.01 * best
        best = misfit
        if settled:
            break
    found = described(shapes, distances, solution, normal, best, target.size)
    return replace(found, cycle=length)


def _misfit(field: FieldLines, design: NDArray, solution: NDArray, target: NDArray, domain: Domain) -> float:
    return float(np.sum((target - field.to_code(design @ solution, domain)) ** 2))
