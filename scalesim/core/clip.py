"""`Clip`: what a job is given. A still is an endless clip of one frame."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import islice
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.encoding import luma
from scalesim.core.landed import woven
from scalesim.core.later import Later
from scalesim.core.luma import Luma
from scalesim.core.mix import Mix
from scalesim.core.picture import Picture, check_values, still_stream, weave
from scalesim.core.planes import CodedPicture, Planes
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
    def luma(self) -> NDArray:
        """BT.709 luma of a still's frame, (frame lines, samples); found once."""
        if "luma" not in self.found:
            self.found["luma"] = self._luma()
        values: NDArray = self.found["luma"]
        return values

    def _luma(self) -> NDArray:
        assert self.frame is not None
        return luma(self.frame)

    @property
    def looked_at(self) -> NDArray | Later:
        """The frame of a still, or what gives it when its values are asked for; either has a `shape`."""
        assert self.frame is not None
        return self.frame

    def afresh(self) -> Clip:
        """Return the same clip, nothing found out."""
        return replace(self)

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
        taken = list(islice(self.pictures(), picture, picture + period))
        if len(taken) < period:
            raise self._past_end(picture)
        phases = [(picture + k) % period for k in range(period)]
        fields = tuple(self.raster.fields[phase] for phase in phases)
        raster = self.raster.with_(fields=fields)
        name = f"{self.name} at {picture}"
        return still_of(taken, raster, name, self.mode, self.notes)

    def _past_end(self, picture: int) -> ParameterError:
        count = sum(1 for _ in self.pictures()) if self.length is None else self.length
        last = count - self.raster.period
        limit = f"the last whole frame begins at {last}" if last >= 0 else "it has no whole frame"
        return ParameterError(f"{self.name}: picture is {picture}; of its {count} pictures {limit}")


class CodedStill(Clip):
    """The endless still clip of one stored frame.

    What a chain makes of it, and its luma, come from its planes; only who asks for `frame` has its colours
    made, of which there are eight times as many bytes.

    Parameters:
        planes : of the frame, or of its two fields in the order of time
        raster, name, mode, notes : as of any `Clip`
    """

    def __init__(
        self,
        planes: Sequence[Planes],
        raster: Raster,
        name: str = "frame",
        mode: str = "custom",
        notes: tuple[str, ...] = (),
    ) -> None:
        self.planes: tuple[Planes, ...]
        given = {"planes": tuple(planes), "raster": raster, "name": name, "mode": mode, "notes": notes}
        for key, value in {**given, "length": None, "lumas": None}.items():
            object.__setattr__(self, key, value)

    @property
    def pictures(self) -> Callable[[], Iterator[Picture]]:
        """What gives its pictures; made anew, as a still that held it would outlive its use."""
        return self._stream

    @cached_property
    def frame(self) -> NDArray[np.float32]:
        """The whole frame, (frame lines, samples, 3) code values, woven if it has fields."""
        return self.whole([planes.values() for planes in self.planes])

    @property
    def is_still(self) -> bool:
        """True."""
        return True

    @property
    def looked_at(self) -> StoredFrame:
        """What is sent, made when its values are asked for."""
        return StoredFrame(self)

    def afresh(self) -> CodedStill:
        """Return the same still, nothing found out."""
        return CodedStill(self.planes, self.raster, self.name, self.mode, self.notes)

    def _luma(self) -> NDArray[np.float32]:
        return self.whole([planes.luma() for planes in self.planes])

    def whole(self, fields: list[NDArray[np.float32]]) -> NDArray[np.float32]:
        """Return the frame of fields; of colours or of luma alone."""
        if len(fields) == 1:
            return fields[0]
        parities = [field.parity for field in self.raster.fields]
        deep = [values.reshape(*values.shape[:2], -1) for values in fields]
        return weave(deep, parities).reshape(-1, *fields[0].shape[1:])

    def _stream(self) -> Iterator[Picture]:
        index = 0
        while True:
            planes = self.planes[index % len(self.planes)]
            again = len(self.planes) == 1
            yield CodedPicture(planes, self.raster, index / self.raster.rate, again=again)
            index += 1


class StoredFrame(Later):
    """The frame of a stored still: its luma, and what is made of that alone, comes without its colours."""

    def __init__(self, still: CodedStill) -> None:
        lines, samples, colours = still.planes[0].shape
        shape = (lines * len(still.planes), samples, colours)
        super().__init__(shape, lambda: still.frame, lambda: still.luma)
        self._still = still

    @property
    def is_luma(self) -> bool:
        """Whether one plane is the luma of the whole frame; then `means` and `through` are quick."""
        return len(self._still.planes) == 1 and self._still.planes[0].is_luma

    def means(self, width: int) -> NDArray[np.float32]:
        """Return the means of luma over `width` samples in a row, (lines, samples // width)."""
        return self._still.planes[0].means(width)

    def through(self, mix: Mix) -> NDArray[np.float32]:
        """Return mixed lines of luma, (lines out, samples); not to be written to."""
        return self._still.planes[0].level_through(mix)

    def kept(self, mix: Mix) -> NDArray[np.float32] | None:
        """Return the same where it was made before, else None."""
        return self._still.planes[0].kept(mix)


def still_of(
    pictures: Sequence[Picture], raster: Raster, name: str, mode: str, notes: tuple[str, ...]
) -> Clip:
    """Return the endless still of a frame: of its one picture, or its two fields in the order of time."""
    planes = [each.planes for each in pictures if isinstance(each, CodedPicture)]
    if len(planes) == len(pictures):
        return CodedStill(planes, raster, name, mode, notes)
    whole = woven([each.values for each in pictures], raster)
    return Clip(raster, lambda: still_stream(whole, raster), name, mode, notes, whole)


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
