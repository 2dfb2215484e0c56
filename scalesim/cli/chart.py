"""``scalesim chart``."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from itertools import repeat
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import rich_click as click

from scalesim.cli.chart_sync import make, refuse, sync_options
from scalesim.cli.options import folder_for, output_options, read_chain
from scalesim.cli.progress import Progress

if TYPE_CHECKING:
    from scalesim.io.clips.write import ClipFile
    from scalesim.jobs.chart.chart import ChartMade

Advance = Callable[[], None]
CLIPS = {"clip": "chart.mkv", "clip-h264": "chart.mp4"}
"""What to play: exact, for players that can, and ordinary H.264."""


@click.command("chart")
@click.argument("name", type=click.Choice(["kernel", "counter", "geometry", "levels", "flicker", "sync"]))
@click.option(
    "--mode", required=True, metavar="NAME", help="Mode it is played in, such as 720p60 or 1080i60."
)
@click.option(
    "--seconds",
    type=click.FloatRange(0.001, 86_400),
    help="Length of the clips (default 10), or of the sync chart's record (default 0.06).",
)
@click.option(
    "--page", type=click.Choice(["luma", "colour"]), default="luma", help="Page of the kernel chart."
)
@click.option(
    "--aspect", type=click.Choice(["16:9", "4:3"]), help="4:3 keeps it in the centre of a wide picture."
)
@click.option(
    "--range",
    "code_range",
    type=click.Choice(["full", "limited"]),
    default="full",
    help="Codes of the levels chart: full 0 to 255, limited 16 to 235.",
)
@click.option(
    "--seen",
    multiple=True,
    metavar="READINGS",
    help="Of geometry: the first number seen at each edge, top=9 bottom=7 left=30 right=28.",
)
@click.option("--chain", metavar="TEXT or FILE.toml", help="The boxes before the tube that was read.")
@sync_options
@output_options
def command(
    name: str,
    mode: str,
    seconds: float | None,
    page: str,
    aspect: str | None,
    code_range: str,
    seen: tuple[str, ...],
    chain: str | None,
    out: Path | None,
    force: bool,
    as_json: bool,
    **sync: Any,
) -> int:
    """Write a chart to play through a box or on a tube: a picture, clips, and its truth.

    Example: scalesim chart kernel --mode 720p60

    kernel: feed it to a box, capture what comes out, and let identify tell what the box does.
    counter: every picture carries its number in every line; capture what comes out, and let motion tell what
    was torn, repeated or dropped.
    geometry: read the numbers at the edges of a tube; --seen makes an overscan stage of them.
    levels: set black and white. flicker: see how much a tube and its signal flicker.
    sync: the waveform of a 15 kHz mode as the CSV of an oscilloscope, to learn to read one's own with trace.
    """
    from scalesim.cli.build import show
    from scalesim.cli.show import note
    from scalesim.jobs.chart.chart import chart
    from scalesim.result import Beside

    folder = folder_for("chart", f"{name}-{mode}", out, force=force)
    if name == "sync":
        return show(make(mode, seconds, sync), folder, force=force, as_json=as_json)
    refuse(name, sync)
    boxes = None if chain is None else read_chain(chain)
    readings = ",".join(seen) or None
    made = chart(name, mode, page=page, aspect=aspect, code_range=code_range, seen=readings, chain=boxes)
    notes: list[str] = []

    def clips(partial: Path) -> Beside:
        notes.extend(_write_clips(made, partial, 10.0 if seconds is None else seconds))
        return Beside(CLIPS)

    done = show(made, folder, force=force, as_json=as_json, extra=clips)
    note(notes)
    return done


def _write_clips(made: ChartMade, folder: Path, seconds: float) -> list[str]:
    """Write the chart as clips at its true rate; return what differs from the picture."""
    raster = made.clip.raster
    rate = raster.rate / raster.period
    count = max(1, round(seconds * rate))
    order: Literal["top"] | None = None if raster.period == 1 else "top"
    notes: list[str] = []
    with Progress(count * len(CLIPS)) as progress:
        for file in CLIPS.values():

            def step(file: str = file) -> None:
                progress(file)

            notes += _write_clip(made, folder / file, count, rate, order, step).notes
    return list(dict.fromkeys(notes))


def _write_clip(
    made: ChartMade, path: Path, count: int, rate: Fraction, order: Literal["top"] | None, step: Advance
) -> ClipFile:
    """Write one clip: the still for as long as was asked for, or the pictures that count."""
    from scalesim.charts.counter.draw import counter_frames
    from scalesim.charts.counter.layout import layout
    from scalesim.core.codes import to_codes
    from scalesim.io.clips.grey import write_grey
    from scalesim.io.clips.write import write_clip

    chart = made.chart
    if chart.name == "counter":
        frames = counter_frames(layout(chart.mode, aspect=str(chart.truth["aspect"])), count)
        return write_grey(path, frames, rate, field_order=order, step=step)
    still = repeat(to_codes(chart.frame), count)
    return write_clip(path, still, rate, field_order=order, step=step)
