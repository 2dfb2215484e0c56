"""A plot as data: panels with axes, series of marks or lines, a map of values, rules and labels.

Whoever draws it decides on letters and exact colours; colours here are roles: a number picks a hue (and the
shape that goes with it, so that no colour is needed to tell series apart), "ink", "quiet" and "rule" are
those of the text, of what stands back, and of thin lines.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, is_dataclass
from typing import Any, Literal

Role = int | Literal["ink", "quiet", "rule"]
Value = float | None


@dataclass(frozen=True)
class Axis:
    """An axis.

    Parameters:
        label : with its unit
        low, high : its ends; None leaves them to the data
        ticks : (place, text) where the axis holds words instead of numbers; () for numbers
        grid : whether thin lines cross the panel at its ticks
        downward : whether values grow downward (rows of names), or to the left
        line : whether the axis itself is drawn
    """

    label: str
    low: Value = None
    high: Value = None
    ticks: tuple[tuple[float, str], ...] = ()
    grid: bool = False
    downward: bool = False
    line: bool = True


@dataclass(frozen=True)
class Series:
    """Points that belong together.

    Parameters:
        x, y : places, None where there is none
        label : in the legend; "" leaves it out
        style : "line", "dots", "both", "ticks" (short strokes along `y`), "across" (along `x`), "stems"
            (dots on strokes from 0)
        role : hue or standing; mark : number of the shape, None for the one of the hue
        hollow : marks without filling; alpha : how much covers what lies below
        error : half the length of an error bar on y, () for none
        size : of marks in dots, or width of the line
        texts : a label beside each point, () for none
        end : its name, written beside the panel at the height of its last point
        placed : where these stand: "free" of each other, or "above" or "below" their point
        ringed : marks have a light rim, to stand out on a map
    """

    x: tuple[Value, ...]
    y: tuple[Value, ...]
    label: str = ""
    style: Literal["line", "dots", "both", "ticks", "across", "stems"] = "dots"
    role: Role = 0
    mark: int | None = None
    hollow: bool = False
    alpha: float = 1.0
    error: tuple[float, ...] = ()
    size: float = 0.0
    texts: tuple[str, ...] = ()
    end: str = ""
    ringed: bool = False
    placed: Literal["free", "above", "below"] = "free"


@dataclass(frozen=True)
class Rule:
    """A thin line across a panel at a value of one axis, with words at its end."""

    axis: Literal["x", "y"]
    at: float
    text: str = ""
    dashed: bool = False
    role: Role = "rule"


@dataclass(frozen=True)
class Heat:
    """A map of values over cells; `values[i][j]` lies at x cell i and y cell j, None where there is none.

    `low` and `high` are the ends of its colours; None leaves them to the data.
    """

    x_edges: tuple[float, ...]
    y_edges: tuple[float, ...]
    values: tuple[tuple[Value, ...], ...]
    label: str
    reverse: bool = False
    low: Value = None
    high: Value = None


@dataclass(frozen=True)
class Panel:
    """One panel: two axes, perhaps a third above the panel, and what is drawn on them in this order."""

    x: Axis
    y: Axis
    series: tuple[Series, ...] = ()
    rules: tuple[Rule, ...] = ()
    heat: Heat | None = None
    above: Axis | None = None


@dataclass(frozen=True)
class Plot:
    """A plot: panels below each other that share their x axis, a title and what to see in it.

    Parameters:
        name : stem of its file, unique in a result
        size : (width, height) in dots of a page at its usual width
        legend : columns of the legend, 0 for none
        wide : whether it takes a page's whole width
        heading : whether the title is drawn above it (it is always told to who cannot see it)
    """

    name: str
    title: str
    caption: str
    panels: tuple[Panel, ...]
    size: tuple[int, int] = (900, 460)
    legend: int = 0
    wide: bool = False
    heading: bool = False

    def to_dict(self) -> dict[str, Any]:
        """Return the plot as plain values, for documents and for pages that draw it themselves."""
        found: dict[str, Any] = plain(self)
        return found


def plain(value: Any) -> Any:
    """Return nested frozen dataclasses as mappings and lists of plain values."""
    if is_dataclass(value) and not isinstance(value, type):
        return {each.name: plain(getattr(value, each.name)) for each in fields(value)}
    if isinstance(value, tuple | list):
        return [plain(each) for each in value]
    return value
