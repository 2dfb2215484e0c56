"""Where detail was kept, lost or false: the places that a value was made of, as cases.

A place is one window of the spectra, a quarter of the picture and half overlapping, by a thirtieth of the
other axis.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from scalesim.core.affine import Affine
from scalesim.metrics.detail.spectra import Detail
from scalesim.metrics.detail.waves import Array, Windows
from scalesim.metrics.judged import Judged

ALONG = 30
"""Places along the axis that is not measured."""


@dataclass(frozen=True, eq=False)
class Compared:
    """Detail along one axis, and where its places are.

    Parameters:
        axis : the axis that is measured
        look : map of that axis of the landed picture to the source's
        across : takes numbers of columns, and gives where they begin on the other axis, in (source, landed)
            units
    """

    found: Detail
    windows: Windows
    axis: Literal["lines", "samples"]
    look: Affine
    across: Callable[[Array], tuple[Array, Array]]

    def judged(self, what: Literal["lost", "false"]) -> Judged:
        """Return the places: how much of the source's detail is lost there, or how much is false.

        Severity is the share of energy, so the value is a root: of what is false, or of what is not lost.
        """
        kept, false, whole = self.found.by_place()
        edges = np.linspace(0, whole.shape[1], min(ALONG, whole.shape[1]) + 1).round().astype(np.int64)
        kept, false, whole = (np.add.reduceat(each, edges[:-1], axis=1) for each in (kept, false, whole))
        weight = np.maximum(whole, 1e-12 * float(whole.max()))  # a place without detail has no share of it
        severity = (false if what == "false" else whole - kept) / weight
        starts = np.array(self.windows.starts)
        windows = np.stack((starts, starts + self.windows.length), axis=1)
        others, landed = (np.sort(np.stack((at[:-1], at[1:]), axis=1)) for at in self.across(edges))
        shape = (len(windows), len(others), 2)

        def spread(along: Array, other: Array) -> tuple[Array, Array]:
            first = np.broadcast_to(along[:, None], shape).reshape(-1, 2)
            return first, np.broadcast_to(other, shape).reshape(-1, 2)

        first, second = spread(np.sort(self.look(windows)), others)
        lines, samples = (first, second) if self.axis == "lines" else (second, first)
        return Judged(
            "places",
            lines,
            samples,
            spread(windows, landed)[0 if self.axis == "lines" else 1],
            severity.ravel(),
            weight.ravel(),
            says="root" if what == "false" else "rest",
        )
