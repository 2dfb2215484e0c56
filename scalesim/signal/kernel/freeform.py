"""The free-form kernel: what the capture itself says the weights are, without any name.

All lines share one kernel over the distance from where they look. At a pitch that repeats after a few
lines (3, 9/2) every line of the cycle has its own taps, one per source line. At any other pitch the
kernel is a smooth curve of the distance, cubic B-splines on knots half a line apart. One least-squares
fit over all lines at once; its standard errors and its condition come with it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.core.affine import Affine

_KNOT = 0.5
_RIDGE = 1e-7


@dataclass(frozen=True)
class FreeForm:
    """A kernel as measured.

    Parameters:
        offsets, weights, errors : (taps,) source lines from where the line looks; the errors are one
            standard deviation
        condition : of the normal matrix
        misfit : sum of squares left over, in code values of unit swing
        parameters, values : numbers of unknowns and of equations
        window : (lines, width) weights of every output line on its own window of source lines
        solution : the unknowns and, last, the lift at the middle of the two codes
        cycle : classes of lines that have their own taps; 0 for one smooth kernel
    """

    offsets: NDArray
    weights: NDArray
    errors: NDArray
    condition: float
    misfit: float
    parameters: int
    values: int
    window: NDArray
    solution: NDArray
    cycle: int = 0

    @property
    def variance(self) -> float:
        """Variance of the values that no linear kernel explains."""
        return self.misfit / max(self.values - self.parameters, 1)


def basis(distances: NDArray, reach: float, knot: float = _KNOT) -> NDArray:
    """Return cubic B-splines at distances: (..., splines); they sum to 1 inside the reach."""
    from scipy.interpolate import BSpline

    count = int(np.ceil(reach / knot))
    edge = (count + 2) * knot  # the outermost splines end here
    knots = np.arange(-count - 5, count + 6) * knot
    splines = BSpline.design_matrix(np.clip(distances, -edge, edge).ravel(), knots, 3).toarray()
    # SciPy takes places only where four splines overlap: three more on either side see to that
    inner: NDArray = splines[:, 3:-3].reshape(*distances.shape, 2 * count + 1)
    return inner


def cycle_basis(classes: NDArray, distances: NDArray, count: int) -> NDArray:
    """Return unit vectors: every class of lines has its own tap on every line of its window."""
    lines, width = distances.shape
    found = np.zeros((lines, width, count * width))
    rows = np.arange(lines)[:, None]
    columns = np.arange(width)[None, :]
    found[rows, columns, classes[:, None] * width + columns] = 1.0
    return found


def design_of(basis_rows: NDArray, sources: NDArray) -> NDArray:
    """Return what each unknown adds to each value, and a last column of ones for the lift.

    Parameters:
        basis_rows : (lines, width, unknowns) what each unknown adds to each weight
        sources : (lines, width, cells) the codes under each line's window
    Returns: (lines, cells, unknowns + 1)
    """
    lines, _, cells = sources.shape
    unknowns = basis_rows.shape[2]
    design = np.empty((lines, cells, unknowns + 1))
    np.matmul(sources.transpose(0, 2, 1) - 0.5, basis_rows, out=design[..., :unknowns])
    design[..., unknowns] = 1.0
    return design


def least_squares(design: NDArray, target: NDArray, smooth: float = 0.0) -> tuple[NDArray, NDArray]:
    """Return (solution, normal matrix) of a fit with a very small ridge.

    design : (lines, cells, unknowns), target : (lines, cells)
    `smooth` weighs, against the data, second differences of neighbouring unknowns.
    """
    # line by line: many small products never wait for threads of a busy machine
    turned = design.transpose(0, 2, 1)
    normal = np.matmul(turned, design).sum(axis=0, dtype=np.float64)
    right = np.matmul(turned, target[..., None]).sum(axis=0, dtype=np.float64)[:, 0]
    size = np.trace(normal) / len(normal)
    held = normal + _RIDGE * size * np.eye(len(normal))
    if smooth:
        rough = np.diff(np.eye(len(normal))[:, :-1], 2, axis=1)
        held += smooth * size * rough @ rough.T
    return np.linalg.solve(held, right), normal


def described(
    basis_rows: NDArray, distances: NDArray, solution: NDArray, normal: NDArray, misfit: float, values: int
) -> FreeForm:
    """Return a solution as a kernel with its errors and its condition."""
    count = len(solution)
    found = solution[:-1]
    window = basis_rows @ found
    ridge = _RIDGE * np.trace(normal) / count
    inverse = np.linalg.inv(normal + ridge * np.eye(count))
    spread = inverse[:-1, :-1] * (misfit / max(values - count, 1))
    offsets, weights, errors = _taps(basis_rows, distances, window, spread)
    strengths = np.linalg.eigvalsh(normal)
    condition = float(strengths[-1] / max(strengths[0], 1e-300))
    return FreeForm(offsets, weights, errors, condition, misfit, count, values, window, solution)


def _taps(
    basis_rows: NDArray, distances: NDArray, window: NDArray, spread: NDArray
) -> tuple[NDArray, NDArray, NDArray]:
    """Return the kernel at the distances that occur, at most about sixteen to a source line."""
    keys = np.round(distances * 16) / 16
    _, first = np.unique(keys, return_index=True)
    rows = basis_rows.reshape(-1, basis_rows.shape[2])[first]
    errors = np.sqrt(np.maximum(np.einsum("tu,uv,tv->t", rows, spread, rows), 0.0))
    return distances.reshape(-1)[first], window.reshape(-1)[first], errors


def rows_at(kernel: FreeForm, place: Affine, lines: int, lines_in: int) -> NDArray:
    """Return the (lines, lines_in) weights a measured kernel gives every line, each row of sum 1.

    Edges replicate.
    """
    width = kernel.window.shape[1]
    reach = width // 2
    middles = place(np.arange(lines) + 0.5)
    nearest = np.floor(middles + 1e-7).astype(int)
    distances = np.arange(-reach, reach + 1) + 0.5 - (middles - nearest)[:, None]
    if kernel.cycle:
        shapes = cycle_basis(np.arange(lines) % kernel.cycle, distances, kernel.cycle)
    else:
        shapes = basis(distances, reach)
    weights = shapes @ kernel.solution[:-1]
    weights /= weights.sum(axis=1, keepdims=True)
    found = np.zeros((lines, lines_in))
    columns = np.clip(nearest[:, None] + np.arange(-reach, reach + 1), 0, lines_in - 1)
    np.add.at(found, (np.arange(lines)[:, None], columns), weights)
    return found
