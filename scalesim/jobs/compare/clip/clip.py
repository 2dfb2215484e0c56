"""A comparison clip: two to four chains or captures, as they move, beside or below each other, or wiped."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from scalesim.chain import Chain, as_chain
from scalesim.chain.resolve import Resolved
from scalesim.core.clip import Clip
from scalesim.core.raster import Raster, Window
from scalesim.errors import ParameterError
from scalesim.jobs.compare.clip.answer import ComparisonClip
from scalesim.jobs.compare.clip.captures import CapturedClip, panel_of
from scalesim.jobs.compare.clip.layout import Layout, places_for
from scalesim.jobs.compare.clip.panel import Panel
from scalesim.jobs.compare.clip.part import part_for
from scalesim.jobs.compare.clip.shown import Shown
from scalesim.jobs.predict.outcome import TUBES, check_tube
from scalesim.tube.cut import shown_window
from scalesim.tube.display import Display, display_named

MOST_SECONDS = 3600.0
MOST_TIMES = 60
STILL_S = 4.0
"""Seconds of a still, which has no end of its own."""


def comparison_clip(
    chains: Mapping[str, Chain | str],
    source: Clip,
    *,
    captures: Iterable[CapturedClip] = (),
    layout: Layout = "beside",
    display: Display | str | None = None,
    tube: str = "4:3",
    size: int = 1080,
    crop: tuple[int, int, int, int] | None = None,
    zoom: int | None = None,
    seconds: float | None = None,
    slow: int = 1,
    alone: bool = False,
) -> ComparisonClip:
    """Return a comparison clip, whose pictures are made as they are asked for.

    Parameters:
        chains : label -> chain or its text; with the captures two to four
        source : a moving clip; a still shows 4 seconds if `seconds` says nothing else
        captures : captured clips of the same scene
        layout : "beside", "stacked" or "wipe"
        display : a tube, or its key, whose glass is shown; None shows the raster, every line whole dots
        tube : shape of the screen on the raster, "4:3" or "16:9"; a display has its own
        size : lines of the frame, 1080 or 2160
        crop : (top, left, height, width) in lines and samples of the source: as large as shows all of it
        zoom : dots of a line of the raster with the fewest; None chooses
        seconds : of the source; None for all of it
        slow : how many times each picture is shown, 1 to 60
        alone : show each field by itself
    Raises: ParameterError; NotIdentifiable for a capture of something else
    """
    _check(slow, seconds)
    parsed = {label: as_chain(chain) for label, chain in chains.items()}
    boxes = tuple(captures)
    places = places_for(layout, len(parsed) + len(boxes), size)
    if not parsed:
        raise ParameterError("captures stand beside a chain; give at least one --chain")
    glass = display_named(display) if isinstance(display, str) else display
    plans = {label: chain.resolve(source.raster) for label, chain in parsed.items()}
    first = next(iter(plans.values()))
    ground = (first.output, first.geometry)
    panels = [_of_chain(label, plan) for label, plan in plans.items()]
    for panel, plan in zip(panels, plans.values(), strict=True):
        if not alone:
            _check_length(panel, plan, source)
    panels += [panel_of(box, source, ground) for box in boxes]
    aspect = TUBES[check_tube(tube)] if glass is None else glass.aspect
    part = part_for(
        [panel.raster.landed_lines for panel in panels],
        aspect,
        _seen([panel.raster for panel in panels], glass),
        places.rooms[0],
        layout,
        zoom=zoom,
        crop=None if crop is None else _on_screen(crop, first, source),
    )
    if seconds is None and source.is_still:
        seconds = STILL_S
    shown = Shown(
        source=source,
        seconds=seconds,
        plans=tuple(plans.values()),
        panels=tuple(panels),
        part=part,
        places=places,
        layout=layout,
        display=glass,
        aspect=aspect,
        slow=slow,
        alone=alone,
    )
    return ComparisonClip(parsed, shown)


def _check(slow: int, seconds: float | None) -> None:
    if isinstance(slow, bool) or not isinstance(slow, int) or not 1 <= slow <= MOST_TIMES:
        raise ParameterError(f"slow is {slow!r}; each picture is shown 1 to {MOST_TIMES} times")
    if seconds is not None and not 0 < seconds <= MOST_SECONDS:
        raise ParameterError(f"seconds is {seconds:g}; it must be above 0 and at most {MOST_SECONDS:g}")


def _check_length(panel: Panel, plan: Resolved, source: Clip) -> None:
    """Raise ParameterError for a clip too short for one picture of a chain."""
    if source.length is None:
        return
    made = int(source.length * plan.pace)
    if made < panel.cycle:
        raise ParameterError(
            f"{source.name}: {panel.label} makes {made} of it, and {panel.cycle} together are one picture: "
            "give a longer clip, or show each field by itself"
        )


def _of_chain(label: str, plan: Resolved) -> Panel:
    return Panel(label, plan.output, max(plan.output.period, plan.cycle))


def _seen(rasters: list[Raster], display: Display | None) -> Window:
    """Return what there is to show of all rasters: all of it, on the glass what no display hides."""
    if display is None:
        return Window()
    windows = [shown_window(raster, display) for raster in rasters]
    return Window(
        max(window.top for window in windows),
        min(window.bottom for window in windows),
        max(window.left for window in windows),
        min(window.right for window in windows),
    )


def _on_screen(crop: tuple[int, int, int, int], plan: Resolved, source: Clip) -> Window:
    """Return where a part of the source lies on the screen, shares of the raster.

    Raises: ParameterError for one that is not inside the source
    """
    top, left, height, width = crop
    lines, samples = source.raster.frame_lines, source.raster.samples
    if min(crop) < 0 or 0 in (height, width) or top + height > lines or left + width > samples:
        raise ParameterError(
            f"crop is {top},{left},{height},{width}; it must lie within the source's {lines} lines and "
            f"{samples} samples"
        )
    down = plan.geometry.landed_blocks(plan.output).inverse()
    across = plan.geometry.samples.inverse()
    rows, dots = plan.output.landed_lines, plan.output.samples
    return Window(
        max(0.0, down(float(top)) / rows),
        min(1.0, down(float(top + height)) / rows),
        max(0.0, across(float(left)) / dots),
        min(1.0, across(float(left + width)) / dots),
    )
