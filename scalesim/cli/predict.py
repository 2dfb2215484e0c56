"""``scalesim predict``."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial as partial_of
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import rich_click as click

from scalesim.cli.named import display_of
from scalesim.cli.options import folder_for, framing_options, output_options, range_option, read_chain, words
from scalesim.cli.predict_clips import Clips, moved, no_room, slips_of
from scalesim.cli.predict_options import as_the_stills, glass_of, number, views_of
from scalesim.cli.progress import Progress

if TYPE_CHECKING:
    from scalesim.chain import Chain
    from scalesim.core.clip import Clip
    from scalesim.core.framing import Sides
    from scalesim.core.moving import Moving
    from scalesim.jobs.predict.flicker_study import FlickerStudy
    from scalesim.jobs.predict.on_screen import Glass

CLIPS = ("mp4", "mkv", "apng", "webp")


@click.command("predict")
@click.argument("frame", type=click.Path(path_type=Path))
@click.option("--chain", required=True, metavar="TEXT or FILE.toml", help="The boxes in series.")
@click.option(
    "--mode", metavar="NAME", help="Mode of the frame, such as 720p60 or 1080i60 (default: by its size)."
)
@range_option
@framing_options
@click.option(
    "--view",
    metavar="LIST",
    help="What to write: raster, seen, screen, fields (each field on the screen), flicker (a map). "
    "Default raster,seen.",
)
@click.option(
    "--tube",
    type=click.Choice(["4:3", "16:9"]),
    default="4:3",
    help="Shape of the tube for the seen picture.",
)
@click.option("--metrics", metavar="LIST", help="Metric keys to measure, separated by commas (default all).")
@click.option("--at", "at_s", metavar="SECONDS", default="0", help="Time of the frame in a clip.")
@click.option(
    "--display",
    metavar="KEY or FILE.toml",
    default="livingroom-68cm-350",
    help="Tube of the screen: studio-36cm-800, studio-50cm-600, livingroom-68cm-350, "
    "livingroom-76cm-wide-400, kitchen-36cm-280, or a file, whose [vertical] lands the fields.",
)
@click.option(
    "--height",
    type=click.IntRange(16, 8192),
    help="Height of the screen in dots (default near 1080, in a clip 720, with whole dots a line).",
)
@click.option(
    "--macro",
    metavar="LINE[,SAMPLE]",
    help="Also a close look at 24 scan lines from this one, and from this sample (default the middle).",
)
@click.option("--colour-fields", is_flag=True, help="Give each field of the close look its own colour.")
@click.option(
    "--exposure",
    metavar="SECONDS",
    help="Also a photo of the screen, the shutter open so long (such as 1/30); that makes it no brighter.",
)
@click.option("--study-flicker", is_flag=True, help="Also plot flicker and sharpness against filter taps.")
@click.option("--clip", type=click.Choice(CLIPS), help="Also write each view as it moves, at its true rate.")
@click.option("--seconds", metavar="SECONDS", help="Length of the clip (default all of it, 4 for a still).")
@click.option(
    "--pan", metavar="SAMPLES,LINES", help="Move a still by so much a second (120,0 is to the right)."
)
@click.option(
    "--flicker-clip",
    is_flag=True,
    help="Show each field alone in the screen's clip. It flashes: it can trigger seizures.",
)
@click.option(
    "--no-card",
    is_flag=True,
    help="Put no caution before a clip that flashes beyond the limits: you must warn everybody who sees it.",
)
@output_options
def command(
    frame: Path,
    chain: str,
    mode: str | None,
    code_range: str,
    trim: Sides | Literal["auto"] | None,
    native: int | Literal["auto"] | None,
    view: str | None,
    tube: str,
    metrics: str | None,
    at_s: str,
    display: str,
    height: int | None,
    macro: str | None,
    colour_fields: bool,
    exposure: str | None,
    study_flicker: bool,
    clip: str | None,
    seconds: str | None,
    pan: str | None,
    flicker_clip: bool,
    no_card: bool,
    out: Path | None,
    force: bool,
    as_json: bool,
) -> int:
    """Predict what FRAME looks like after a chain, and measure it.

    Example: scalesim predict frame.png --chain "line-average lines=480, line-drop lines=240 phase=1"

    FRAME is a picture, a clip, a pattern such as shot-%04d.png, or a folder of numbered pictures. Writes
    the raster pixel by pixel, each field, the woven frame, the picture at the shape of the tube
    (nearest neighbour), and result.json. Nothing that is written alternates unless --flicker-clip asks
    for it; every clip's flashes are counted, and a caution goes before one that exceeds the limits of
    WCAG 2.3.1 or ITU-R BT.1702, unless --no-card leaves it out. A clip that cannot be written is told
    (exit code 2); the others, and the stills, are.
    """
    from scalesim.cli.build import show
    from scalesim.cli.show import note
    from scalesim.io.read import read
    from scalesim.jobs.predict.landing import on_display
    from scalesim.jobs.predict.predict import predict
    from scalesim.result import Beside

    views = views_of(view)
    glass = glass_of(views, display, height, macro, colour_fields, exposure)
    _check_clip(clip, views, seconds, pan, flicker_clip, no_card)
    folder = folder_for("predict", frame.stem, out, force=force)
    parsed = on_display(read_chain(chain), display_of(display))
    source = read(frame, mode=mode, limited=code_range == "limited", trim=trim, native=native)
    start = float(number("--at", at_s, "2.5"))
    if clip:
        _check_room(_movies(source, parsed, views, tube, glass, seconds, pan, flicker_clip), clip)
    result = predict(source, parsed, tube=tube, metrics=words(metrics), glass=glass, at_s=start)
    study = _study(result.source, parsed) if study_flicker else None
    result = replace(result, views=tuple(views), study=study)
    written = Clips()

    def clips(partial: Path) -> Beside:
        movies = _movies(
            source, parsed, views, tube, as_the_stills(glass, result.glass), seconds, pan, flicker_clip
        )
        written.write(movies, partial, clip or "", card=not no_card)
        written.follow(slips_of(source, parsed, seconds, pan), partial)
        shown = replace(result, clips=written.told(), lost_clips=written.failed)
        return Beside(written.files(), written.keys(), shown)

    done = show(result, folder, force=force, as_json=as_json, extra=clips if clip else None)
    note(written.sentences())
    return 2 if written.failed else done


def _check_clip(
    clip: str | None,
    views: list[str],
    seconds: str | None,
    pan: str | None,
    flicker_clip: bool,
    no_card: bool,
) -> None:
    """Refuse options of a clip without one, and a clip without anything that moves."""
    from scalesim.errors import ParameterError

    given = {
        "--seconds": seconds,
        "--pan": pan,
        "--flicker-clip": flicker_clip or None,
        "--no-card": no_card or None,
    }
    for name, value in given.items():
        if value is not None and clip is None:
            raise ParameterError(f"{name} applies to a clip; add --clip mp4 (or {', '.join(CLIPS[1:])})")
    if flicker_clip and "screen" not in views:
        raise ParameterError("--flicker-clip shows fields on the screen; add --view screen")
    if clip and not {"raster", "seen", "screen"} & set(views):
        raise ParameterError("--clip needs a view that moves; add --view screen (or raster, seen)")


def _check_room(movies: dict[str, Callable[[], Moving]], ending: str) -> None:
    """Refuse clips none of which can be as long as asked for, before any work is done for them."""
    from scalesim.errors import ParameterError

    why = [text for name, make in movies.items() if (text := no_room(name, make, ending))]
    if why and len(why) == len(movies):
        raise ParameterError(why[0])


def _study(source: Clip, chain: Chain) -> FlickerStudy:
    from scalesim.jobs.predict.flicker_study import TAPS, flicker_study

    with Progress(6 * len(TAPS)) as progress:
        return flicker_study(source, chain, advance=progress)


def _movies(
    source: Clip,
    chain: Chain,
    views: list[str],
    tube: str,
    glass: Glass | None,
    seconds: str | None,
    pan: str | None,
    alone: bool,
) -> dict[str, Callable[[], Moving]]:
    """Return view -> what makes its moving pictures, afresh each time."""
    from scalesim.jobs.predict.moving import VIEWS, moving

    source, length = moved(source, seconds, pan)
    return {
        view: partial_of(
            moving,
            source,
            chain,
            view=view,
            tube=tube,
            glass=glass,
            seconds=length,
            alone=alone and view == "screen",
        )
        for view in VIEWS
        if view in views
    }
