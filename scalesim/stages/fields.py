"""Stages that make fields of frames, frames of fields, and change where fields land."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from scalesim.core.affine import IDENTITY, Affine
from scalesim.core.build import resample_lines, take_field
from scalesim.core.operator import FieldOperator, Operator, mixing, still
from scalesim.core.picture import Picture, weave
from scalesim.core.raster import BOTTOM_FIRST, PROGRESSIVE, TOP_FIRST, Field, Raster
from scalesim.errors import ParameterError
from scalesim.schema import param
from scalesim.stages._base import FrameStage, LinearStage, Maps, Nature, stage

PARITIES = {"top": 0, "bottom": 1}


def _need_two_fields(kind: str, before: Raster, remedy: str) -> None:
    if before.period != 2:
        raise ParameterError(f"{kind}: got {before.describe()}; it needs two fields ({remedy})")


def _need_interlaced(kind: str, before: Raster, remedy: str) -> None:
    if before.scan != "interlaced":
        raise ParameterError(f"{kind}: got {before.describe()}; it needs an interlaced raster ({remedy})")


@stage("interlace", example={"first": "top"})
@dataclass(frozen=True, kw_only=True)
class Interlace(LinearStage):
    """Turn frames into alternating fields: picture k gives the field of parity k mod 2, the rest is lost.

    With `first=bottom` the order is reversed. One field is made of each frame, so the rate of
    pictures stays and the lines halve.
    """

    first: str = param("top", type="choice", choices=tuple(PARITIES), doc="which field comes first in time")

    def raster(self, before: Raster) -> Raster:
        """Return the raster of fields; refuses fields and odd numbers of lines."""
        if before.period != 1:
            raise ParameterError(
                f"interlace: got {before.describe()}; it needs a progressive picture (deinterlace first)"
            )
        if before.lines % 2:
            raise ParameterError(
                f"interlace: got {before.lines} lines; the number must be even so that both fields are equal "
                f"(scale to {before.lines - 1} or {before.lines + 1} lines first)"
            )
        return before.with_(
            lines=before.lines // 2, fields=TOP_FIRST if self.first == "top" else BOTTOM_FIRST
        )

    def maps(self, before: Raster) -> Maps:
        """Return one map per field: field line i of parity q is frame line 2i + q."""
        return tuple(Affine(2.0, field.parity - 0.5) for field in self.raster(before).fields), IDENTITY

    def operator(self, before: Raster) -> FieldOperator:
        """Return the choice of each field's lines."""
        fields = self.raster(before).fields
        return FieldOperator(tuple(Operator(take_field(before.lines, field.parity)) for field in fields))


@stage("deinterlace", example={"how": "bob"})
@dataclass(frozen=True, kw_only=True)
class Deinterlace(LinearStage, FrameStage):
    """Turn fields into frames.

    - `weave`: each pair of fields becomes one frame, their lines alternating; half the rate.
    - `bob`: each field becomes a frame, the missing lines the mean of their neighbours; same rate.
    - `blend`: each pair becomes the mean of its two bobbed frames; half the rate.
    """

    how: str = param(
        "weave", type="choice", choices=("weave", "bob", "blend"), doc="how fields become frames"
    )

    @property
    def nature(self) -> Nature:
        """Linear when each frame comes from one field, else a frame stage."""
        return "linear" if self.how == "bob" else "frame"

    def raster(self, before: Raster) -> Raster:
        """Return the raster of frames."""
        _need_interlaced(self.kind, before, "put it after interlace, or start from an interlaced mode")
        rate = before.rate if self.how == "bob" else before.rate / 2
        return before.with_(lines=2 * before.lines, fields=PROGRESSIVE, rate=rate)

    def maps(self, before: Raster) -> Maps:
        """Return where frame lines look in each field."""
        return tuple(Affine(0.5, 0.25 - field.parity / 2) for field in before.fields), IDENTITY

    def operator(self, before: Raster) -> FieldOperator:
        """Return the bob's interpolation of each field, in code values."""
        maps, _ = self.maps(before)
        return FieldOperator(
            tuple(
                mixing(resample_lines(before.lines, 2 * before.lines, m.scale, m.offset), encoding="code")
                for m in maps
            )
        )

    def apply(self, pictures: Iterator[Picture], before: Raster) -> Iterator[Picture]:
        """Yield one frame per pair of fields; a last field without its partner is left out."""
        after = self.raster(before)
        parities = [field.parity for field in before.fields]
        bob = self.operator(before)
        for first in pictures:
            second = next(pictures, None)
            if second is None:
                return
            if self.how == "weave":
                frame = weave([first.values, second.values], parities)
            else:
                frame = (bob(first.values, 0) + bob(second.values, 1)) * np.asarray(0.5, first.values.dtype)
            yield Picture(frame, after, first.time)


@stage("keep-field", example={"parity": "top"})
@dataclass(frozen=True, kw_only=True)
class KeepField(FrameStage):
    """Keep one field as a progressive picture and throw the other away.

    The kept field is shown again in the other's place, so the rate of pictures stays and 480i
    becomes 240p.
    """

    parity: str = param("top", type="choice", choices=tuple(PARITIES), doc="which field is kept")

    def raster(self, before: Raster) -> Raster:
        """Return the progressive raster of one field's lines."""
        _need_two_fields(self.kind, before, "put it after interlace, or start from an interlaced mode")
        return before.with_(fields=PROGRESSIVE)

    def phases_from(self, before: Raster) -> tuple[int, ...]:
        """Return the one input phase that is kept."""
        parities = [field.parity for field in before.fields]
        return (parities.index(PARITIES[self.parity]),)

    def reach(self, before: Raster) -> Maps:
        """Return the pairs of frame lines: a kept line stands for itself and the one thrown away."""
        return (Affine(1.0, 0.25 - PARITIES[self.parity] / 2),), IDENTITY

    def apply(self, pictures: Iterator[Picture], before: Raster) -> Iterator[Picture]:
        """Yield the latest kept field for each picture, from the first kept one on."""
        after = self.raster(before)
        (kept_phase,) = self.phases_from(before)
        kept = None
        for index, picture in enumerate(pictures):
            if index % before.period == kept_phase:
                kept = picture.values
            if kept is not None:
                yield Picture(kept, after, picture.time)


@stage("field-only", example={"pair": "down"})
@dataclass(frozen=True, kw_only=True)
class FieldOnly(LinearStage):
    """Make both fields land on one set of scan lines, their content untouched.

    With `pair=down` frame lines 2k and 2k+1 share a scan line (landings 0, 0); with `pair=up` lines
    2k and 2k-1 do (landings 0, 1). It states an outcome, whatever brings it about; `resync` and a display
    with `[vertical]` give the outcome as a consequence, and cannot stand in a chain with it.
    """

    pair: str = param(
        "down", type="choice", choices=("down", "up"), doc="which frame lines share a scan line"
    )

    def raster(self, before: Raster) -> Raster:
        """Return the raster with the bottom field's landing moved by half a line."""
        _need_interlaced(self.kind, before, "put interlace before it")
        if before.sync is not None:
            raise ParameterError(
                "field-only: it states where the fields land, and after resync that follows from a display's "
                "[vertical]; leave one of them out"
            )
        bottom = Fraction(0 if self.pair == "down" else 1)
        landings = {0: Fraction(0), 1: bottom}
        return before.with_(fields=tuple(Field(f.parity, landings[f.parity]) for f in before.fields))

    def operator(self, before: Raster) -> FieldOperator:
        """Return the identity: only the landing changes."""
        return still()
