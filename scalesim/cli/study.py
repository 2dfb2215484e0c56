"""What makes ``scalesim compare`` a study: frames out of clips, settings of dials, workers, kept rows."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from fractions import Fraction
from typing import TYPE_CHECKING, Any, TypeVar

import rich_click as click

from scalesim.texts import echoed

if TYPE_CHECKING:
    from scalesim.io.footage import Span
    from scalesim.jobs.compare.study.spread import Workers

F = TypeVar("F", bound=Callable[..., object])

_TIME = re.compile(r"(?:(\d+):)?(?:(\d+):)?(\d+(?:\.\d+)?) *s?")


def study_options(command: F) -> F:
    """Add the options of a study."""
    for option in reversed(
        (
            click.option(
                "--every",
                metavar="1s, N or scene",
                help="How often to take a frame out of each clip: a time, a number of frames, or the middle "
                "of every scene (default only the first).",
            ),
            click.option(
                "--part",
                "parts",
                multiple=True,
                metavar="FROM-TO",
                help="Only this part of each clip, in seconds or as 1:02.5; an end left out is the clip's. "
                "Give several.",
            ),
            click.option(
                "--vary",
                multiple=True,
                metavar="KEY=VALUES",
                help="Settings of a dial, each tried as a chain of its own, on every chain that has the "
                "stage: line-drop.phase=0:1:0.5, or flicker-filter.taps=1|1/2/1.",
            ),
            click.option(
                "--workers",
                type=int,
                metavar="N",
                help="How many processes measure (default 1). The table is the same whatever their number.",
            ),
            click.option(
                "--scheduler",
                metavar="tcp://HOST:PORT",
                help="Measure on the machines of a running Dask cluster, which must see the same files at "
                "the same places (needs the extra: cluster).",
            ),
            click.option(
                "--resume", is_flag=True, help="Go on with what a run that was stopped or killed has kept."
            ),
            click.option(
                "--parquet", is_flag=True, help="Write the rows as Parquet, too (needs the extra: parquet)."
            ),
        )
    ):
        command = option(command)
    return command


def spans_asked(texts: Iterable[str]) -> tuple[Span, ...]:
    """Return the parts of clips that are asked for, in seconds."""
    from scalesim.errors import ParameterError

    found = []
    for text in texts:
        begin, dash, end = str(text).partition("-")
        ends = [_seconds(begin), _seconds(end)]
        empty = [not begin.strip(), not end.strip()]
        wrong = [k for k in (0, 1) if ends[k] is None and not empty[k]]
        first, last = ends[0] or Fraction(0), ends[1]
        if not dash or wrong or all(empty) or (last is not None and last <= first):
            raise ParameterError(
                f"part is {echoed(text)}; write it as FROM-TO in seconds, the later one last: 10-90, or "
                "1:10-2:00"
            )
        found.append((first, last))
    return tuple(found)


def _seconds(text: str) -> Fraction | None:
    found = _TIME.fullmatch(text.strip())
    if found is None:
        return None
    places = [part for part in found.groups() if part is not None]
    return sum((Fraction(part) * 60**k for k, part in enumerate(reversed(places))), Fraction(0))


def is_study(patterns: Iterable[str], asked: dict[str, Any], *, boxes: bool) -> bool:
    """Return whether what is asked makes a study: its own options, or frames out of a clip.

    Raises: ParameterError for its own options beside captures, which are compared frame by frame
    """
    from scalesim.cli.frames import matches
    from scalesim.errors import ParameterError
    from scalesim.io.read import is_moving

    own = [name for name in ("parts", "workers", "scheduler", "resume", "parquet") if asked.get(name)]
    if boxes and own:
        raise ParameterError(
            f"--{own[0].replace('parts', 'part')}: not with --capture, whose frames are compared one by one; "
            "leave one of them out"
        )
    if own or boxes or asked.get("every") is None:
        return bool(own)
    return any(is_moving(path) for pattern in patterns for path in matches(pattern))


def team_of(workers: int | None, scheduler: str | None) -> int | Workers | None:
    """Return who measures."""
    from scalesim.errors import ParameterError

    if scheduler is None:
        return workers
    if workers is not None:
        raise ParameterError("--workers is for this machine; with --scheduler leave it out")
    from scalesim.cli.cluster import cluster

    return cluster(scheduler)
