"""A lag table: what a bench log holds, row by row, before anything is worked out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from numpy.typing import NDArray


@dataclass(frozen=True, eq=False)
class LagTable:
    """Readings of lag, of one device or several.

    Parameters:
        name : of the file, for people
        lags : (rows,) float64 in `unit`, nan where a row has none
        unit : "ms", or "frames" of a rate that the file does not know
        times : (rows,) float64 seconds, None where the log has lag alone
        labels : (rows,) whole numbers into `names`; names : of devices or runs, () for a single one
        heights : (rows,) float64, where in the picture it was read: 0 top, 1 bottom; None for no such column
        notes : how the file was read: columns, units, what was guessed
        step : in `unit`, what is known of how coarsely it was read beside what the readings show
    """

    name: str
    lags: NDArray
    unit: Literal["ms", "frames"] = "ms"
    times: NDArray | None = None
    labels: NDArray | None = None
    names: tuple[str, ...] = ()
    heights: NDArray | None = None
    notes: tuple[str, ...] = ()
    step: float = 0.0
