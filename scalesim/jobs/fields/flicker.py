"""Flicker of a capture's fields on each landing, with the noise taken off where the picture stands still."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from scalesim.core.encoding import luma
from scalesim.core.raster import Field, Raster
from scalesim.metrics.flicker.percent import flicker_map
from scalesim.signal.field_offset import softened, still_places

LANDINGS = {
    "interlaced": (Fraction(0), Fraction(1, 2)),
    "field-only, pair down": (Fraction(0), Fraction(0)),
    "field-only, pair up": (Fraction(0), Fraction(1)),
}
MOST_PAIRS = 8
"""So many pairs of successive fields, spread over all, are measured where something moves."""
_NOISES = 6.0
"""Deviations of the noise that are motion: over many pairs of fields noise alone reaches four."""


@dataclass(frozen=True)
class FieldFlicker:
    """The flicker of fields.

    Parameters:
        percent : of each landing, mean light difference of successive fields, percent of white
        noise : of the means over fields, percent of white, taken off; None where too little stood still
        moved : share of the picture, 0..1, that did not stand still: its flicker is that of successive fields
            as they came, their motion and noise in it
    """

    percent: dict[str, float] = field(default_factory=dict)
    noise: float | None = None
    moved: float = 0.0

    def sentences(self) -> list[str]:
        """Return the figures of all landings, and what is in them."""
        if not self.percent:
            return []
        shown = ", ".join(f"{name} {value:.1f} %" for name, value in self.percent.items())
        said = [f"Mean flicker, in percent of white, on each landing: {shown}."]
        if self.moved > 0:
            said.append(
                f"{100 * self.moved:.0f} % of the picture did not stand still: there it is the difference of "
                "successive fields as they came, motion and noise included."
            )
        return said


def fields_flicker(
    fields: Sequence[NDArray], means: Sequence[NDArray], parities: Sequence[int]
) -> FieldFlicker:
    """Return the flicker of successive fields.

    Parameters:
        fields : (lines, samples, 3) code values in the order of time
        means : their means, of parity 0 and 1
        parities : 0 or 1 each, alternating
    Where nothing moved between fields of one parity it is that of the means, noise taken off in squares;
    elsewhere that of successive fields, the mean over at most 8 pairs.
    """
    raster = Raster(fields[0].shape[0], fields[0].shape[1])
    still = _still(fields)
    moved = 1 - float(still.mean())
    noise = _noise(fields, parities, still, raster) if moved < 1 else None
    last = len(fields) - 2
    starts = np.unique(np.linspace(0, last, min(MOST_PAIRS, last + 1)).round().astype(int))
    found = {}
    for name, landings in LANDINGS.items():
        steady = _painted(means[0], means[1], landings, raster)
        mask = _on_frame_lines(still, steady.shape[0])
        total = _without(steady[mask], noise) * float(mask.mean()) if mask.any() else 0.0
        if not mask.all():
            # the field of parity 0 first, whichever came first
            pairs = [(fields[k + parities[k]], fields[k + 1 - parities[k]]) for k in starts]
            shown = [float(_painted(pair[0], pair[1], landings, raster)[~mask].mean()) for pair in pairs]
            total += float(np.mean(shown)) * float(1 - mask.mean())
        found[name] = total
    return FieldFlicker(found, noise, moved)


def _painted(upper: NDArray, lower: NDArray, landings: tuple[Fraction, Fraction], raster: Raster) -> NDArray:
    own = raster.with_(fields=tuple(Field(parity, landings[parity]) for parity in (0, 1)))
    return flicker_map((upper, lower), own)


def _still(fields: Sequence[NDArray]) -> NDArray:
    """Return where no two fields of one parity, one after the other, differ by more than their noise."""
    gray = [softened(luma(values)) for values in fields]
    still = np.ones(gray[0].shape, dtype=bool)
    for before, after in zip(gray, gray[2:], strict=False):
        still &= still_places(before, after, _NOISES)
    return still


def _on_frame_lines(still: NDArray, rows: int) -> NDArray:
    """Return a mask of field lines on so many frame lines."""
    return np.asarray(np.repeat(still, 2, axis=0)[:rows])


def _noise(
    fields: Sequence[NDArray], parities: Sequence[int], still: NDArray, raster: Raster
) -> float | None:
    """Return the flicker that noise alone gives the means where the picture stood still; None for too few."""
    same = [values for values, parity in zip(fields, parities, strict=True) if parity == parities[0]]
    if len(same) < 2:
        return None
    halves = [np.asarray(np.mean(same[k::2], axis=0, dtype=np.float32)) for k in (0, 1)]
    apart = _painted(halves[0], halves[1], (Fraction(0), Fraction(0)), raster)
    # the halves hold a half of the fields each, the means all of them
    return float(apart[_on_frame_lines(still, apart.shape[0])].mean()) / 2**0.5


def _without(flicker: NDArray, noise: float | None) -> float:
    return float(np.sqrt(max(0.0, float(flicker.mean()) ** 2 - (noise or 0.0) ** 2)))
