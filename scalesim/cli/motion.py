"""``scalesim motion``."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import rich_click as click

from scalesim.cli.options import folder_for, framing_options, output_options, range_option, read_chain
from scalesim.cli.progress import Progress
from scalesim.jobs.motion import JOB

if TYPE_CHECKING:
    from scalesim.core.clip import Clip
    from scalesim.core.framing import Sides
    from scalesim.io.clips.guarded import SavedClip
    from scalesim.jobs.motion.answer import MotionFound

MARKED = "marked.mp4"


@click.command("motion", help=JOB.about)
@click.argument("capture", type=click.Path(path_type=Path))
@click.option(
    "--source",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="The clip that was played, when it was not the counter chart.",
)
@click.option(
    "--chain",
    metavar="TEXT or FILE.toml",
    help="The boxes between --source and the capture, so that the two can be compared.",
)
@click.option("--mode", metavar="NAME", help="Mode of the capture, such as 480i (default: by size).")
@click.option(
    "--marked",
    is_flag=True,
    help="Write marked.mp4 too: the frames around the first tears, slowly, each tear pointed at.",
)
@range_option
@framing_options
@output_options
def command(
    capture: Path,
    source: Path | None,
    chain: str | None,
    mode: str | None,
    marked: bool,
    code_range: str,
    trim: Sides | Literal["auto"] | None,
    native: int | Literal["auto"] | None,
    out: Path | None,
    force: bool,
    as_json: bool,
) -> int:
    """Find every torn, repeated, dropped, mixed and out-of-order picture of a capture."""
    from scalesim.cli.build import show
    from scalesim.cli.show import note
    from scalesim.io.clips.guarded import clip_files
    from scalesim.io.read import read
    from scalesim.jobs.motion.motion import motion
    from scalesim.result import Beside

    folder = folder_for("motion", capture.stem, out, force=force)
    boxes = None if chain is None else read_chain(chain)
    limited = code_range == "limited"
    clip = read(capture, mode=mode, limited=limited, trim=trim, native=native)
    played = None if source is None else read(source)
    steps = None if clip.length is None else clip.length // clip.raster.period
    with Progress(steps) as progress:
        result = motion(clip, source=played, chain=boxes, advance=progress)
    said: list[str] = []

    def clips(partial: Path) -> Beside:
        saved = _write_marked(clip, result, partial)
        if saved is None:
            said.append("no marked clip was written: no picture is torn.")
            return Beside()
        said.extend(saved.sentences())
        return Beside(clip_files({"marked": saved}), answer=replace(result, clips=(saved.told("marked"),)))

    done = show(result, folder, force=force, as_json=as_json, extra=clips if marked else None)
    note(said)
    return done


def _write_marked(clip: Clip, result: MotionFound, folder: Path) -> SavedClip | None:
    """Write the frames around the first tears; None without any."""
    from functools import partial

    from scalesim.io.clips.guarded import save_clip
    from scalesim.jobs.motion.marked import marked_frames, moving_marked

    frames = marked_frames(result)
    if not frames:
        return None
    with Progress(len(frames)) as progress:
        step = partial(progress, "marked clip")
        return save_clip(lambda: moving_marked(clip, result), folder / MARKED, step)
