"""Coverage: the weights of a chain's lines, from the source's frame lines to the lines on the screen."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from scalesim.chain.resolve import Resolved
from scalesim.core.landed import places
from scalesim.core.operator import FieldOperator, matrix_from_dense
from scalesim.core.raster import Raster
from scalesim.errors import ScalesimError

if TYPE_CHECKING:
    from scipy.sparse import csr_array


def coverage(resolved: Resolved) -> NDArray | None:
    """Return the weights (landed lines, source frame lines) of a chain's linear part on a still, float64.

    None when the chain is no single matrix (a frame stage, or mixed encodings). Fields that share
    scan lines count half each.
    """
    found = sparse_coverage(resolved)
    return None if found is None else found.toarray()


def sparse_coverage(resolved: Resolved) -> csr_array | None:
    """Return the same as a sparse matrix: nearly all weights are 0, and a study keeps those of many chains.

    Found once for a resolved chain, whatever its frames; not to be written to.
    """
    known = vars(resolved)
    if "coverage" not in known:
        known["coverage"] = _coverage(resolved)
    found: csr_array | None = known["coverage"]
    return found


def _coverage(resolved: Resolved) -> csr_array | None:
    try:
        operator = resolved.operator()
    except ScalesimError:
        return None
    source, output, period = resolved.source, resolved.output, resolved.cycle
    total = np.zeros((output.landed_lines, source.frame_lines))
    for phase in range(period):
        _add_phase(total, operator, phase, source, output, period)
    return matrix_from_dense(total)


def _add_phase(
    total: NDArray, operator: FieldOperator, phase: int, source: Raster, output: Raster, period: int
) -> None:
    lines = operator.phases[phase % operator.period].lines
    weights = np.eye(source.lines) if lines is None else lines.toarray()
    from_parity = source.fields[phase % source.period].parity
    source_lines = slice(from_parity, None, 2) if source.period == 2 else slice(None)
    for rows, own, share in places(output, phase):
        total[rows, source_lines] += weights[own] * (share * output.period / period)
