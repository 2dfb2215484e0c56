"""Operators: what a linear stage does to the lines and samples of one picture.

Dropping, averaging, repeating, filtering and resampling are sparse banded matrices; a chain of them
is their product. An `Operator` holds one matrix for the lines and one for the samples, and the
encoding in which they mix values. A `FieldOperator` is one operator per field phase: picture k of a
stream goes through ``phases[k % period]``.

Matrices are composed in float64 and cast once to the dtype of the pictures they are applied to (a
float64 matrix on float32 pictures is about nine times slower). A matrix that only chooses lines is
applied by indexing, which is exact.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import lcm
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from scalesim.core.encoding import Encoding, code_to_light, light_to_code
from scalesim.errors import EncodingError, ShapeError

if TYPE_CHECKING:
    from scipy.sparse import csr_array  # half of the time to start: a chain is read and told without it

_NEGLIGIBLE = 1e-12
"""Products and kernels leave weights like 1e-17 behind; below this they are rounding, not taps."""


def matrix_from_taps(shape: tuple[int, int], rows: NDArray, columns: NDArray, weights: NDArray) -> csr_array:
    """Return the float64 matrix with `weights` at (rows, columns); repeated places add up."""
    from scipy.sparse import csr_array

    matrix = csr_array((np.asarray(weights, dtype=np.float64), (rows, columns)), shape=shape)
    return _tidy(matrix)


def matrix_from_dense(weights: NDArray) -> csr_array:
    """Return the matrix of an array, which is what it is apart from its zeros."""
    from scipy.sparse import csr_array

    return csr_array(weights)


def in_turn(matrices: Sequence[csr_array]) -> csr_array:
    """Return row 0 of each of some matrices of one shape, row 1 of each, and so on."""
    if len(matrices) == 1:
        return matrices[0]
    from scipy.sparse import csr_array, vstack

    order = np.arange(len(matrices) * matrices[0].shape[0]).reshape(len(matrices), -1).T.ravel()
    return csr_array(vstack(matrices))[order]


def _tidy(matrix: csr_array) -> csr_array:
    matrix.sum_duplicates()
    matrix.data[np.abs(matrix.data) < _NEGLIGIBLE] = 0.0
    matrix.data[np.abs(matrix.data - 1.0) < _NEGLIGIBLE] = 1.0
    matrix.eliminate_zeros()
    return matrix


def _product(second: csr_array | None, first: csr_array | None) -> csr_array | None:
    if second is None or first is None:
        return first if second is None else second
    from scipy.sparse import csr_array

    return _tidy(csr_array(second @ first))


def _choice(matrix: csr_array) -> NDArray | None:
    """Return the chosen input line of each row when every row is a single 1, else None."""
    if matrix.nnz != matrix.shape[0] or np.any(np.diff(matrix.indptr) != 1):
        return None
    return matrix.indices.copy() if np.all(matrix.data == 1.0) else None


@dataclass(frozen=True, eq=False)
class Operator:
    """What a linear stage does to one picture.

    Parameters:
        lines : (lines_out, lines_in) float64 sparse matrix, or None to leave the lines alone;
            row 0 makes the top line
        samples : (samples_out, samples_in) likewise along a line
        encoding : the values it mixes: "code", "light" (V^2.4), or "any" for choices, which give
            the same result in both
    """

    lines: csr_array | None = None
    samples: csr_array | None = None
    encoding: Encoding = "any"

    def __matmul__(self, first: Operator) -> Operator:
        """Return the operator that applies `first` and then this one.

        Raises: ShapeError when sizes do not fit; EncodingError when one mixes code values and the
        other light, because no single matrix can do both.
        """
        for axis in ("lines", "samples"):
            _check_fit(axis, getattr(self, axis), getattr(first, axis))
        return Operator(
            _product(self.lines, first.lines),
            _product(self.samples, first.samples),
            join_encodings(first.encoding, self.encoding),
        )

    def __call__(self, values: NDArray) -> NDArray:
        """Return the picture after the operator.

        Parameters:  values : (lines_in, samples_in, channels) float32 or float64, code values
        Returns:     (lines_out, samples_out, channels), same dtype, code values
        Raises:      ShapeError when the picture has another size
        """
        self._check_picture(values)
        if self.is_choice or self.encoding != "light":
            return self._apply(values)
        return light_to_code(self._apply(code_to_light(values)))

    def taps(self, line_out: int) -> tuple[NDArray, NDArray]:
        """Return (input lines, weights) of one output line, in the order of the input lines.

        Raises: ShapeError for a line the output does not have
        """
        if self.lines is None:
            return np.array([line_out]), np.array([1.0])
        if not 0 <= line_out < self.lines.shape[0]:
            raise ShapeError(f"taps of line {line_out}; the output has lines 0 to {self.lines.shape[0] - 1}")
        begin, end = self.lines.indptr[line_out : line_out + 2]
        order = np.argsort(self.lines.indices[begin:end])
        return self.lines.indices[begin:end][order], self.lines.data[begin:end][order]

    @cached_property
    def is_choice(self) -> bool:
        """True when every output value is one input value: it commutes with any value by value step."""
        return (self.lines is None or self._lines_chosen is not None) and (
            self.samples is None or self._samples_chosen is not None
        )

    @cached_property
    def _lines_chosen(self) -> NDArray | None:
        return None if self.lines is None else _choice(self.lines)

    @cached_property
    def _samples_chosen(self) -> NDArray | None:
        return None if self.samples is None else _choice(self.samples)

    @cached_property
    def _cast(self) -> dict[tuple[str, str], csr_array]:
        return {}

    def _matrix_as(self, axis: str, dtype: np.dtype, channels: int) -> csr_array:
        """Return the matrix in the pictures' dtype, the samples' one interleaved over the channels."""
        key = (axis, f"{dtype}{channels}")
        if key not in self._cast:
            if axis == "lines":
                assert self.lines is not None
                self._cast[key] = self.lines.astype(dtype)
            else:
                assert self.samples is not None
                from scipy.sparse import kron

                # each sample's weights act on each of its channels
                each = np.eye(channels, dtype=dtype)
                self._cast[key] = kron(self.samples.astype(dtype), each, format="csr")
        return self._cast[key]

    def _apply(self, values: NDArray) -> NDArray:
        """Apply both axes, the one that leaves fewer values first."""
        shrink_lines = 1.0 if self.lines is None else self.lines.shape[0] / self.lines.shape[1]
        shrink_samples = 1.0 if self.samples is None else self.samples.shape[0] / self.samples.shape[1]
        if shrink_samples < shrink_lines:
            return self._apply_lines(self._apply_samples(values))
        return self._apply_samples(self._apply_lines(values))

    def _apply_lines(self, values: NDArray) -> NDArray:
        if self.lines is None:
            return values
        if self._lines_chosen is not None:
            return values[self._lines_chosen]
        matrix = self._matrix_as("lines", values.dtype, 1)
        flat = np.ascontiguousarray(values).reshape(values.shape[0], -1)
        return (matrix @ flat).reshape(self.lines.shape[0], *values.shape[1:])

    def _apply_samples(self, values: NDArray) -> NDArray:
        if self.samples is None:
            return values
        if self._samples_chosen is not None:
            return values[:, self._samples_chosen]
        lines, _, channels = values.shape
        matrix = self._matrix_as("samples", values.dtype, channels)
        flat = np.ascontiguousarray(values).reshape(lines, -1)
        # sparse times dense is quick only from the left, hence the transposed product
        return np.ascontiguousarray((matrix @ flat.T).T).reshape(lines, -1, channels)

    def _check_picture(self, values: NDArray) -> None:
        if values.ndim != 3:
            raise ShapeError(f"picture has {values.ndim} axes; it must have 3: (lines, samples, channels)")
        for axis, size in zip(("lines", "samples"), values.shape, strict=False):
            matrix = getattr(self, axis)
            if matrix is not None and matrix.shape[1] != size:
                raise ShapeError(
                    f"picture has {size} {axis}; this operator was built for {matrix.shape[1]}: "
                    "build it from the picture's own raster"
                )


def _check_fit(axis: str, second: csr_array | None, first: csr_array | None) -> None:
    if second is not None and first is not None and second.shape[1] != first.shape[0]:
        raise ShapeError(
            f"operators do not fit: the first leaves {first.shape[0]} {axis}, "
            f"the second takes {second.shape[1]}"
        )


def join_encodings(first: Encoding, second: Encoding) -> Encoding:
    """Return the encoding of two operators in series, or raise EncodingError for code after light."""
    if first == "any" or first == second:
        return second
    if second == "any":
        return first
    raise EncodingError(
        f"an operator on {second} cannot be composed with one on {first}; apply them one after the other"
    )


@dataclass(frozen=True, eq=False)
class FieldOperator:
    """One operator per field phase; picture k of a stream goes through ``phases[k % period]``."""

    phases: tuple[Operator, ...]

    @property
    def period(self) -> int:
        """Number of phases: 1 when every picture is treated alike, 2 for fields."""
        return len(self.phases)

    @cached_property
    def is_choice(self) -> bool:
        """True when every phase only chooses lines and samples."""
        return all(phase.is_choice for phase in self.phases)

    @property
    def encoding(self) -> Encoding:
        """The encoding all phases share ("any" only when all are choices)."""
        found: Encoding = "any"
        for phase in self.phases:
            found = join_encodings(found, phase.encoding)
        return found

    def __matmul__(self, first: FieldOperator) -> FieldOperator:
        """Return the product phase by phase; its period is the least common multiple."""
        period = lcm(self.period, first.period)
        return FieldOperator(
            tuple(self.phases[k % self.period] @ first.phases[k % first.period] for k in range(period))
        )

    def __call__(self, values: NDArray, picture: int = 0) -> NDArray:
        """Return picture number `picture` of the stream after its phase's operator."""
        return self.phases[picture % self.period](values)


def still(
    lines: csr_array | None = None, samples: csr_array | None = None, encoding: Encoding = "any"
) -> FieldOperator:
    """Return the field operator that treats every picture alike."""
    return FieldOperator((Operator(lines, samples, encoding),))


def mixing(
    lines: csr_array | None = None, samples: csr_array | None = None, *, encoding: Encoding
) -> Operator:
    """Return an operator that mixes in `encoding`, or in "any" when its matrices mix nothing.

    A matrix mixes nothing when each row is a single 1 or empty (a black line): 0 is black in code
    values and in light.
    """
    mixes = any(m is not None and not _mixes_nothing(m) for m in (lines, samples))
    return Operator(lines, samples, encoding if mixes else "any")


def _mixes_nothing(matrix: csr_array) -> bool:
    return bool(np.all(matrix.data == 1.0)) and bool(np.all(np.diff(matrix.indptr) <= 1))
