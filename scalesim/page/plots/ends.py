"""Names of lines beside a panel, at the height where each line ends, none on another."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from scalesim.page.plots.svg import QUIET, clean
from scalesim.plot import Series

_LINE = 15.0
"""Dots that a name takes of the height."""
_AWAY = 8.0
"""Dots from the panel's right side to the names."""


def spread(wanted: Sequence[float], apart: float, low: float, high: float) -> list[float]:
    """Return places in the order of `wanted`, each as near to it as lets all be `apart` and within low..high.

    More than fit are spread evenly from low to high.
    """
    order = sorted(range(len(wanted)), key=lambda k: (wanted[k], k))
    apart = min(apart, (high - low) / max(1, len(wanted) - 1))
    placed = [0.0] * len(wanted)
    least = low
    for number, k in enumerate(order):
        most = high - apart * (len(order) - 1 - number)
        placed[k] = min(max(wanted[k], least), most)
        least = placed[k] + apart
    return placed


def write_ends(axes: Any, lines: Sequence[Series], longest: int) -> None:
    """Write each line's name at the right of the panel, with a thin line to its end where it had to move."""
    ends = [_last(series) for series in lines]
    known = [(series, end) for series, end in zip(lines, ends, strict=True) if end is not None]
    if not known:
        return
    points = axes.transData.transform([end for _, end in known])
    box = axes.get_window_extent()
    heights = spread([float(y) for _, y in points], _LINE, box.y0 + 5, box.y1 - 5)
    for (series, _), point, height in zip(known, points, heights, strict=True):
        name = clean(series.end, longest)
        place = (box.x1 + _AWAY, height)
        axes.annotate(name, place, xycoords="figure points", ha="left", va="center", annotation_clip=False)
        stroke = {"arrowstyle": "-", "color": QUIET, "linewidth": 0.6, "shrinkA": 0, "shrinkB": 0}
        near = (box.x1 + _AWAY - 2, height)
        axes.annotate("", tuple(point), near, "figure points", "figure points", arrowprops=stroke)


def _last(series: Series) -> tuple[float, float] | None:
    """Return the last point of a line that has one."""
    points = [(x, y) for x, y in zip(series.x, series.y, strict=True) if x is not None and y is not None]
    return points[-1] if points else None
