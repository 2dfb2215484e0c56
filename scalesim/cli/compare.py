"""``scalesim compare``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import rich_click as click

from scalesim.cli.compare_asked import crops_asked, page_options, stills_asked, words_asked
from scalesim.cli.compare_clip import ClipAsked, clip_options, clip_wanted, make_clip
from scalesim.cli.frames import footage_of, matches, sources_of
from scalesim.cli.options import folder_for, framing_options, output_options, read_chain, words
from scalesim.cli.progress import Progress
from scalesim.cli.study import is_study, spans_asked, study_options, team_of
from scalesim.texts import echoed, readable

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scalesim.chain import Chain
    from scalesim.core.framing import Sides
    from scalesim.jobs.compare.captured import Capture
    from scalesim.jobs.compare.photographed import PhotoGiven

EXIT_SOME_FAILED = 2
MORE_PARTS = 8
"""Parts of a comparison's page that are no frames, about."""


@click.command("compare")
@click.argument("frames", nargs=-1)
@click.option(
    "--chain",
    "chain_texts",
    multiple=True,
    metavar="TEXT or FILE.toml",
    help="A chain to compare; give several.",
)
@click.option(
    "--study",
    type=click.Path(path_type=Path),
    metavar="FILE.toml",
    help="Frames, chains and options from a file.",
)
@click.option("--mode", metavar="NAME", help="Mode of all frames (default: by note or size).")
@click.option(
    "--range", "code_range", type=click.Choice(["full", "limited"]), help="Code range of all files."
)
@click.option(
    "--reference",
    metavar="ideal, source or FILE",
    help="What the fidelity figures compare with (default ideal).",
)
@click.option(
    "--capture",
    "captures",
    multiple=True,
    metavar="LABEL=PATH",
    help="A real box's capture of a frame, measured and shown beside the predictions; give several. PATH may "
    "be a clip or a pattern: its frames are averaged.",
)
@click.option(
    "--photo",
    "photos",
    multiple=True,
    metavar="LABEL=FILE",
    help="A photo of the tube, straightened by the frame it shows, beside the predictions; give several.",
)
@click.option("--by", metavar="LIST", help="Metric keys to rank by, separated by commas.")
@click.option("--metrics", metavar="LIST", help="Metric keys to measure (default all).")
@page_options
@click.option("--tube", type=click.Choice(["4:3", "16:9"]), help="Shape of the tube (default 4:3).")
@click.option(
    "--display",
    "displays",
    multiple=True,
    metavar="KEY or FILE.toml",
    help="A tube on whose glass the pictures are shown besides (studio-36cm-800, livingroom-68cm-350 … or a "
    "file); give several. Takes about 0.3 s more for each chain, frame and tube.",
)
@click.option("--group-by", metavar="KEY", help="Rank frames apart whose notes differ in this key.")
@click.option("--only", multiple=True, metavar="KEY=VALUE", help="Only frames whose note says so.")
@click.option("--one-file", is_flag=True, help="Put all pictures into the page, however large it gets.")
@clip_options
@study_options
@framing_options
@output_options
def command(
    frames: tuple[str, ...],
    chain_texts: tuple[str, ...],
    study: Path | None,
    mode: str | None,
    code_range: str | None,
    reference: str | None,
    captures: tuple[str, ...],
    photos: tuple[str, ...],
    by: str | None,
    metrics: str | None,
    crops: tuple[str, ...],
    stills: tuple[str, ...],
    title: str | None,
    author: str | None,
    date: str | None,
    tube: str | None,
    displays: tuple[str, ...],
    group_by: str | None,
    only: tuple[str, ...],
    one_file: bool,
    every: str | None,
    parts: tuple[str, ...],
    vary: tuple[str, ...],
    workers: int | None,
    scheduler: str | None,
    resume: bool,
    parquet: bool,
    trim: Sides | Literal["auto"] | None,
    native: int | Literal["auto"] | None,
    out: Path | None,
    force: bool,
    as_json: bool,
    clip: dict[str, Any],
) -> int:
    """Compare chains over frames: a table, a ranking with reasons, and a page to publish.

    Example: scalesim compare frames/*.png --chain "sharp: line-drop lines=240 phase=1" --chain soft.toml

    A note beside a frame (frame.toml: box, revision, firmware, dials, source_mode, range, unit,
    minutes_on, author, date, display, game, kind) is carried into the table.

    With --clip it makes a clip instead: two to four chains and captures as they move.
    """
    from scalesim.cli.build import show
    from scalesim.cli.named import display_of
    from scalesim.cli.show import note
    from scalesim.errors import ParameterError
    from scalesim.io.folder import rows_of
    from scalesim.io.notes import read_study
    from scalesim.io.parquet import check_parquet, write_parquet
    from scalesim.io.picture_store import INLINE_LIMIT, ONE_FILE
    from scalesim.jobs.compare.compare import compare
    from scalesim.jobs.compare.ranking import DEFAULT_BY
    from scalesim.jobs.compare.study.contestants import settings_of
    from scalesim.result import Beside

    if parquet:
        check_parquet()
    asked: dict[str, Any] = {} if study is None else read_study(study)
    folder = folder_for("compare", study.stem if study else "", out, force=force, resume=resume)
    taken_off: dict[str, Any] = {"trim": trim, "native": native}
    boxes = [_capture(text, code_range, taken_off) for text in captures]
    chains = _labelled(
        [*asked.get("chain", []), *(read_chain(text) for text in chain_texts)], alone=not boxes
    )
    patterns = [*asked.get("frames", []), *frames]
    if clip_wanted(clip):
        read_as = {"mode": mode, "limited": code_range == "limited", **taken_off}
        shown_on = ClipAsked(patterns, captures, crops_asked(crops, asked.get("crop")), displays, tube)
        return make_clip(clip, chains, shown_on, folder, read_as, force=force, as_json=as_json)
    every, parts = every or asked.get("every"), parts or tuple(asked.get("parts", ()))
    vary = vary or tuple(asked.get("vary", ()))
    tubes = [display_of(text) for text in displays or asked.get("displays", ())]
    of_clips: dict[str, Any] = {"parts": parts, "every": every, "workers": workers, "scheduler": scheduler}
    many = is_study(patterns, {**of_clips, "resume": resume, "parquet": parquet}, boxes=bool(boxes))
    lost: dict[str, str] = {}
    sources: list[Any]
    if many:
        spans = spans_asked(parts)
        sources, lost = footage_of(patterns, mode, code_range, only, every=every, spans=spans, **taken_off)
    else:
        own = {} if boxes else taken_off
        sources = list(sources_of(patterns, mode, code_range, only, every=every, **own))
    shown: dict[str, Any] = {
        "crop": crops_asked(crops, asked.get("crop")),
        "stills": stills_asked(
            stills or asked.get("still", ()),
            [each.name for each in sources],
            [*chains, *(b.shown for b in boxes)],
        ),
        **words_asked({"title": title, "author": author, "date": date}, asked),
    }
    ranked_by = words(by) or asked.get("by") or DEFAULT_BY
    measured = words(metrics) or asked.get("metrics")
    against = _reference(reference or asked.get("reference", "ideal"))
    shape = tube or asked.get("tube", "4:3")
    more: dict[str, Any] = {}
    if many:
        if not sources:
            raise ParameterError(f"nothing could be compared: {'; '.join(_failures(lost))}")
        rows = rows_of(folder, resume=resume)
        more = {"workers": team_of(workers, scheduler), "rows": rows, "sampling": f"every {every}, {parts}"}
    steps = len(settings_of(chains, vary)) * (1 + len(tubes) if many else 1)
    count = sum(len(each.frames) for each in sources) * steps if many else len(sources) * (steps + 1)
    with Progress(count + MORE_PARTS, per=steps if many else 0) as progress:
        result = compare(
            chains,
            sources,
            reference=against,
            by=ranked_by,
            metrics=measured,
            group_by=group_by or asked.get("group_by"),
            captures=boxes,
            photos=[_photo(text) for text in photos],
            tube=shape,
            displays=tubes,
            vary=vary,
            advance=progress,
            **more,
            **shown,
        )
        result = replace(result, failed={**lost, **result.failed}) if lost else result
        if not result.rows:
            raise ParameterError(f"nothing could be compared: {'; '.join(_failures(result.failed))}")
        limit = ONE_FILE if one_file else INLINE_LIMIT
        show(
            result,
            folder,
            force=force or resume,
            as_json=as_json,
            advance=progress,
            inline_limit=limit,
            extra=(lambda place: Beside(write_parquet(result, place))) if parquet else None,
        )
    note(_failures(result.failed))
    return EXIT_SOME_FAILED if result.failed else 0


