"""``scalesim tune``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import rich_click as click

from scalesim.cli.frames import sources_of
from scalesim.cli.options import every_option, folder_for, framing_options, output_options, read_chain, words
from scalesim.cli.progress import Progress

if TYPE_CHECKING:
    from scalesim.core.framing import Sides


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
@click.option(
    "--by", default="line_doubling", metavar="LIST", help="Metric keys that decide, separated by commas."
)
@click.option("--where", multiple=True, metavar="LIMIT", help="A limit to keep, such as cropped_percent<=2.")
@click.option(
    "--display",
    metavar="KEY or FILE.toml",
    help="A tube whose [vertical] lands the fields (default: as their content lies).",
)
@click.option("--yes", is_flag=True, help="Try more than 20000 settings all the same.")
@click.option("--mode", metavar="NAME", help="Mode of all frames (default: by note or size).")
@click.option(
    "--range", "code_range", type=click.Choice(["full", "limited"]), help="Code range of all files."
)
@click.option(
    "--from-capture",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Now the command position: find the present position from a capture of the first frame.",
)
@click.option(
    "--calibrate",
    nargs=2,
    type=click.Path(path_type=Path),
    metavar="BEFORE AFTER",
    help="Now the command press: lines per press, from captures before and after --presses.",
)
@click.option("--presses", type=int, default=1, help="Presses between the captures of --calibrate.")
@click.option(
    "--back",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A third capture, after as many presses back: shows hysteresis.",
)
@every_option
@framing_options
@output_options
def command(
    frames: tuple[str, ...],
    chain: str | None,
    vary: tuple[str, ...],
    by: str,
    where: tuple[str, ...],
    display: str | None,
    yes: bool,
    mode: str | None,
    code_range: str | None,
    from_capture: Path | None,
    calibrate: tuple[Path, Path] | None,
    presses: int,
    back: Path | None,
    every: str | None,
    trim: Sides | Literal["auto"] | None,
    native: int | Literal["auto"] | None,
    out: Path | None,
    force: bool,
    as_json: bool,
) -> int:
    """Find the picture position, size or other setting at which FRAMES suffer least.

    Example: scalesim tune frames/*.png --chain "line-average lines=480, position lines=0, interlace" --vary
    position.lines=-4:4:0.125

    Writes the whole curve (CSV and plot), the best chain, the worst outlines before and after, and a page.
    Ends with 0 also when the best setting does not stand out on these frames; `clear` says which.
    """
    from scalesim.errors import ParameterError

    options: dict[str, Any] = {"out": out, "force": force, "as_json": as_json}
    if calibrate is not None:
        before, after = calibrate
        given: dict[str, Any] = {"before": before, "after": after, "back": back, "presses": presses}
        given |= {"chain": chain, "mode": mode}
        return _renamed("press", "tune --calibrate", given, options)
    if chain is None:
        raise ParameterError("--chain is missing; give the boxes as they are set now")
    if from_capture is not None:
        if not frames:
            raise ParameterError("no frames; name the frame that was sent")
        given = {"capture": from_capture, "source": Path(frames[0]), "chain": chain}
        given |= {"mode": mode, "code_range": code_range, "trim": trim, "native": native}
        given |= {"by": by, "vary": next(iter(vary), None)}
        return _renamed("position", "tune --from-capture", given, options)
    from scalesim.cli.build import show
    from scalesim.cli.named import display_of
    from scalesim.jobs.tune.tune import tune

    sources = sources_of(frames, mode, code_range, every=every, trim=trim, native=native)
    folder = folder_for("tune", Path(sources[0].name).stem, out, force=force)
    parsed, tried, limits = read_chain(chain), list(vary) or None, list(where)
    with Progress(None) as progress:
        result = tune(
            parsed,
            sources,
            vary=tried,
            by=words(by) or (),
            where=limits,
            yes=yes,
            advance=progress,
            display=None if display is None else display_of(display),
        )
    return show(result, folder, force=force, as_json=as_json)


def _renamed(name: str, spelling: str, given: dict[str, Any], options: dict[str, Any]) -> int:
    """Do a job by its old spelling; its document keeps the name it was asked for by."""
    from scalesim.cli.build import run_job
    from scalesim.cli.show import note
    from scalesim.jobs.catalogue import jobs

    note([f"{spelling} is now the command {name}; see scalesim {name} --help"])
    return run_job(jobs()[name], given, command="tune", **options)
