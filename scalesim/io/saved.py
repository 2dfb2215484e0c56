"""A saved answer read back: its words, tables, plots and pictures, to be shown again.

Beside `result.json`, which holds a job's own keys, a folder holds `answer.json`: what the answer says and
shows, part by part, with pictures as names of files. Both have paths relative to the folder.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from functools import partial
from pathlib import Path, PurePosixPath
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from scalesim import result
from scalesim.core.files import read_text
from scalesim.core.limits import DOCUMENT_MEGABYTES
from scalesim.errors import ReadError
from scalesim.io.parts import inside, plain, read_part, reader, unreadable
from scalesim.plot import Plot
from scalesim.result import SCHEMA, File, Part, Result, Table

ANSWER = "answer.json"
T = TypeVar("T")


def answer_text(
    found: Result,
    parts: Iterable[Part],
    *,
    cover: result.Plate | None = None,
    pictures: Mapping[str, str],
    files: Mapping[str, File],
    children: Iterable[tuple[str, str]],
) -> str:
    """Return the text of `answer.json`.

    Parameters:
        parts : as they were shown, their pictures in files of their names
        cover : likewise, the figure that opens its page
        pictures : name -> file of the result's own pictures
        files : name -> what else lies beside it
        children : (page, words) of the results in folders of their own
    """
    whole = {
        "schema": SCHEMA,
        "kind": found.kind,
        "undecided": found.undecided,
        "title": found.title,
        "byline": list(found.byline),
        "cover": plain(cover),
        "opening": list(found.opening),
        "sentences": found.sentences(),
        "remarks": found.remarks(),
        "table": plain(found.table()),
        "figures": [plain(each) for each in found.figures()],
        "parts": [plain(part) for part in parts],
        "foot": list(found.foot),
        "pictures": dict(pictures),
        "files": {name: file.name for name, file in files.items()},
        "plot_folder": found.plot_folder,
        "markdown": found.markdown_name,
        "children": [[PurePosixPath(page).parent.as_posix(), words] for page, words in children],
    }
    return json.dumps(whole, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def read_saved(folder: str | Path) -> SavedResult:
    """Return the answer that a folder holds.

    Raises: ReadError for a folder without one, one that is damaged, or one of another version's keys
    """
    place = Path(folder)
    documents = []
    for name in ("result.json", ANSWER):
        try:
            documents.append(json.loads(_document(place, name)))
        except ReadError:
            raise
        except (OSError, ValueError, RecursionError) as error:
            raise unreadable(place / name, error) from None
    try:
        found = documents[1]["schema"]
        if found != SCHEMA:
            raise ReadError(f"{place / ANSWER}: has schema {found!r}, this version reads {SCHEMA}; run again")
        return SavedResult(place, *documents)
    except (KeyError, TypeError, ValueError, AttributeError, RecursionError) as error:
        raise ReadError(f"{place / ANSWER}: is damaged ({type(error).__name__}); run again") from None


def _document(place: Path, name: str) -> str:
    if not (place / name).exists():
        raise ReadError(f"{place}: holds no {name}; name a folder that a command wrote")
    return read_text(place / name, "result", DOCUMENT_MEGABYTES)


class SavedResult(Result):
    """A result as it was saved; a `Result` like the one that was written."""

    def __init__(self, folder: Path, document: dict[str, Any], answer: dict[str, Any]) -> None:
        self.folder, self.document, self._answer = folder, dict(document), answer
        self._table = _of(Table, read_part(answer["table"], folder))
        self._figures = tuple(_of(Plot, read_part(each, folder)) for each in answer["figures"])
        cover = read_part(answer.get("cover"), folder)
        self._cover = None if cover is None else _of(result.Plate, cover)
        self._parts = tuple(_of(Part, read_part(each, folder)) for each in answer["parts"])
        for name in ("kind", "title", "plot_folder", "markdown"):
            _of(str, answer[name])
        answer.setdefault("byline", [])
        for name in ("opening", "sentences", "remarks", "foot", "byline"):
            answer[name] = tuple(_of(str, text) for text in answer[name])
        places = [*answer["pictures"].values(), *answer["files"].values()]
        for place in (*places, answer["markdown"], *(place for place, _ in answer["children"])):
            inside(place)

    @property
    def kind(self) -> str:  # type: ignore[override]  # known only now
        """The command that gave it."""
        return str(self._answer["kind"])

    @property
    def undecided(self) -> bool:
        """True when the verdict was "cannot tell" or "none"."""
        return bool(self._answer["undecided"])

    @property
    def title(self) -> str:
        """Heading of its page."""
        return str(self._answer["title"])

    @property
    def opening(self) -> tuple[str, ...]:
        """What was asked."""
        return tuple(self._answer["opening"])

    @property
    def byline(self) -> tuple[str, ...]:
        """Who made it and when, as they were told."""
        return tuple(self._answer["byline"])

    def cover(self) -> result.Plate | None:
        """Return the figure that opens its page, its pictures read when they are wanted."""
        return self._cover

    @property
    def foot(self) -> tuple[str, ...]:
        """Cautions."""
        return tuple(self._answer["foot"])

    def sentences(self) -> list[str]:
        """Return what was found, in the words of then."""
        return list(self._answer["sentences"])

    def remarks(self) -> list[str]:
        """Return what there was to know about the input."""
        return list(self._answer["remarks"])

    def table(self) -> Table:
        """Return the main figures."""
        return self._table

    def figures(self) -> tuple[Plot, ...]:
        """Return the plots, as data."""
        return self._figures

    @property
    def pictures(self) -> dict[str, NDArray]:
        """Name -> (lines, samples, 3) float32 code values, read now."""
        return {name: make() / np.float32(255) for name, make in self.kept_pictures.items()}

    @property
    def kept_pictures(self) -> dict[str, Callable[[], NDArray]]:
        """Name -> what reads its (lines, samples, 3) uint8 codes."""
        return {name: reader(self.folder / file) for name, file in self._answer["pictures"].items()}

    def picture_file(self, name: str) -> str:
        """Return the file name of one of the pictures."""
        return str(self._answer["pictures"][name])

    @property
    def plot_folder(self) -> str:
        """Folder of the plots' files."""
        return str(self._answer["plot_folder"])

    @property
    def markdown_name(self) -> str:
        """File name of its text in Markdown."""
        return str(self._answer["markdown"])

    def files(self) -> dict[str, File]:
        """Return the texts beside the pictures, read when they are wanted."""
        return {name: File(file, partial(self._text, file)) for name, file in self._answer["files"].items()}

    def _text(self, file: str, _: str) -> str:
        try:
            return (self.folder / file).read_text(encoding="utf-8")
        except (OSError, ValueError) as error:
            raise unreadable(self.folder / file, error) from None

    def children(self) -> Iterable[tuple[str, str, Result]]:
        """Yield (folder, words, result) of the results in folders of their own, read when they are wanted."""
        for place, words in self._answer["children"]:
            yield place, words, read_saved(self.folder / place)

    def parts(self) -> Iterable[Part]:
        """Return what its page shows; pictures are read when they are wanted."""
        return self._parts

    def to_dict(self) -> dict[str, Any]:
        """Return the job's own keys."""
        ours = ("schema", "command", "version", "out", "files", "written", "written_files", "own_sha256")
        return {key: value for key, value in self.document.items() if key not in ours}


def _of(kind: type[T], value: Any) -> T:
    """Return a value that must be of a kind, or raise TypeError."""
    if not isinstance(value, kind):
        raise TypeError(f"{value!r} is no {kind.__name__}")
    return value
