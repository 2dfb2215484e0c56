"""The folders and pictures that an article names, read: each is below the article, or was allowed by name."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from scalesim.errors import ReadError
from scalesim.io.output.ours import strangers
from scalesim.io.pictures.read import read_picture
from scalesim.io.saved import read_saved
from scalesim.result import File, Result, Table
from scalesim.texts import echoed
from scalesim.version import __version__

_LISTED = 12
"""Places that an error lists at most."""
_PICTURES = (".png", ".jpg", ".jpeg", ".tif", ".tiff", ".webp", ".bmp")


@dataclass(frozen=True, eq=False)
class PictureFile(Result):
    """A picture file beside an article, as an answer that has nothing but it."""

    name: str
    values: Any

    kind = "picture"

    def sentences(self) -> list[str]:
        """Return nothing: a file makes no claim."""
        return []

    def table(self) -> Table:
        """Return the file's name."""
        return Table("Picture file", ("file",), ((self.name,),))

    @property
    def pictures(self) -> Mapping[str, Any]:
        """The picture, under the stem of its name."""
        return {Path(self.name).stem: self.values}

    @property
    def foot(self) -> tuple[str, ...]:
        """A file brings no cautions of its own."""
        return ()

    def files(self) -> Mapping[str, File]:
        """Return nothing beside it."""
        return {}

    def to_dict(self) -> dict[str, Any]:
        """Return the file's name."""
        return {"file": self.name}


def read_places(
    places: Iterable[tuple[str, str]],
    folder: Path,
    *,
    allowed: Sequence[Path] = (),
    versions: Sequence[str] = (),
) -> dict[str, Result]:
    """Return place -> the answer there.

    Parameters:
        places : (place as the article writes it, where it does so, for errors)
        folder : of the article
        allowed : folders that were named by the user, whose contents may be shown though they lie elsewhere
        versions : other versions of the program whose results are welcome
    Raises: ReadError for a place that is missing, lies outside, was changed since it was written, or is
        another version's
    """
    home = folder.resolve()
    homes = [home, *(each.resolve() for each in allowed)]
    found: dict[str, Result] = {}
    for place, at in places:
        if place not in found:
            found[place] = _read(place, at, home, homes, versions)
    return found


def _read(place: str, at: str, home: Path, homes: Sequence[Path], versions: Sequence[str]) -> Result:
    name = echoed(place)
    try:
        path = (home / place).resolve()
        there = path.exists()
    except (OSError, ValueError) as error:  # a name that no system takes
        reason = getattr(error, "strerror", None) or str(error)
        raise ReadError(f"{at}: there can be no {name} ({reason}); name a folder below the article") from None
    if not any(path.is_relative_to(each) for each in homes):
        raise ReadError(
            f"{at}: {name} lies outside the article's folder; move it there, or allow it with --from FOLDER"
        )
    if not there:
        raise ReadError(f"{at}: there is no {name}; {_nearest(place, path, home)}")
    if path.is_file() and path.suffix.lower() not in _PICTURES:
        raise ReadError(
            f"{at}: {name} is no picture file; place a result folder, or one of {', '.join(_PICTURES)}"
        )
    try:
        if path.is_file():
            return PictureFile(path.name, read_picture(path).values)
        answer = read_saved(path)
    except ReadError as error:  # it is named as the article does
        raise ReadError(f"{at}: {str(error).replace(str(path), name)}") from None
    version = str(answer.document.get("version"))
    if version not in (__version__, *versions):
        raise ReadError(
            f"{at}: {place} was made by version {version}, this is {__version__}; run it again, or put "
            f'versions = ["{version}"] into the head'
        )
    changed = strangers(path)
    if changed:
        raise ReadError(
            f"{at}: {place} was changed since it was written ({changed[0]}); run it again, so that what is "
            "shown is what was found"
        )
    return answer


def told_place(place: str, folder: Path, allowed: Sequence[Path] = ()) -> str:
    """Return a place as a page tells it: an absolute one from the folder that it may lie in, else as it is.

    Where things lie on its author's disk is nobody's business.
    """
    if not Path(place).is_absolute():
        return place
    path, home = Path(place).resolve(), folder.resolve()
    if path.is_relative_to(home):
        return path.relative_to(home).as_posix()
    for each in (every.resolve() for every in allowed):
        if path.is_relative_to(each):
            return (Path(each.name) / path.relative_to(each)).as_posix()
    return place


def _nearest(place: str, path: Path, home: Path) -> str:
    """Return what can be placed where something was looked for, the most alike first."""
    near = next((each for each in path.parents if each.is_dir()), home)
    found = sorted(each for each in near.iterdir() if _can_be_placed(each))
    if not found:  # results lie in a folder of their own, and their name alone may have been written
        found = sorted(each for each in home.glob("*/*") if _can_be_placed(each))
    named = {_from(home, each): each for each in found}
    if not named:
        return "no result lies beside it: run the command first"
    alike = {name.lower(): name for name in named}
    close = get_close_matches(place.lower(), alike, n=1, cutoff=0.5)
    hint = f"did you mean '{alike[close[0]]}'? " if close else ""
    listed = list(named)
    more = f" and {len(listed) - _LISTED} more" if len(listed) > _LISTED else ""
    return f"{hint}valid: {', '.join(listed[:_LISTED])}{more}"


def _can_be_placed(path: Path) -> bool:
    return path.suffix.lower() in _PICTURES if path.is_file() else (path / "result.json").is_file()


def _from(home: Path, path: Path) -> str:
    return path.relative_to(home).as_posix() if path.is_relative_to(home) else str(path)
