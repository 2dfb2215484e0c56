"""``scalesim identify``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import rich_click as click

from scalesim.cli.options import folder_for, framing_options, output_options, range_option

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scalesim.core.framing import Sides
    from scalesim.jobs.identify.identify import Scan


@click.command("identify")
@click.argument("captures", nargs=-1, required=True)
@click.option("--chart", type=click.Choice(["kernel"]), default="kernel", help="The chart that was played.")
@click.option("--mode", required=True, metavar="NAME", help="Mode the chart was played in, such as 720p60.")
@click.option("--page", type=click.Choice(["luma", "colour"]), default="luma", help="Page of the chart.")
@click.option(
    "--aspect", type=click.Choice(["16:9", "4:3"]), help="4:3 for the chart in the picture's centre."
)
@click.option(
    "--lines",
    type=click.IntRange(1, 4320),
    help="Lines of a field, or of the progressive picture, that the box gives, if known; refused when the "
    "capture contradicts it.",
)
@click.option(
    "--scan",
    type=click.Choice(["progressive", "interlaced"]),
    help="How the box sends its lines. Without it captures from 400 lines on are two woven fields, unless a "
    "clip is marked progressive or the chart's own lines come through one for one.",
)
@click.option(
    "--path",
    "path_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Divide out the capture path: operator.json of an identify with a known source played straight in.",
)
@range_option
@framing_options
@output_options
def command(
    captures: tuple[str, ...],
    chart: str,
    mode: str,
    page: str,
    aspect: str | None,
    lines: int | None,
    scan: Scan | None,
    path_file: Path | None,
    code_range: str,
    trim: Sides | Literal["auto"] | None,
    native: int | Literal["auto"] | None,
    out: Path | None,
    force: bool,
    as_json: bool,
) -> int:
    """Learn what a box does from CAPTURES of its output while the kernel chart plays.

    Example: scalesim identify capture.png --chart kernel --mode 720p60

    CAPTURES are pictures or clips of one still; several frames are averaged. The capture must be line-locked
    and unscaled: 240, 288, 480 or 576 lines as the box gives them. Writes the operator, a chain for predict,
    the kernel plot, the chart as predicted beside the capture, and a page. confidence is 0…1: how often
    answers of this kind were right on simulated boxes and captures: weights within 0.10 a line (sum of
    differences, of 0…2), fields, name, code values or light, and chain. Ends with 1 when no chain of named
    stages makes what was captured; the measured operator is written all the same.
    """
    from scalesim.cli.build import show
    from scalesim.jobs.identify.identify import identify, with_operator

    folder = folder_for("identify", Path(captures[0]).stem, out, force=force)
    shape = "4:3" if aspect == "4:3" else "full"
    reading = {"limited": code_range == "limited", "trim": trim, "native": native}
    frames, marked = _frames(captures, **reading)
    if path_file is not None:
        frames = _before_path(frames, path_file)
    found = identify(frames, mode, page=page, aspect=shape, lines=lines, scan=scan, marked=marked)
    return show(with_operator(found, folder.as_posix()), folder, force=force, as_json=as_json)


def _frames(patterns: tuple[str, ...], **reading: Any) -> tuple[list[NDArray], Scan | None]:
    """Return the frames of all captures, eight of each clip at most, and how clips among them are marked.

    Parameters:  reading : as for `read`
    """
    from scalesim.cli.frames import matches
    from scalesim.cli.show import note
    from scalesim.core.framing import framing_notes
    from scalesim.io.read import read
    from scalesim.jobs.frames import whole_frames

    clips = [read(path, **reading) for pattern in patterns for path in matches(pattern)]
    note(f"{clip.name}: {said}" for clip in clips for said in framing_notes(clip.notes))
    periods = {clip.raster.period for clip in clips if not clip.is_still}
    marked: Scan | None = None
    if len(periods) == 1:
        marked = "interlaced" if periods == {2} else "progressive"
    return [frame for clip in clips for frame in whole_frames(clip)], marked


def _before_path(frames: list[NDArray], path: Path) -> list[NDArray]:
    from scalesim.core.files import read_text, shown
    from scalesim.core.limits import DOCUMENT_MEGABYTES
    from scalesim.core.operator_file import OperatorFile
    from scalesim.signal.kernel.path import without_path

    text = read_text(path, "operator", DOCUMENT_MEGABYTES)
    return without_path(frames, OperatorFile.from_json(text, name=shown(path.name)))
