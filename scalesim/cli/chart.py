"""``scalesim chart``."""

from __future__ import annotations

from itertools import islice, repeat
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import rich_click as click

from scalesim.cli.chart_sync import make, refuse, sync_options
from scalesim.cli.options import folder_for, output_options, read_chain
from scalesim.cli.progress import Progress

if TYPE_CHECKING:
    from scalesim.jobs.chart.chart import ChartMade

CLIPS = {"clip": "chart.mkv", "clip-h264": "chart.mp4"}
"""What to play: exact, for players that can, and ordinary H.264."""


@click.command("chart")
@click.argument("name", type=click.Choice(["kernel", "geometry", "levels", "flicker", "sync"]))
@click.option(
    "--mode", required=True, metavar="NAME", help="Mode it is played in, such as 720p60 or 1080i60."
)
@click.option(
    "--seconds",
    type=click.FloatRange(0.001, 600),
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
    geometry: read the numbers at the edges of a tube; --seen makes an overscan stage of them.
    levels: set black and white. flicker: see how much a tube and its signal flicker.
    sync: the waveform of a 15 kHz mode as the CSV of an oscilloscope, to learn to read one's own with trace.
    """
    from scalesim.cli.build import show
    from scalesim.cli.show import note
    from scalesim.jobs.chart.chart import chart

    folder = folder_for("chart", f"{name}-{mode}", out, force=force)
    if name == "sync":
        return show(make(mode, seconds, sync), folder, force=force, as_json=as_json)
    refuse(name, sync)
    boxes = None if chain is None else read_chain(chain)
    readings = ",".join(seen) or None
    made = chart(name, mode, page=page, aspect=aspect, code_range=code_range, seen=readings, chain=boxes)
    notes: list[str] = []

    def clips(partial: Path) -> tuple[dict[str, str], dict[str, Any]]:
        notes.extend(_write_clips(made, partial, 10.0 if seconds is None else seconds))
        return CLIPS, {}

    done = show(made, folder, force=force, as_json=as_json, extra=clips)
    note(notes)
    return done


def _write_clips(made: ChartMade, folder: Path, seconds: float) -> list[str]:
    """Write the chart as clips at its true rate; return what differs from the picture."""
    from scalesim.core.codes import to_codes
    from scalesim.io.clips.write import write_clip

    raster = made.clip.raster
    codes = to_codes(made.chart.frame)
    rate = raster.rate / raster.period
    count = max(1, round(seconds * rate))
    order: Literal["top"] | None = None if raster.period == 1 else "top"
    notes: list[str] = []
    with Progress(count * len(CLIPS)) as progress:
        for file in CLIPS.values():

            def step(file: str = file) -> None:
                progress(file)

            pictures = islice(repeat(codes), count)
            notes += write_clip(folder / file, pictures, rate, field_order=order, step=step).notes
    return list(dict.fromkeys(notes))
