"""``scalesim compare --clip``: chains and captures in one clip, as they move."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial, wraps
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import rich_click as click

from scalesim.cli.progress import Progress

if TYPE_CHECKING:
    from scalesim.chain import Chain
    from scalesim.core.clip import Clip
    from scalesim.io.clips.guarded import SavedClip
    from scalesim.jobs.compare.clip.answer import ComparisonClip

F = TypeVar("F", bound=Callable[..., Any])
LAYOUTS = ("beside", "stacked", "wipe")
_OPTIONS = (
    click.option(
        "--clip",
        "layout",
        type=click.Choice(LAYOUTS),
        help="Instead of a comparison, one clip of two to four chains and captures as they move: beside or "
        "below each other, or under a moving wipe; as raster, or on the glass of a --display.",
    ),
    click.option(
        "--size", type=click.Choice(["1080", "2160"]), help="Lines of the clip (default 1080: 1920x1080)."
    ),
    click.option("--zoom", type=int, metavar="DOTS", help="Dots of a line in the clip (default what fits)."),
    click.option("--slow", type=int, metavar="TIMES", help="Show each picture of the clip so many times."),
    click.option(
        "--fields-alone",
        is_flag=True,
        help="Show each field of the clip by itself. It flickers: it can trigger seizures.",
    ),
    click.option(
        "--seconds", metavar="SECONDS", help="Length of the clip (default all of it, 4 for a still)."
    ),
    click.option("--pan", metavar="SAMPLES,LINES", help="Move a still in the clip by so much a second."),
    click.option(
        "--no-card",
        is_flag=True,
        help="Put no caution before a clip that flashes beyond the limits: you must warn everybody who sees "
        "it.",
    ),
)
_NAMES = ("layout", "size", "zoom", "slow", "fields_alone", "seconds", "pan", "no_card")


def clip_options(command: F) -> F:
    """Add the options of a clip; the command takes them together, as `clip`."""

    @wraps(command)
    def run(**given: Any) -> Any:
        return command(clip={name: given.pop(name) for name in _NAMES}, **given)

    decorated: Any = run
    for option in reversed(_OPTIONS):
        decorated = option(decorated)
    found: F = decorated
    return found


def clip_wanted(clip: Mapping[str, Any]) -> bool:
    """Tell whether a clip is asked for. Raises: ParameterError for options of one without it"""
    from scalesim.errors import ParameterError

    if clip["layout"]:
        return True
    for name in _NAMES[1:]:
        if clip[name] not in (None, False):
            raise ParameterError(f"--{name.replace('_', '-')} applies to a clip; add --clip beside")
    return False


@dataclass(frozen=True)
class ClipAsked:
    """What a comparison's own options say of its clip.

    Parameters:
        frames : one clip or still; captures : LABEL=PATH; crops : as `crops_asked` gives
        displays, tube : the glass, or the shape of the raster's screen
    """

    frames: Sequence[str]
    captures: Sequence[str]
    crops: Mapping[str, Sequence[tuple[int, int, int, int]]]
    displays: Sequence[str]
    tube: str | None

    def __post_init__(self) -> None:
        from scalesim.errors import ParameterError

        crops = len(list(chain.from_iterable(self.crops.values())))
        for name, given, least in (
            ("clip or picture", len(self.frames), 1),
            ("--display", len(self.displays), 0),
            ("--crop", crops, 0),
        ):
            if not least <= given <= 1:
                raise ParameterError(f"--clip takes one {name}; {given} were given")


def make_clip(
    clip: Mapping[str, Any],
    chains: Mapping[str, Chain],
    asked: ClipAsked,
    folder: Path,
    read_as: Mapping[str, Any],
    *,
    force: bool,
    as_json: bool,
) -> int:
    """Write the clip, and a page beside it.

    Parameters:  clip : its own options; read_as : mode, range and framing of what is read
    """
    from scalesim.cli.build import show
    from scalesim.cli.show import note
    from scalesim.result import Beside

    result = _result(clip, chains, asked, read_as)
    written: dict[str, SavedClip] = {}

    def write(folder: Path) -> Beside:
        from scalesim.io.clips.guarded import clip_files

        written.update(_written(result, folder, card=not clip["no_card"]))
        told = tuple(saved.told(name) for name, saved in written.items())
        return Beside(clip_files(written), answer=replace(result, clips=told))

    done = show(result, folder, force=force, as_json=as_json, extra=write)
    shared, exact = written.values()  # one meter's verdict holds for both
    note([*shared.sentences(), exact.sentences()[0]])
    return done


def _result(
    clip: Mapping[str, Any], chains: Mapping[str, Chain], asked: ClipAsked, read_as: Mapping[str, Any]
) -> ComparisonClip:
    from scalesim.cli.named import display_of
    from scalesim.cli.predict_options import number
    from scalesim.io.read import read
    from scalesim.jobs.compare.clip.captures import CapturedClip
    from scalesim.jobs.compare.clip.clip import comparison_clip

    seconds = None if clip["seconds"] is None else float(number("--seconds", clip["seconds"], "4"))
    boxes = [_labelled(text) for text in asked.captures]
    others = {key: value for key, value in read_as.items() if key != "mode"}
    return comparison_clip(
        chains,
        _moving_source(read(asked.frames[0], **read_as), clip["pan"], seconds),
        captures=[CapturedClip(label, read(place, **others)) for label, place in boxes],
        layout=clip["layout"],
        display=display_of(asked.displays[0]) if asked.displays else None,
        tube=asked.tube or "4:3",
        size=int(clip["size"] or 1080),
        crop=next(chain.from_iterable(asked.crops.values()), None),
        zoom=clip["zoom"],
        seconds=seconds,
        slow=1 if clip["slow"] is None else clip["slow"],
        alone=clip["fields_alone"],
    )


def _labelled(text: str) -> tuple[str, str]:
    from scalesim.errors import ParameterError
    from scalesim.texts import echoed, readable

    label, equals, place = text.partition("=")
    if not equals or not label.strip() or not place.strip():
        raise ParameterError(
            f"--capture {echoed(text)}: write it as LABEL=PATH, such as --capture grey=grey-box.mkv"
        )
    return readable(label.strip()), place.strip()


def _moving_source(source: Clip, pan: str | None, seconds: float | None) -> Clip:
    from scalesim.cli.predict_options import pan_of
    from scalesim.core.pan import panned
    from scalesim.jobs.compare.clip.clip import STILL_S

    if pan is None:
        return source
    samples, lines = pan_of(pan)
    return panned(source, samples=samples, lines=lines, seconds=seconds or STILL_S)


def _written(result: ComparisonClip, folder: Path, *, card: bool) -> dict[str, SavedClip]:
    from scalesim.io.clips.guarded import save_clips
    from scalesim.jobs.compare.clip.answer import FILES

    with Progress(result.shown.count) as progress:
        step = partial(progress, result.shown.layout)
        saved = save_clips(result.moving, [folder / name for name in FILES], step, card=card)
    return {each.file.path.suffix[1:]: each for each in saved}
