"""`Clip`: what a job is given. A still is an endless clip of one frame."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import islice
from typing import Any

from numpy.typing import NDArray

from scalesim.core.luma import Luma
from scalesim.core.picture import Picture, check_values, still_stream, weave
from scalesim.core.raster import Raster
from scalesim.core.source import source_mode
from scalesim.errors import ParameterError


@dataclass(frozen=True, eq=False)
class Clip:
    """Pictures on one raster.

    Parameters:
        raster : of every picture
        pictures : called without arguments, gives a fresh iterator over the pictures
        name : for titles and file names
        mode : name of the source mode, or "custom"
        notes : what was assumed or converted on the way in, in sentences
        frame : the whole frame (woven if it has fields) when this is a still, else None
        length : number of pictures, fields counted singly, when it is known; None for a still
        lumas : called without arguments, gives a fresh iterator over the luma of the stored frames, where
            that can be had without their colours; `scalesim.core.lumas.lumas_of` asks any clip
    """

    raster: Raster
    pictures: Callable[[], Iterator[Picture]]
    name: str = "frame"
    mode: str = "custom"
    notes: tuple[str, ...] = ()
    frame: NDArray | None = None
    length: int | None = None
    lumas: Callable[[], Iterator[Luma]] | None = None

    @cached_property
    def found(self) -> dict[str, Any]:
        """What was found out about the frame, kept so that several chains need not find it again."""
        return {}

    @property
    def is_still(self) -> bool:
        """True when the clip is one frame for ever."""
        return self.frame is not None

    def still_at(self, picture: int) -> Clip:
        """Return the endless still clip of the whole frame that begins at a picture, counted from 0.

        With fields, that frame is the picture woven with the next one, and the still's first field is
        the picture's own. The clip is streamed up to there; nothing of it is kept. A still gives itself.

        Raises: ParameterError when the clip has no whole frame there
        """
        if picture < 0:
            raise ParameterError(f"{self.name}: picture is {picture}; pictures are counted from 0")
        if self.is_still:
            return self
        period = self.raster.period
        taken = [found.values for found in islice(self.pictures(), picture, picture + period)]
        if len(taken) < period:
            raise self._past_end(picture)
        phases = [(picture + k) % period for k in range(period)]
        fields = tuple(self.raster.fields[phase] for phase in phases)
        raster = self.raster.with_(fields=fields)
        values = taken[0] if period == 1 else weave(taken, [field.parity for field in fields])
        name = f"{self.name} at {picture}"
        return Clip(raster, lambda: still_stream(values, raster), name, self.mode, self.notes, values)

    def _past_end(self, picture: int) -> ParameterError:
        count = sum(1 for _ in self.pictures()) if self.length is None else self.length
        last = count - self.raster.period
        limit = f"the last whole frame begins at {last}" if last >= 0 else "it has no whole frame"
        return ParameterError(f"{self.name}: picture is {picture}; of its {count} pictures {limit}")


def still_clip(
    frame: NDArray, *, mode: str | None = None, name: str = "frame", notes: tuple[str, ...] = ()
) -> Clip:
    """Return the endless clip of one frame.

    Parameters:
        frame : (frame lines, samples, 3) float32 or float64 code values, woven when the mode is interlaced
        mode : a mode's name; None guesses it from the size
    Raises: ShapeError for a wrong shape, dtype or values that are not finite; ParameterError for a
        mode that does not fit
    """
    if getattr(frame, "ndim", 0) != 3 or frame.shape[2] != 3 or 0 in frame.shape:
        shape = getattr(frame, "shape", type(frame).__name__)
        raise _wrong_shape(name, shape)
    source = source_mode(frame.shape[0], frame.shape[1], mode)
    values = check_values(frame, source.raster, name=name)
    return Clip(
        source.raster,
        lambda: still_stream(values, source.raster),
        name,
        source.name,
        (*notes, *source.notes),
        values,
    )


def _wrong_shape(name: str, shape: object) -> Exception:
    from scalesim.errors import ShapeError

    return ShapeError(
        f"{name}: shape is {shape}; it must be (lines, samples, 3) code values, at least one of each"
    )
