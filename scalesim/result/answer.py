"""What a job found, as data; every renderer (terminal, document, page, Markdown, stills) shows only this.

A job's answer is a frozen dataclass that derives from `Result`. It says what it found in `sentences`, its
main figures in `table`, plots as data in `figures`, pictures as arrays, and, where the page should hold more
than these in this order, `parts`. Nothing here knows how any of it is drawn, nor where it is kept.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from html import escape
from pathlib import Path
from typing import Any, ClassVar, Literal

from scalesim.figure import Figure
from scalesim.plot import Plot
from scalesim.result.article import Exhibit, Prose, Quote, Sheet
from scalesim.result.items import Code, Links, Picture, Table, table_html
from scalesim.result.plates import Plate
from scalesim.result.viewer import Viewer
from scalesim.result.weighing import Weighing
from scalesim.typeset import typeset_markup

SCHEMA = 1
"""Version of the documents' keys; it grows when a key changes its meaning or goes away."""

FOOT = (
    "A prediction is a model, and a measurement is of what was captured: look at the real thing before you "
    "spend money. A tube holds lethal voltages when off; leave its inside to trained people, and follow the "
    "display's manual for input levels.",
)


Item = (
    Table
    | Plot
    | Picture
    | Code
    | Links
    | Viewer
    | Weighing
    | Figure
    | Plate
    | Prose
    | Quote
    | Exhibit
    | Sheet
)


@dataclass(frozen=True)
class Part:
    """A section of an answer: a title ("" for none), paragraphs, and what is shown.

    Parameters:
        anchor : of the section in a page, unique in a result; "" takes a number
        quiet : said after the title in small letters
        quiet_text : the paragraphs are set in small letters
        layout : how pictures stand: "row" (as large as they are), "beside" (the paragraphs at the left, up to
            three pictures beside them), "matrix" (three to a row). In the last two they are as wide as there
            is room, never enlarged or reduced: what does not fit is cut off at the sides
        listed : whether a page's list of its parts names it; the second of a pair need not be
    """

    title: str
    text: tuple[str, ...] = ()
    items: tuple[Item, ...] = ()
    anchor: str = ""
    quiet: str = ""
    quiet_text: bool = False
    layout: Literal["row", "beside", "matrix"] = "row"
    listed: bool = True


def chains_part(texts: Mapping[str, str]) -> Part:
    """Return the part that prints chains, by their labels, so that a reader can run them."""
    codes = tuple(Code(text, label) for label, text in texts.items())
    said = ("Each in the form that the command line takes.",)
    return Part("The chains", said, codes, "chains", quiet_text=True)


@dataclass(frozen=True)
class File:
    """A file of a result that is no picture and no plot.

    Parameters:
        name : in the folder
        content : its text, or what makes it of the folder it will lie in (a text that names other files)
    """

    name: str
    content: str | Callable[[str], str]


@dataclass(frozen=True)
class Beside:
    """What was written beside a page before it, such as clips.

    Parameters:
        files : name -> file name; keys : more of the document
        answer : the result as it is told now that this lies there; None for as it was
    """

    files: Mapping[str, str] = field(default_factory=dict)
    keys: Mapping[str, Any] = field(default_factory=dict)
    answer: Result | None = None


class Result:
    """The finished answer of a job; a frozen dataclass that derives from it gives `to_dict` and its words."""

    kind: ClassVar[str]
    """The command that gives it, such as "predict"."""

    @property
    def title(self) -> str:
        """Heading of its page."""
        return self.kind.capitalize()

    @property
    def undecided(self) -> bool:
        """True when the verdict is "cannot tell" or "none", which a command tells by its exit code 1."""
        return False

    @property
    def byline(self) -> tuple[str, ...]:
        """Who made it and when, as they were told; said under the title with the version."""
        return ()

    @property
    def opening(self) -> tuple[str, ...]:
        """Paragraphs that say what was asked, before what was found."""
        return ()

    def sentences(self) -> list[str]:
        """Return what was found, in plain words, the most important first."""
        raise NotImplementedError

    def table(self) -> Table:
        """Return the main figures with their units."""
        raise NotImplementedError

    def remarks(self) -> list[str]:
        """Return what to know about the input and the files: said beside the answer, not in it."""
        return []

    def figures(self) -> tuple[Plot, ...]:
        """Return the plots, as data."""
        return ()

    @property
    def pictures(self) -> Mapping[str, Any]:
        """Name -> (lines, samples, 3) code values."""
        return {}

    def cover(self) -> Figure | Plate | None:
        """Return the figure that opens its page, made when it is asked for; None without one."""
        return None

    def parts(self) -> Iterable[Part]:
        """Yield what a page shows below the sentences; large pictures are made as they are asked for."""
        yield Part("Figures", items=(self.table(), *self.figures()))
        shown = tuple(
            Picture(self.picture_file(name).removesuffix(".png"), values, label=name)
            for name, values in self.kept_pictures.items()
        )
        if shown:
            yield Part("Pictures", items=shown)

    @property
    def kept_pictures(self) -> Mapping[str, Any]:
        """Name -> code values (or what makes them) to be written pixel-exact when it is saved."""
        return self.pictures

    def picture_file(self, name: str) -> str:
        """Return the file name of one of the pictures."""
        return f"{name}.png"

    @property
    def plot_folder(self) -> str:
        """Folder of the plots' files, with a slash at its end; "" puts them beside the page."""
        return ""

    @property
    def markdown_name(self) -> str:
        """File name of its text in Markdown."""
        return f"{self.kind}.md"

    def children(self) -> Iterable[tuple[str, str, Result | Callable[[str], Result]]]:
        """Yield (folder, words, result) of results that are saved in folders inside this one's.

        A result may be what makes it of the folder in which those before it lie.
        """
        return ()

    @property
    def foot(self) -> tuple[str, ...]:
        """What a page ends with: cautions."""
        return FOOT

    def files(self) -> Mapping[str, File]:
        """Return name -> file, for tables and texts that are kept beside the pictures."""
        return {}

    def streamed(self) -> Mapping[str, tuple[str, Callable[[str], None]]]:
        """Return name -> (file, what writes it at a path), for files that are no text or too long to hold."""
        return {}

    def beside(self, folder: Path) -> Beside:
        """Write into the folder of the page to come what the page tells of; nothing for most."""
        return Beside()

    def to_dict(self) -> dict[str, Any]:
        """Return the document's own keys: plain numbers, texts, lists; None where a value cannot be had."""
        raise NotImplementedError

    def _repr_html_(self) -> str:
        """Return what a notebook shows: the sentences and the table."""
        said = "".join(f"<p>{escape(sentence)}</p>" for sentence in self.sentences())
        return typeset_markup(said + table_html(self.table()))
