"""Outcome: a picture after a box, predicted, captured or photographed, beside what was sent."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property
from typing import TYPE_CHECKING, Self

from numpy.typing import NDArray

from scalesim.core import landed
from scalesim.core.clip import Clip
from scalesim.core.cycle import Cycle, luma_of_each
from scalesim.core.encoding import Encoding, luma
from scalesim.core.geometry import Geometry
from scalesim.core.later import Later
from scalesim.core.mode import mode_name_for
from scalesim.core.raster import Raster, Window
from scalesim.errors import ParameterError, nearest
from scalesim.metrics import Evidence, measure
from scalesim.metrics.outlines.floor import Floor
from scalesim.tube.seen import seen

if TYPE_CHECKING:
    from scipy.sparse import csr_array

TUBES = {"4:3": Fraction(4, 3), "16:9": Fraction(16, 9)}


@dataclass(frozen=True, eq=False, kw_only=True)
class Outcome:
    """What a frame became, and how good it is; however it was had.

    Parameters:
        source : the still that was sent
        raster : of the pictures that came out
        geometry : where they look on the source
        cycle : (raster.lines, raster.samples, 3) code values each, the output pictures of one cycle in the
            order of time: one when progressive, the two fields otherwise
        tube : shape of the tube for `seen`, a key of `TUBES`
        metrics : key -> value, None where it cannot be had
        why : key -> reason of each None
        n : key -> how much the value rests on (outlines, windows), where that was counted
        how : key -> the way it was had, where there are several
        n : key -> how many edges, outlines or places the value rests on, where that is counted
        notes : what a reader should know about where the pictures came from
    """

    source: Clip
    raster: Raster
    geometry: Geometry
    cycle: Sequence[NDArray]
    tube: str = "4:3"
    metrics: Mapping[str, float | None] = field(default_factory=dict)
    why: Mapping[str, str] = field(default_factory=dict)
    how: Mapping[str, str] = field(default_factory=dict)
    n: Mapping[str, int] = field(default_factory=dict)
    notes: tuple[str, ...] = ()

    @property
    def mode_out(self) -> str:
        """The output's trade name or "custom"; fields on one set of lines have progressive sync."""
        return mode_name_for(self.raster.lines, self.raster.scan == "interlaced", self.raster.rate)

    @cached_property
    def landed(self) -> NDArray:
        """The picture on the screen's lines, (landed lines, samples, 3) code values."""
        return landed.landed(self.cycle, self.raster)

    @cached_property
    def landed_luma(self) -> NDArray:
        """BT.709 luma of `landed`, (landed lines, samples); not to be written to."""
        if len(self.cycle) > 1 and self.raster.scan != "interlaced":
            return luma(self.landed)  # a mean in light
        return landed.landed(luma_of_each(self.cycle), self.raster, shared=True)

    @cached_property
    def woven(self) -> NDArray:
        """The frame as a file holds it, (frame lines, samples, 3) code values."""
        return landed.woven(self.cycle, self.raster)

    @property
    def seen(self) -> NDArray:
        """The landed picture at the tube's shape; made anew each time, because it is large."""
        return seen(self.landed, self.raster, TUBES[self.tube])

    @property
    def no_weights(self) -> str:
        """Why no weights can say what a landed line holds of which source line, "" when they can."""
        return ""

    @property
    def mixes(self) -> Encoding:
        """What the weights of `coverage` mix: "code" values, "light", or "any" where lines are chosen."""
        return "any"

    def coverage(self) -> NDArray | None:
        """Return the weights of the lines, (landed lines, source lines), where they are known."""
        return None

    def line_weights(self) -> csr_array | None:
        """Return the same as a sparse matrix."""
        return None

    @property
    def shown(self) -> Window | None:
        """What the display that is looked at leaves of the picture; None when none is."""
        return None

    def floor(self) -> Floor | None:
        """Return how whole the chain leaves an outline at its best place, where the chain is known."""
        return None

    def evidence(self, reference: str | NDArray = "ideal") -> Evidence:
        """Return what metrics look at.

        Parameters:  reference : what fidelity compares with: "ideal", "source", or a picture of the landed
            size
        """
        shape = (self.raster.landed_lines, self.raster.samples, 3)
        later = isinstance(self.cycle, Cycle) and self.cycle.later
        shown = Later(shape, lambda: self.landed, lambda: self.landed_luma) if later else self.landed
        return Evidence(
            self.source.looked_at,
            self.source.raster,
            self.cycle,
            shown,
            self.raster,
            self.geometry,
            self.line_weights,
            reference,
            self.source.found,
            no_weights=self.no_weights,
            floor=self.floor,
            shown=self.shown,
        )

    def measured(self, names: Iterable[str], reference: str | NDArray = "ideal") -> Self:
        """Return the outcome with these metrics, as `check_metrics` gives them, and no others."""
        names = tuple(names)
        if not names:
            return self
        evidence = self.evidence(reference)
        values, why = measure(evidence, names)
        evidence.cache.clear()  # some of it holds the evidence: Python would let go of neither for long
        found = replace(self, metrics=values, why=why, how=evidence.how, n=evidence.n)
        if "landed" in vars(self):
            vars(found)["landed"] = self.landed  # of the same pictures: it need not be made again
        return found


def check_tube(tube: str) -> str:
    """Return a tube's shape; raise ParameterError for one that is not known."""
    if not isinstance(tube, str) or tube not in TUBES:
        raise ParameterError(f"tube is {tube!r}; {nearest(str(tube), TUBES)}")
    return tube
