"""The folders and pictures that an article names, read: each is below the article, or was allowed by name."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from scalesim.errors import ReadError, nearest
from scalesim.io.output.ours import strangers
from scalesim.io.pictures.read import read_picture
from scalesim.io.saved import read_saved
from scalesim.result import File, Result, Table
from scalesim.version import __version__

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
    path = (home / place).resolve()
    if not any(path.is_relative_to(each) for each in homes):
        raise ReadError(
            f"{at}: {place} lies outside the article's folder; move it there, or allow it with --from FOLDER"
        )
    if not path.exists():
        raise ReadError(f"{at}: there is no {place}; {_nearest(path, home)}")
    if path.is_file():
        if path.suffix.lower() not in _PICTURES:
            raise ReadError(
                f"{at}: {place} is no picture file; place a result folder, or one of {', '.join(_PICTURES)}"
            )
        return PictureFile(path.name, read_picture(path).values)
    try:
        answer = read_saved(path)
    except ReadError as error:
        raise ReadError(f"{at}: {error}") from None
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


def _nearest(path: Path, home: Path) -> str:
    """Return the results that lie where one was looked for, the most alike first."""
    near = next((each for each in path.parents if each.is_dir()), home)
    names = sorted(each.name for each in near.iterdir() if (each / "result.json").is_file())[:40]
    return nearest(path.name, names) if names else "no result lies beside it: run the command first"
