"""``scalesim tune``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import rich_click as click

from scalesim.cli.frames import sources_of
from scalesim.cli.options import output_options, read_chain, words
from scalesim.cli.progress import Progress
from scalesim.cli.show import finish

if TYPE_CHECKING:
    from scalesim.chain import Chain
    from scalesim.jobs.frames import FrameSource


@click.command("tune")
@click.argument("frames", nargs=-1)
@click.option("--chain", metavar="TEXT or FILE.toml", help="The boxes in series, as they are set now.")
@click.option(
    "--vary",
    multiple=True,
    metavar="KEY=VALUES",
    help="What to try: position.lines=-4:4:0.125, or fit.how=squeeze|crop; give several. "
    "Default: the chain file's dials.",
)
@click.option("--by", default="line_doubling", metavar="LIST", help="Metric keys that decide, comma between.")
@click.option("--where", multiple=True, metavar="LIMIT", help="A limit to keep, such as cropped_percent<=2.")
@click.option("--yes", is_flag=True, help="Try more than 20000 settings all the same.")
@click.option("--mode", metavar="NAME", help="Mode of all frames (default: by note or size).")
@click.option(
    "--range", "code_range", type=click.Choice(["full", "limited"]), help="Code range of all files."
)
@click.option(
    "--from-capture",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Find the present position from a capture of the first frame.",
)
@click.option(
    "--calibrate",
    nargs=2,
    type=click.Path(path_type=Path),
    metavar="BEFORE AFTER",
    help="Instead: lines per press, from captures before and after --presses.",
)
@click.option("--presses", type=int, default=1, help="Presses between the captures of --calibrate.")
@click.option(
    "--back",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A third capture, after as many presses back: shows hysteresis.",
)
@output_options
def command(
    frames: tuple[str, ...],
    chain: str | None,
    vary: tuple[str, ...],
    by: str,
    where: tuple[str, ...],
    yes: bool,
    mode: str | None,
    code_range: str | None,
    from_capture: Path | None,
    calibrate: tuple[Path, Path] | None,
    presses: int,
    back: Path | None,
    out: Path | None,
    force: bool,
    as_json: bool,
) -> int:
    """Find the picture position, size or other setting at which FRAMES suffer least.

    Example: scalesim tune frames/*.png --chain "line-average lines=480, position lines=0, interlace" --vary
    position.lines=-4:4:0.125

    Writes the whole curve (CSV and plot), the best chain, the worst outlines before and after, and a page.
    Ends with 0 also when the setting does not matter for these frames; `clear` says which.
    """
    from scalesim.errors import ParameterError

    if calibrate is not None:
        return _calibrate(calibrate, presses, back, out, force, as_json)
    if chain is None:
        raise ParameterError("--chain is missing; give the boxes as they are set now")
    sources = sources_of(frames, mode, code_range)
    if from_capture is not None:
        return _position(sources[0], read_chain(chain), from_capture, out, force, as_json)
    from scalesim.io.folder import check_folder, default_folder
    from scalesim.jobs.tune.tune import tune
    from scalesim.page.save_tuning import save_tuning

    folder = out or default_folder("tune", Path(sources[0].name).stem)
    check_folder(folder, force=force)
    parsed, tried, limits = read_chain(chain), list(vary) or None, list(where)
    with Progress(None) as progress:
        result = tune(
            parsed, sources, vary=tried, by=words(by) or (), where=limits, yes=yes, advance=progress
        )
    written = save_tuning(result, sources, folder, force=force)
    return finish(result, written, folder, as_json=as_json)


def _calibrate(
    captures: tuple[Path, Path],
    presses: int,
    back: Path | None,
    out: Path | None,
    force: bool,
    as_json: bool,
) -> int:
    """Measure what a press of the dial does."""
    from scalesim.io.folder import check_folder, default_folder
    from scalesim.io.pictures.read import read_picture
    from scalesim.io.save import save_result
    from scalesim.jobs.press.press import calibrate

    folder = out or default_folder("tune", captures[0].stem)
    check_folder(folder, force=force)
    before, after = (read_picture(path).values for path in captures)
    result = calibrate(before, after, presses, None if back is None else read_picture(back).values)
    return finish(result, save_result(result, folder, force=force), folder, as_json=as_json)


def _position(
    source: FrameSource, chain: Chain, capture: Path, out: Path | None, force: bool, as_json: bool
) -> int:
    """Find where the picture sits now."""
    from scalesim.io.folder import check_folder, default_folder
    from scalesim.io.pictures.read import read_picture
    from scalesim.io.save import save_result
    from scalesim.jobs.position.position import capture_position

    folder = out or default_folder("tune", capture.stem)
    check_folder(folder, force=force)
    result = capture_position(read_picture(capture).values, source.load(), chain, name=capture.name)
    return finish(result, save_result(result, folder, force=force), folder, as_json=as_json)
