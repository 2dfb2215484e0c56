"""Chart: what to play through a box, or on a tube, so that what comes back tells everything."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.charts._base import Chart
from scalesim.charts.counter.draw import counter_chart
from scalesim.charts.flicker import flicker_chart
from scalesim.charts.geometry import geometry_chart
from scalesim.charts.kernel import kernel_chart
from scalesim.charts.levels import levels_chart
from scalesim.charts.seen import SeenOverscan, overscan_from_seen, parse_readings
from scalesim.core.clip import Clip, still_clip
from scalesim.errors import ParameterError, nearest
from scalesim.result import File, Result, Table

CHARTS = ("kernel", "counter", "geometry", "levels", "flicker")
PAGES = ("luma", "colour")
ASPECTS = ("16:9", "4:3")


@dataclass(frozen=True, eq=False)
class ChartMade(Result):
    """A chart and its truth; a `Result`. `seen` is what the readings on a tube mean, when there are some."""

    chart: Chart
    seen: SeenOverscan | None = None

    kind = "chart"

    @property
    def title(self) -> str:
        """What it is called; what to look at, and the caution, are its sentences."""
        named = self.chart.title.partition(":")[0]
        return named if "chart" in named else f"{named} chart"

    @property
    def clip(self) -> Clip:
        """The chart as an endless still of its mode."""
        return still_clip(self.chart.frame, mode=self.chart.mode, name=self.chart.name)

    @property
    def pictures(self) -> Mapping[str, NDArray]:
        """The chart itself."""
        return {"png": self.chart.frame}

    def picture_file(self, name: str) -> str:
        """Return the file name of the chart."""
        return "chart.png"

    def files(self) -> dict[str, File]:
        """Return what is drawn where, as JSON."""
        text = json.dumps(self.chart.truth, indent=2, ensure_ascii=False, allow_nan=False)
        return {"truth": File("truth.json", text + "\n")}

    def sentences(self) -> list[str]:
        """Return what to look at, what to be careful of, and what was seen."""
        said = [f"{self.chart.title.removesuffix('.')}."]
        caution = str(self.chart.truth.get("caution", ""))
        if caution and caution not in said[0]:
            said.append(caution)
        if self.seen is not None:
            said.append(
                f"The tube hides: {self.seen.stage}. For a display's file: {self.seen.display_toml.strip()}."
            )
        return said

    def table(self) -> Table:
        """Return size and mode."""
        lines, samples = self.chart.frame.shape[:2]
        page = (("page", self.chart.page),) if self.chart.page else ()
        rows = (("mode", self.chart.mode), *page, ("size", f"{samples}x{lines}"))
        return Table(f"Chart {self.chart.name}", ("what", "value"), rows, ("left", "left"))

    def to_dict(self) -> dict[str, Any]:
        """Return the result's keys."""
        chart = self.chart
        return {
            "chart": chart.name,
            "mode": chart.mode,
            "page": chart.page,
            "title": chart.title,
            "lines": chart.frame.shape[0],
            "samples": chart.frame.shape[1],
            "seen": None if self.seen is None else self.seen.to_dict(),
            **({} if self.seen else {"why": {"seen": "no readings were given"}}),
        }


def chart(
    name: str,
    mode: str,
    *,
    page: str = "luma",
    aspect: str | None = None,
    code_range: str = "full",
    seen: str | None = None,
    chain: Chain | None = None,
) -> ChartMade:
    """Return a chart.

    Parameters:
        name : "kernel", "counter", "geometry", "levels" or "flicker"
        mode : of the source that plays it, such as "720p60" or "1080i60"
        page : of the kernel chart, "luma" or "colour"
        aspect : "4:3" keeps everything in the centre 3/4 of a wide picture; None fills it
        code_range : of the levels chart, "full" or "limited"
        seen : of the geometry chart, the first number read at each edge, ``top=9,bottom=7,left=30,right=28``
        chain : between the chart and the tube on which it was read; None when the tube is fed directly
    Raises: ParameterError for anything unknown
    """
    if name not in CHARTS:
        raise ParameterError(f"chart '{name}' is unknown; {nearest(str(name), CHARTS)}")
    if aspect is not None and aspect not in ASPECTS:
        raise ParameterError(f"aspect is {aspect!r}; {nearest(str(aspect), ASPECTS)}")
    if seen is not None and name != "geometry":
        raise ParameterError(f"seen: readings are those of the geometry chart, not of {name}")
    if name == "kernel":
        return ChartMade(kernel_chart(mode, page=page, aspect="4:3" if aspect == "4:3" else "full"))
    if name == "counter":
        return ChartMade(counter_chart(mode, aspect="4:3" if aspect == "4:3" else "full"))
    if name == "levels":
        return ChartMade(levels_chart(mode, aspect=aspect, value_range=code_range))
    if name == "flicker":
        return ChartMade(flicker_chart(mode, aspect=aspect))
    made = ChartMade(geometry_chart(mode, aspect=aspect))
    return made if seen is None else ChartMade(made.chart, _overscan(made, seen, aspect, chain))


def _overscan(made: ChartMade, seen: str, aspect: str | None, chain: Chain | None) -> SeenOverscan:
    readings = parse_readings(seen)
    if chain is None:
        return overscan_from_seen(readings, made.chart.mode, aspect=aspect)
    plan = chain.resolve(made.clip.raster)
    return overscan_from_seen(
        readings, made.chart.mode, aspect=aspect, geometry=plan.geometry, output=plan.output
    )
