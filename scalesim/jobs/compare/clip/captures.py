"""A captured clip as a panel: which picture of the source it begins with, and where it lies on the screen.

Its first whole frame is looked for among the source's of the first seconds by likeness (the correlation of
luma in cells of a 64th of the width), and registered to the one found; what is shown is the capture itself,
line for line, moved by whole lines.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from scalesim.core.affine import Affine
from scalesim.core.build import average_lines
from scalesim.core.clip import Clip
from scalesim.core.encoding import luma
from scalesim.core.geometry import Geometry
from scalesim.core.landed import woven
from scalesim.core.operator import Operator
from scalesim.core.picture import Picture, split_fields
from scalesim.core.raster import Raster
from scalesim.errors import NotIdentifiable
from scalesim.jobs.compare.captured import captured
from scalesim.jobs.compare.clip.panel import Panel

SEARCH_S = 2
"""Seconds of the source in which a capture may begin."""

MOST_WOVEN = 30
"""Frames a second, at most, that can each hold two fields of a television's 50 or 60."""

_CELLS = (36, 64)
_LEAST = 0.5


@dataclass(frozen=True, eq=False)
class CapturedClip:
    """A captured clip.

    Parameters:  label : name of the box; clip : its pictures, or a still
    """

    label: str
    clip: Clip


def panel_of(box: CapturedClip, source: Clip, ground: tuple[Raster, Geometry]) -> Panel:
    """Return the panel of a capture beside a chain's.

    Parameters:  ground : raster and geometry of the first chain's output, whose screen the part is of
    Raises: NotIdentifiable when it shows nothing of the source's first seconds
    """
    first = box.clip.still_at(0).frame
    assert first is not None
    number, sent = _begin(box, first, source)
    frame_rate = box.clip.raster.rate / box.clip.raster.period
    woven = box.clip.is_still or frame_rate <= MOST_WOVEN
    found = captured(box.label, first, sent, metrics=(), woven=woven)
    raster = found.outcome.raster
    own = raster.with_(rate=_field_rate(box.clip, raster))
    begin = Fraction(number) / source.raster.rate
    down, across = _maps(ground, (raster, found.outcome.geometry))
    words = (
        f"{box.label} is a capture: it begins {float(begin):.3f} s into the source, by likeness, and is "
        "shown line for line.",
        *_end(box, source, begin),
        *(f"{box.label}: {note}" for note in box.clip.notes),
    )
    return Panel(
        f"{box.label}, captured",
        own,
        own.period,
        down,
        across,
        words,
        captured=lambda: _pictures(box.clip, own, begin),
    )


def _end(box: CapturedClip, source: Clip, begin: Fraction) -> tuple[str, ...]:
    """Say what a capture that ends before its source does to the clip."""
    if box.clip.length is None or source.length is None:
        return ()
    lasts = box.clip.length / box.clip.raster.rate
    if begin + lasts >= source.length / source.raster.rate:
        return ()
    return (f"{box.label} lasts {float(lasts):.3f} s; the clip ends with it, before the source does.",)


def _begin(box: CapturedClip, first: NDArray, source: Clip) -> tuple[int, Clip]:
    """Return the number of the source's picture that a capture begins with, and that frame as a still."""
    if source.is_still:
        return 0, source
    wanted, period = _cells(luma(first)), source.raster.period
    count = int(SEARCH_S * source.raster.rate)
    values = (picture.values for picture in islice(source.pictures(), count))
    likeness = [float(np.corrcoef(wanted, _cells(luma(each)))[0, 1]) for each in values]
    best = int(np.argmax(likeness)) // period * period
    if max(likeness) < _LEAST:
        raise NotIdentifiable(
            f"{box.label}: its first frame is like none of the first {SEARCH_S} s of {source.name} "
            f"(correlation {max(likeness):.2f}); begin both with the same scene"
        )
    return best, source.still_at(best)


def _cells(values: NDArray) -> NDArray:
    lines, samples = values.shape
    down = average_lines(lines, _CELLS[0], lines / _CELLS[0])
    across = average_lines(samples, _CELLS[1], samples / _CELLS[1])
    return Operator(down, across, "code")(values[..., None]).ravel()


def _field_rate(clip: Clip, raster: Raster) -> Fraction:
    """Return pictures a second of a capture whose frames are split in so many fields."""
    return clip.raster.rate / clip.raster.period * raster.period


def _pictures(clip: Clip, raster: Raster, begin: Fraction) -> Iterator[Picture]:
    stream, count = clip.pictures(), 0
    while (
        len(taken := [picture.values for picture in islice(stream, clip.raster.period)]) == clip.raster.period
    ):
        for values in split_fields(woven(taken, clip.raster), raster):
            yield Picture(values, raster, begin + count / raster.rate)
            count += 1


def _maps(ground: tuple[Raster, Geometry], own: tuple[Raster, Geometry]) -> tuple[Affine, Affine]:
    """Return the maps from the ground's raster to a capture's, in shares; down by whole lines of its own."""
    (raster, geometry), (mine, lies) = ground, own
    down = geometry.landed_blocks(raster).after(lies.landed_blocks(mine).inverse())
    middle = down(raster.landed_lines / 2) - mine.landed_lines / 2
    across = geometry.samples.after(lies.samples.inverse())
    wide = Affine(across.scale * raster.samples / mine.samples, across.offset / mine.samples)
    return Affine(1.0, round(middle) / mine.landed_lines), wide
