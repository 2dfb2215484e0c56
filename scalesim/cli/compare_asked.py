"""What ``scalesim compare`` is asked to show: parts of frames, stills, and who made the page."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

import rich_click as click

from scalesim.texts import echoed, one_line

if TYPE_CHECKING:
    from scalesim.jobs.compare.asked import StillAsked
    from scalesim.jobs.compare.crops import Crop

F = TypeVar("F", bound=Callable[..., object])
MOST_LETTERS = 160
"""Letters of a title: more would fill a screen."""


def page_options(command: F) -> F:
    """Add --crop, --still, --title, --author and --date."""
    for option in reversed(
        (
            click.option(
                "--crop",
                "crops",
                multiple=True,
                metavar="[FRAME=]TOP,LEFT,HEIGHT,WIDTH",
                help="Part to show closely, in source lines and samples; give several, or some of one frame.",
            ),
            click.option(
                "--still",
                "stills",
                multiple=True,
                metavar="FRAME[=CHAIN,CHAIN]",
                help="A still of a frame for a video edit: of the source and those that matter, or of whom "
                "you name (source is one), four at most.",
            ),
            click.option("--title", metavar="TEXT", help="Title in place of the finding."),
            click.option("--author", metavar="TEXT", help="Who made it, below the title."),
            click.option("--date", metavar="TEXT", help="When, below the title, as you write it."),
        )
    ):
        command = option(command)
    return command


def crops_asked(given: Sequence[str], study: Any) -> dict[str, list[Crop]]:
    """Return frame -> parts, "" for those of every frame that is not named.

    Parameters:  given : texts of the command line; study : what a study says instead, a text or four numbers
    """
    texts: Iterable[Any] = given or ([study] if study is not None else [])
    found: dict[str, list[Crop]] = {}
    for text in texts:
        frame, numbers = ("", text) if not isinstance(text, str) else _apart(text)
        found.setdefault(frame, []).append(_crop(numbers, text))
    return found


def _apart(text: str) -> tuple[str, str]:
    frame, _, numbers = text.rpartition("=")
    return frame.strip(), numbers


def _crop(numbers: Any, text: Any) -> Crop:
    from scalesim.errors import ParameterError

    parts = numbers.split(",") if isinstance(numbers, str) else numbers
    try:
        top, left, height, width = (int(part) for part in parts)
    except (TypeError, ValueError):
        raise ParameterError(
            f"crop is {echoed(text)}; it must be TOP,LEFT,HEIGHT,WIDTH in source samples, or "
            "FRAME=TOP,LEFT,HEIGHT,WIDTH"
        ) from None
    return top, left, height, width


def stills_asked(given: Sequence[str], frames: Sequence[str], labels: Sequence[str]) -> list[StillAsked]:
    """Return the stills; names of frames and chains may hold an equals sign or a comma themselves.

    Parameters:  frames, labels : what the frames and contestants are called
    """
    from scalesim.jobs.compare.asked import SOURCE, StillAsked

    found = []
    for text in given:
        if text in frames or "=" not in text:
            found.append(StillAsked(text.strip()))
            continue
        ends = [k for k, sign in enumerate(text) if sign == "=" and text[:k].strip() in frames]
        at = ends[-1] if ends else text.index("=")
        names = _names(text[at + 1 :], [SOURCE, *labels])
        found.append(StillAsked(text[:at].strip(), tuple(_source(name, labels) for name in names)))
    return found


def _source(name: str, labels: Sequence[str]) -> str:
    """Return a name as a still has it: the source may be called as write-ups call it."""
    from scalesim.jobs.compare.asked import SOURCE

    return SOURCE if name not in labels and name.lower().replace(" ", "-") == "the-source" else name


def _names(text: str, known: Sequence[str]) -> tuple[str, ...]:
    """Return the names in a list with commas between, the longest that are known first."""
    parts, found = text.split(","), []
    while parts:
        joined = [",".join(parts[:count]).strip() for count in range(len(parts), 0, -1)]
        taken = next((name for name in joined if name in known), joined[-1])
        found.append(taken)
        parts = parts[len(parts) - joined.index(taken) :]
    return tuple(found)


def words_asked(given: Mapping[str, str | None], study: Mapping[str, Any]) -> dict[str, str]:
    """Return headline, author and date, each on one line; the command line comes before the study."""
    from scalesim.errors import ParameterError

    found = {}
    for name, text in given.items():
        said = one_line(str(text if text is not None else study.get(name, ""))).strip()
        if len(said) > MOST_LETTERS:
            raise ParameterError(f"{name} has {len(said)} letters; {MOST_LETTERS} is the limit")
        found["headline" if name == "title" else name] = said
    return found
