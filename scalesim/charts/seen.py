"""From the four numbers read off the geometry chart on a tube to the overscan they mean.

The rulers count lines and samples of the *source*, from the edges of the chart's area. An overscan
stage counts lines and samples of the raster it stands on, which after a chain of scalers are fewer. The
maps between the two are the chain's own, or a stated ratio, or none for a tube fed directly.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from scalesim.core.affine import Affine, mean_affine
from scalesim.core.geometry import Geometry
from scalesim.core.raster import Raster
from scalesim.draw.sheet import blank_sheet
from scalesim.errors import ParameterError, nearest
from scalesim.schema import Param, convert

SIDES = ("top", "bottom", "left", "right")

_READING = Param("number", at_least=0, remedy="the first whole one seen at that edge, as on the ruler")
_RATIO = Param("number", above=0)


@dataclass(frozen=True)
class SeenOverscan:
    """What a tube hides.

    Parameters:
        sides : side -> lines (top, bottom) or samples (left, right) of the output raster
        percent : side -> the same in percent of the output raster's height or width
        lines, samples : size of the output raster; lines of a field if it has fields
    """

    sides: Mapping[str, float]
    percent: Mapping[str, float]
    lines: float
    samples: float

    @property
    def stage(self) -> str:
        """The overscan as a stage, such as ``overscan top=3 bottom=7/3 left=30 right=28``."""
        return "overscan " + " ".join(f"{side}={_number(self.sides[side])}" for side in SIDES)

    @property
    def display_toml(self) -> str:
        """The key for a display's file: both edges together, the mean of height and width, in percent."""
        total = (
            self.percent["top"] + self.percent["bottom"] + self.percent["left"] + self.percent["right"]
        ) / 2
        return f"overscan_percent = {total:.2f}\n"

    def to_dict(self) -> dict[str, object]:
        """Return all of it by name."""
        return {
            "stage": self.stage,
            "display_toml": self.display_toml,
            "sides": dict(self.sides),
            "percent": dict(self.percent),
            "lines": self.lines,
            "samples": self.samples,
        }


def parse_readings(text: str) -> dict[str, float]:
    """Return the readings in a text such as ``top=9,bottom=7,left=30,right=28``.

    Commas or blanks separate them. Raises: ParameterError for what is no ``side=number``, an unknown
    side or one given twice; `overscan_from_seen` checks the rest
    """
    found: dict[str, float] = {}
    for part in re.split(r"[,\s]+", text.strip(", \t\n")):
        side, equals, number = part.partition("=")
        side = side.lower()
        if not equals:
            raise ParameterError(f"seen: {part!r} is no side=number; give top=9,bottom=7,left=30,right=28")
        if side not in SIDES:
            raise ParameterError(f"seen: {side!r} is no side; {nearest(side, SIDES)}")
        if side in found:
            raise ParameterError(f"seen: {side} is given twice; give each side once")
        found[side] = convert(f"seen: {side}", number, _READING)
    return found


def overscan_from_seen(
    readings: Mapping[str, float],
    mode: str,
    *,
    aspect: str | None = None,
    geometry: Geometry | None = None,
    output: Raster | None = None,
    ratio: tuple[float, float] | None = None,
) -> SeenOverscan:
    """Return the overscan that the readings mean on the raster that reaches the tube.

    Parameters:
        readings : top, bottom in frame lines and left, right in samples, as printed on the rulers
        mode, aspect : those of the chart
        geometry, output : of the chain between chart and tube: where its output looks on the source, and
            its raster; both or neither
        ratio : source frame lines per output line, and source samples per output sample, of a chain
            that shows the whole raster
    With none of these the tube is fed the source itself. A side that the chain itself cuts off further
    in than the tube hides comes out as 0.

    Raises: ParameterError for a missing, unknown, negative or too large reading, or a ratio not above 0
    """
    sheet = blank_sheet(mode, aspect, 0.0)
    area, high, wide = sheet.area, sheet.mode.frame_lines, sheet.mode.samples
    readings = _checked(readings, sheet.lines, sheet.samples)
    if (geometry is None) != (output is None):
        raise ParameterError("seen: a geometry goes with the raster of the output; give both, or a ratio")
    if geometry is not None and output is not None:
        # The blocks: the first line of 240 stands for the first 3 of 720, whichever of them it shows.
        down, across = mean_affine(geometry.blocks), geometry.samples
        lines, samples = float(output.lines), float(output.samples)
    else:
        per_line, per_sample = ratio or (2.0 if sheet.mode.interlaced else 1.0, 1.0)
        per_line = convert("seen: the ratio of lines", per_line, _RATIO)
        per_sample = convert("seen: the ratio of samples", per_sample, _RATIO)
        down, across = Affine(per_line), Affine(per_sample)
        lines, samples = high / per_line, wide / per_sample
    up, over = down.inverse(), across.inverse()
    sides = {
        "top": up(area.top + readings["top"]),
        "bottom": lines - up(area.bottom - readings["bottom"]),
        "left": over(area.left + readings["left"]),
        "right": samples - over(area.right - readings["right"]),
    }
    sides = {side: max(0.0, float(round(hidden, 9))) for side, hidden in sides.items()}
    size = {"top": lines, "bottom": lines, "left": samples, "right": samples}
    for first, second in (("top", "bottom"), ("left", "right")):
        hidden = sides[first] + sides[second]
        if hidden >= size[first]:
            raise ParameterError(
                f"seen: {first} + {second} come to {hidden:g} of {size[first]:g} on the output; "
                "something must stay visible (was the chart made for this mode and chain?)"
            )
    percent = {side: 100 * sides[side] / size[side] for side in SIDES}
    return SeenOverscan(sides, percent, lines, samples)


def _checked(readings: Mapping[str, float], lines: int, samples: int) -> dict[str, float]:
    """Return the four readings as numbers."""
    for side in readings:
        if side not in SIDES:
            raise ParameterError(f"seen: {side!r} is no side; {nearest(str(side), SIDES)}")
    missing = [side for side in SIDES if side not in readings]
    if missing:
        raise ParameterError(f"seen: {', '.join(missing)} is missing; read all four edges of the chart")
    found = {side: convert(f"seen: {side}", readings[side], _READING) for side in SIDES}
    for side, value in found.items():
        size = lines if side in ("top", "bottom") else samples
        unit = "lines" if side in ("top", "bottom") else "samples"
        if value > size / 2:
            raise ParameterError(
                f"seen: {side} is {value:g} {unit}; it must be at most {size / 2:g}, half the chart "
                "(the ruler counts from the nearer edge)"
            )
    return found


def _number(value: float) -> str:
    return f"{value:.4f}".rstrip("0").rstrip(".")
