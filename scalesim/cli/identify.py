"""``scalesim identify``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import rich_click as click

from scalesim.cli.options import output_options, range_option

if TYPE_CHECKING:
    from numpy.typing import NDArray


@click.command("identify")
@click.argument("captures", nargs=-1, required=True)
@click.option("--chart", type=click.Choice(["kernel"]), default="kernel", help="The chart that was played.")
@click.option("--mode", required=True, metavar="NAME", help="Mode the chart was played in, such as 720p60.")
@click.option("--page", type=click.Choice(["luma", "colour"]), default="luma", help="Page of the chart.")
@click.option(
    "--aspect", type=click.Choice(["16:9", "4:3"]), help="4:3 for the chart in the picture's centre."
)
@click.option(
    "--lines", type=click.IntRange(1, 4320), help="Lines of a field or picture the box gives, if known."
)
@click.option(
    "--path",
    "path_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Divide out the capture path: operator.json of an identify with a known source played straight in.",
)
@range_option
@output_options
def command(
    captures: tuple[str, ...],
    chart: str,
    mode: str,
    page: str,
    aspect: str | None,
    lines: int | None,
    path_file: Path | None,
    code_range: str,
    out: Path | None,
    force: bool,
    as_json: bool,
) -> int:
    """Learn what a box does from CAPTURES of its output while the kernel chart plays.

    Example: scalesim identify capture.png --chart kernel --mode 720p60

    CAPTURES are pictures or clips of one still; several frames are averaged. The capture must be line-locked
    and unscaled: 240, 288, 480 or 576 lines as the box gives them. Writes the operator, a chain for predict,
    the kernel plot, the chart as predicted beside the capture, and a page. confidence is 0…1: how well the
    answer explains the lines against the best any kernel can, times how little is left unexplained, times
    how clearly the chart was seen. Ends with 1 when no named method fits; the measured operator is written
    all the same.
    """
    from scalesim.cli.build import show
    from scalesim.io.folder import check_folder, default_folder
    from scalesim.jobs.identify.identify import identify, with_operator

    folder = out or default_folder("identify", Path(captures[0]).stem)
    check_folder(folder, force=force)
    shape = "4:3" if aspect == "4:3" else "full"
    frames = _frames(captures, limited=code_range == "limited")
    if path_file is not None:
        frames = _before_path(frames, path_file)
    found = with_operator(identify(frames, mode, page=page, aspect=shape, lines=lines), folder.as_posix())
    return show(found, folder, force=force, as_json=as_json)


def _frames(patterns: tuple[str, ...], *, limited: bool) -> list[NDArray]:
    """Return the frames of all captures, eight of each clip at most."""
    from scalesim.cli.frames import matches
    from scalesim.io.read import read
    from scalesim.jobs.frames import whole_frames

    paths = [path for pattern in patterns for path in matches(pattern)]
    return [frame for path in paths for frame in whole_frames(read(path, limited=limited))]


def _before_path(frames: list[NDArray], path: Path) -> list[NDArray]:
    from scalesim.core.files import read_text, shown
    from scalesim.core.limits import DOCUMENT_MEGABYTES
    from scalesim.core.operator_file import OperatorFile
    from scalesim.signal.kernel.path import without_path

    text = read_text(path, "operator", DOCUMENT_MEGABYTES)
    return without_path(frames, OperatorFile.from_json(text, name=shown(path.name)))
