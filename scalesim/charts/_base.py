"""What every chart is: a picture to play, and the machine-readable truth about what is drawn in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from numpy.typing import NDArray

__all__ = ["Chart"]


@dataclass(frozen=True, eq=False)
class Chart:
    """One page of a chart.

    Parameters:
        name : the chart's name, as in ``scalesim chart NAME``
        mode : full name of the mode it is drawn for, as in `scalesim.core.mode.MODES`
        page : name of this page, for charts that have several; "" when there is one
        title : for a person: what to look at
        frame : (frame lines, samples, 3) float32 code values 0..1, woven when the mode is interlaced
        truth : what is drawn and where, of JSON types only (dict with string keys, list, str, int,
            float, bool, None)
    """

    name: str
    mode: str
    page: str
    title: str
    frame: NDArray
    truth: dict[str, Any]