def _failures(failed: Mapping[str, str]) -> list[str]:
    """Return what failed and why; a reason that begins with the name stands alone."""
    return [
        reason if reason.startswith(f"{name}: ") else f"{name}: {reason}" for name, reason in failed.items()
    ]


def _capture(text: str, code_range: str | None, taken_off: dict[str, Any]) -> Capture:
    """Return the capture of LABEL=PATH, read when its turn comes."""
    from scalesim.errors import ParameterError
    from scalesim.io.read import read
    from scalesim.jobs.compare.captured import Capture

    label, equals, place = text.partition("=")
    if not equals or not label.strip() or not place.strip():
        raise ParameterError(
            f"--capture {echoed(text)}: write it as LABEL=PATH, such as --capture grey=grey-box.png"
        )
    limited = code_range == "limited"
    paths = matches(place.strip())
    return Capture(
        readable(label.strip()), lambda: (read(path, limited=limited, **taken_off) for path in paths)
    )


def _photo(text: str) -> PhotoGiven:
    """Return the photo of LABEL=FILE, read when its turn comes."""
    from scalesim.core.photo import Film, Photo
    from scalesim.errors import ParameterError
    from scalesim.io.photos.read import read_photo
    from scalesim.jobs.compare.photographed import PhotoGiven

    label, equals, place = text.partition("=")
    if not equals or not label.strip() or not place.strip():
        raise ParameterError(
            f"--photo {echoed(text)}: write it as LABEL=FILE, such as --photo set=IMG_0001.jpg"
        )

    def load() -> Photo:
        found = read_photo(Path(place.strip()))
        if isinstance(found, Film):
            raise ParameterError(
                f"--photo {echoed(text)}: is a film; take a still of it (scalesim glass FILM)"
            )
        return found

    load()  # what cannot be read is told before the work
    return PhotoGiven(readable(label.strip()), load)


def _labelled(chains: Iterable[Chain], *, alone: bool = True) -> dict[str, Chain]:
    """Return label -> chain: the chain's name, or its text when it has none."""
    from scalesim.errors import ParameterError

    found: dict[str, Chain] = {}
    for chain in chains:
        label = chain.name or chain.text
        if label in found:
            raise ParameterError(f"chain '{label}' is given twice; give every chain a name of its own")
        found[label] = chain
    if not found and alone:
        raise ParameterError("no chains to compare; give --chain several times, or --study")
    return found


def _reference(asked: Any) -> str | NDArray:
    from scalesim.errors import ParameterError

    if not isinstance(asked, str):
        raise ParameterError(f"reference is {asked!r}; it must be ideal, source or a picture file")
    if asked in ("ideal", "source"):
        return asked
    from scalesim.io.pictures.read import read_picture

    return read_picture(asked).values
