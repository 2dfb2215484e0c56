"""Clips with a border or an enlargement taken off, as `scalesim.core.framing` says."""

from __future__ import annotations

from collections.abc import Iterator

from scalesim.core.clip import Clip
from scalesim.core.framing import Cut, Framing, cut_of
from scalesim.core.picture import Picture, split_fields
from scalesim.core.raster import Raster
from scalesim.core.source import source_mode
from scalesim.errors import ParameterError


def framed(clip: Clip, framing: Framing, mode: str | None = None) -> Clip:
    """Return a moving clip with what its first picture shows to be added taken off every picture.

    Parameters:
        clip : read as progressive; mode : of the pictures that are left, None by their size
    Raises: ParameterError for a clip read as fields, one without pictures, or a mode that does not fit
    """
    if clip.raster.period > 1:
        raise ParameterError(
            f"{clip.name}: is read as fields, and --trim and --native take whole frames; export it "
            "as progressive"
        )
    first = next(clip.pictures(), None)
    if first is None:
        raise ParameterError(f"{clip.name}: has no picture; export it again")
    cut = cut_of(first.values, framing, clip.name)
    left = cut(first.values)
    source = source_mode(left.shape[0], left.shape[1], mode)
    raster = source.raster.with_(rate=clip.raster.rate * source.raster.period)
    return Clip(
        raster,
        lambda: _pictures(clip, cut, raster),
        clip.name,
        source.name,
        (*clip.notes, *cut.notes, *source.notes),
        length=None if clip.length is None else clip.length * raster.period,
    )


def _pictures(clip: Clip, cut: Cut, raster: Raster) -> Iterator[Picture]:
    count = 0
    for picture in clip.pictures():
        for values in split_fields(cut(picture.values), raster):
            yield Picture(values, raster, count / raster.rate)
            count += 1
