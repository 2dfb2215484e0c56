"""Stages that place the picture on its raster: position, size, fit, overscan.

Sizes are taken about a place on the *screen*, so both fields of an interlaced picture are scaled
about the same place and still agree afterwards.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from scalesim.core.affine import IDENTITY, Affine
from scalesim.core.build import resample_lines
from scalesim.core.kernel import KERNELS
from scalesim.core.operator import FieldOperator, mixing, still
from scalesim.core.raster import Raster, Window
from scalesim.errors import ParameterError
from scalesim.schema import param
from scalesim.stages._base import LinearStage, Maps, stage

ANCHORS: dict[str, tuple[float, float]] = {
    "centre": (0.5, 0.5),
    "top": (0.0, 0.5),
    "bottom": (1.0, 0.5),
    "left": (0.5, 0.0),
    "right": (0.5, 1.0),
    "top-left": (0.0, 0.0),
    "top-right": (0.0, 1.0),
    "bottom-left": (1.0, 0.0),
    "bottom-right": (1.0, 1.0),
}
"""The place that stays put, as shares of the height and width."""


def _kernel_param() -> Any:
    return param(
        "linear", type="choice", choices=tuple(KERNELS), doc="kernel that interpolates between lines"
    )


class _Placement(LinearStage):
    """A stage that is nothing but a move or zoom of the picture within its raster, black outside."""

    kernel: str

    def operator(self, before: Raster) -> FieldOperator:
        """Return the kernels that put the picture where `maps` says."""
        line_maps, sample_map = self.maps(before)
        across = None if sample_map == IDENTITY else self._matrix(before.samples, sample_map)
        return FieldOperator(
            tuple(
                mixing(None if m == IDENTITY else self._matrix(before.lines, m), across, encoding="code")
                for m in line_maps
            )
        )

    def _matrix(self, size: int, spans: Affine) -> Any:
        return resample_lines(size, size, spans.scale, spans.offset, kernel=self.kernel, edge="black")


def zoom(scale: float, anchor: float) -> Affine:
    """Return the map of a picture drawn `scale` times as large about the coordinate `anchor`."""
    return Affine(1.0 / scale, anchor - anchor / scale)


@stage("position", example={"lines": 1.5})
@dataclass(frozen=True, kw_only=True)
class Position(_Placement):
    """Shift the picture: `lines=+n` moves it down, so what was on line i appears on line i + n.

    On an interlaced raster `lines` counts field lines. What leaves the raster is lost; what comes in
    is black.
    """

    lines: float = param(
        0.0, unit="lines", at_least=-4320, at_most=4320, doc="how far the picture moves down"
    )
    samples: float = param(0.0, unit="samples", at_least=-8192, at_most=8192, doc="how far it moves right")
    kernel: str = _kernel_param()

    def maps(self, before: Raster) -> Maps:
        """Return the shift as maps."""
        return (Affine(1.0, -self.lines),), Affine(1.0, -self.samples)


@stage("size", example={"height": 90, "width": 95})
@dataclass(frozen=True, kw_only=True)
class Size(_Placement):
    """Shrink or stretch the picture within its raster, about `anchor`.

    With `keep_aspect=on` the dimension that is left at 100 follows the other.
    """

    height: float = param(100.0, unit="percent", at_least=5, at_most=400, doc="height of the picture")
    width: float = param(100.0, unit="percent", at_least=5, at_most=400, doc="width of the picture")
    anchor: str = param("centre", type="choice", choices=tuple(ANCHORS), doc="the place that stays put")
    keep_aspect: bool = param(False, type="switch", doc="let width follow height, or height width")
    kernel: str = _kernel_param()

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.keep_aspect and self.height != self.width and 100.0 not in (self.height, self.width):
            raise ParameterError(
                f"size: height is {self.height:g} and width {self.width:g} with keep_aspect=on; "
                "give only one of them, the other follows"
            )

    def maps(self, before: Raster) -> Maps:
        """Return the zoom as maps."""
        height, width = self.height / 100, self.width / 100
        if self.keep_aspect:
            height = width = height if height != 1.0 else width
        down, across = ANCHORS[self.anchor]
        lines = before.on_screen(zoom(height, down * before.landed_lines))
        return lines, zoom(width, across * before.samples)


@stage("fit", example={"aspect": "4:3", "how": "letterbox"})
@dataclass(frozen=True, kw_only=True)
class Fit(_Placement):
    """Show a picture of one aspect on a tube of another.

    - `squeeze`: the whole raster fills the tube; shapes are stretched (16:9 on 4:3: taller by 4/3).
    - `letterbox`: the whole picture at its own shape, black bars around it.
    - `crop`: the tube filled at the picture's own shape, the sides (or top and bottom) cut.
    """

    aspect: Fraction = param(Fraction(4, 3), type="aspect", doc="shape of the tube")
    how: str = param(
        "squeeze", type="choice", choices=("squeeze", "letterbox", "crop"), doc="how the shapes meet"
    )
    kernel: str = _kernel_param()

    def raster(self, before: Raster) -> Raster:
        """Return the raster, now shaped like the tube."""
        return before.with_(aspect=self.aspect)

    def maps(self, before: Raster) -> Maps:
        """Return the zoom about the centre as maps."""
        if self.how == "squeeze":
            return (IDENTITY,), IDENTITY
        wider = float(before.aspect / self.aspect)
        height, width = 1.0 / wider, wider
        # letterbox shrinks the dimension that has room, crop stretches the other beyond the raster
        shrink = self.how == "letterbox"
        lines = zoom(height, before.landed_lines / 2) if (height < 1) == shrink else IDENTITY
        samples = zoom(width, before.samples / 2) if (width < 1) == shrink else IDENTITY
        return before.on_screen(lines), samples


@stage("overscan", example={"percent": 6})
@dataclass(frozen=True, kw_only=True)
class Overscan(LinearStage):
    """Mark what the tube hides; the raster itself is not cropped.

    `percent` is hidden of each dimension in total, half on either side; giving any of `top`,
    `bottom`, `left`, `right` (lines and samples of this raster) replaces it.
    """

    percent: float = param(
        5.0, unit="percent", at_least=0, at_most=60, doc="hidden of each dimension, in total"
    )
    top: float | None = param(None, unit="lines", at_least=0, doc="lines hidden at the top")
    bottom: float | None = param(None, unit="lines", at_least=0, doc="lines hidden at the bottom")
    left: float | None = param(None, unit="samples", at_least=0, doc="samples hidden at the left")
    right: float | None = param(None, unit="samples", at_least=0, doc="samples hidden at the right")

    def __post_init__(self) -> None:
        super().__post_init__()
        sides = [name for name in ("top", "bottom", "left", "right") if getattr(self, name) is not None]
        if sides and self.percent != 5.0:
            raise ParameterError(
                f"overscan: percent is {self.percent:g} beside {', '.join(sides)}; "
                "give percent, or the sides in lines and samples"
            )

    def raster(self, before: Raster) -> Raster:
        """Return the raster with its visible window narrowed."""
        top, bottom, left, right = self._shares(before)
        for name, hidden, size in (
            ("top + bottom", top + bottom, before.lines),
            ("left + right", left + right, before.samples),
        ):
            if hidden >= 1:
                raise ParameterError(
                    f"overscan: {name} is {hidden * size:g}; it must be below the {size} there are "
                    "(hide less, or something must stay visible)"
                )
        seen = before.visible
        window = Window(
            max(seen.top, top), min(seen.bottom, 1 - bottom), max(seen.left, left), min(seen.right, 1 - right)
        )
        if window.top >= window.bottom or window.left >= window.right:
            raise ParameterError("overscan: two overscans together hide the whole picture; hide less")
        return before.with_(visible=window)

    def operator(self, before: Raster) -> FieldOperator:
        """Return the identity: only what is seen changes."""
        return still()

    def _shares(self, before: Raster) -> tuple[float, float, float, float]:
        sides = (self.top, self.bottom, self.left, self.right)
        if all(side is None for side in sides):
            return (self.percent / 200,) * 4
        sizes = (before.lines, before.lines, before.samples, before.samples)
        top, bottom, left, right = ((side or 0.0) / size for side, size in zip(sides, sizes, strict=True))
        return top, bottom, left, right
