"""What a job found, as data; every renderer (terminal, document, page, Markdown, stills) shows only this.

A job's answer is a frozen dataclass that derives from `Result`. It says what it found in `sentences`, its
main figures in `table`, plots as data in `figures`, pictures as arrays, and, where the page should hold more
than these in this order, `parts`. Nothing here knows how any of it is drawn, nor where it is kept.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Any, ClassVar, Literal

from scalesim.figure import Figure
from scalesim.plot import Plot
from scalesim.typeset import typeset_markup

if TYPE_CHECKING:
    from numpy.typing import NDArray

SCHEMA = 1
"""Version of the documents' keys; it grows when a key changes its meaning or goes away."""

FOOT = (
    "A prediction is a model, and a measurement is of what was captured: look at the real thing before you "
    "spend money. A tube holds lethal voltages when off; leave its inside to trained people, and follow the "
    "display's manual for input levels.",
)


@dataclass(frozen=True)
class Cell:
    """A text of a table; `quiet` is set small beside it, `best` in bold, `note` is the text of a footnote.

    `opens` is what a value rests on, as "viewer's part, measure, layer": "frame-1 lost_lines 01-02".
    """

    text: str
    quiet: str = ""
    best: bool = False
    note: str = ""
    opens: str = ""

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True)
class Table:
    """A titled table of texts.

    Parameters:
        columns : names, as texts or cells
        rows : texts or cells, as many as columns
        align : "left" or "right" per column; () is all left
        head : number of the column that heads the rows, None for none
        folded : whether a page shows its title only until it is opened
    """

    title: str
    columns: tuple[str | Cell, ...]
    rows: tuple[tuple[str | Cell, ...], ...]
    align: tuple[str, ...] = ()
    head: int | None = None
    folded: bool = False

    @property
    def aligned(self) -> tuple[str, ...]:
        """The alignment of every column."""
        return self.align or ("left",) * len(self.columns)

    @property
    def notes(self) -> tuple[str, ...]:
        """The footnotes in the order of their first cell; a cell's number is its place here, from 1."""
        cells = (cell for row in self.rows for cell in row if isinstance(cell, Cell))
        return tuple(dict.fromkeys(cell.note for cell in cells if cell.note))


@dataclass(frozen=True, eq=False)
class Picture:
    """A picture with its words.

    Parameters:
        name : stem of its file, unique in a result; may have a folder in front, with a slash. Pictures in
            `pictures/` may be put into a page itself
        values : (lines, samples, 3) float code values 0..1 or uint8 codes, or what makes them
        label, alt, caption : its name, what it shows for who cannot see it, and what to see in it
        quiet : said after the caption in small letters
        shown : name of the picture that is opened by it, "" for none; whole : that picture, when it is
            none of the result's own, or what makes it
        code : a text set below the caption, such as the chain
        size : (height, width) on a page in its dots, None for one dot a line and a sample
        figures : of what it shows, said before the caption
    """

    name: str
    values: NDArray | Callable[[], NDArray]
    label: str = ""
    alt: str = ""
    caption: str = ""
    quiet: str = ""
    shown: str = ""
    whole: NDArray | Callable[[], NDArray] | None = None
    code: str = ""
    size: tuple[int, int] | None = None
    figures: tuple[Cell, ...] = ()

    @property
    def said(self) -> str:
        """The figures as a sentence, and the caption."""
        figures = ", ".join(map(str, self.figures))
        return " ".join(filter(None, (f"{figures}." if figures else "", self.caption)))


@dataclass(frozen=True)
class Code:
    """A text to copy; `label` heads it, `what` says what it is."""

    text: str
    label: str = ""
    what: str = "chain"


@dataclass(frozen=True)
class Links:
    """Places to go on to, as (place relative to the page, words), after a text."""

    text: str
    links: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Box:
    """Where a picture lies on the common face of a viewer, in the face's units from its top left."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True)
class Taps:
    """What the lines of a picture are made of: line i is patterns[use[i]] times the source's from first[i]

    Parameters:
        patterns, use, first : as above; all () where the lines are no fixed mixture
        encoding : what is mixed: "code" values, "light", or "any" for choices
    """

    patterns: tuple[tuple[float, ...], ...]
    use: tuple[int, ...]
    first: tuple[int, ...]
    encoding: str


@dataclass(frozen=True, eq=False)
class Layer:
    """A picture of a viewer, with its place.

    Parameters:
        id : unique in its viewer
        values : as of a `Picture`; with a palette, (lines, samples) uint8 numbers of its colours
        name : stem of its file, as of a `Picture`
        fields : two more, with their places, which alternate when asked for
        light : False for what is no light, such as a difference map
        palette : colours as (red, green, blue) codes
        percent : of white, at the ends of a palette that goes from less over none to more; 0 for others
        looks : where its lines and its samples look on the source, each as (scale, offset): scale times the
            coordinate, whose edges are integers, plus offset; () for the source itself
        taps : what its lines are made of; no_taps : why that is not known
        of : of what is no light, the id of the layer it is a map of
    """

    id: str
    name: str
    values: NDArray | Callable[[], NDArray]
    label: str
    caption: str
    place: Box
    fields: tuple[tuple[Picture, Box], ...] = ()
    light: bool = True
    palette: tuple[tuple[int, int, int], ...] = ()
    percent: float = 0.0
    looks: tuple[tuple[float, float], ...] = ()
    taps: Taps | None = None
    no_taps: str = ""
    of: str = ""


@dataclass(frozen=True)
class Scale:
    """A scale of colours: from low to high, what stands at its ends and middle, and what it is in words."""

    colours: tuple[tuple[int, int, int], ...]
    ends: tuple[str, str, str]
    alt: str


@dataclass(frozen=True)
class Pointed:
    """What a measure judged in one layer.

    Parameters:
        layer : its id; shows : id of a layer that maps it, "" for none
        total, faulty : how many cases there are, and how many of them are at fault
        cases : the worst, worst first, each (begin and end on the source's lines, on its samples, how badly
            in percent)
    """

    layer: str
    total: int
    faulty: int
    cases: tuple[tuple[float, float, float, float, float], ...]
    shows: str = ""


@dataclass(frozen=True)
class Judged:
    """What a measure judged, layer by layer.

    Parameters:
        key, label : of the measure; what : the cases in the plural, such as "outlines"
        says : what is said of one, {} standing for how badly in percent
    """

    key: str
    label: str
    what: str
    says: str
    found: tuple[Pointed, ...]


@dataclass(frozen=True, eq=False)
class Viewer:
    """Linked pictures to move, enlarge and wipe against each other.

    Parameters:
        name, title : of what is shown; the heading
        text : paragraphs in front
        layers : in the order they are offered
        pair : ids of the two layers that it opens with
        start : (x, y) of the middle to begin with, in units of the face
        scale : of the layers that are no light; None without any
        source : id of the layer of what was sent, "" for none
        contestants : ids of the layers that are flipped through, in their order
        mode : how it opens, "beside", "wipe" or "flip"; "" leaves that to the width of the screen
        judged : what measures judged in them, to be lit up
    """

    name: str
    title: str
    text: tuple[str, ...]
    layers: tuple[Layer, ...]
    pair: tuple[str, str]
    start: tuple[float, float]
    scale: Scale | None = None
    source: str = ""
    contestants: tuple[str, ...] = ()
    mode: Literal["", "beside", "wipe", "flip"] = ""
    judged: tuple[Judged, ...] = ()


@dataclass(frozen=True)
class Weight:
    """Measures that are weighed together: their name, what they are, and whether they tell anyone apart."""

    label: str
    measures: tuple[str, ...]
    tells: bool


@dataclass(frozen=True)
class Weighed:
    """A contestant's place at some weights.

    Parameters:
        chain : number among the contestants
        place : 1 is best, shared in a tie; score : weighted mean of its ranks; None where nothing counts
        low, high : between which its score lies in 90 % of resamples of the frames
        lead : share of the resamples in which it alone is first; these three None below six frames
    """

    chain: int
    place: int | None
    score: float | None
    low: float | None
    high: float | None
    lead: float | None


@dataclass(frozen=True)
class Weighing:
    """A ranking that a reader weighs: what its order follows from, and the order at equal weights.

    Parameters:
        name : what the contestants share; chains : their names
        weights : the groups that are weighed; groups : of each measure, the number of its group
        ranks : of each measure and frame, the rank of every contestant, None where it has none
        draws : resample by resample how often each frame counts, a digit each of 0-9 and a-z; "" below six
            frames
        agreeing : of each captured contestant, the predictions whose place it shares
        beaten : whether another is better than each in something and worse in nothing
        equal : the order when all count alike, best first
        span : the least and the largest score that any weights give
    """

    name: str
    chains: tuple[str, ...]
    weights: tuple[Weight, ...]
    groups: tuple[int, ...]
    ranks: tuple[tuple[tuple[float | None, ...], ...], ...]
    draws: str
    agreeing: tuple[tuple[int, ...], ...]
    beaten: tuple[bool, ...]
    equal: tuple[Weighed, ...]
    span: tuple[float, float]


@dataclass(frozen=True, eq=False)
class PlatePanel:
    """A view of a plate.

    Parameters:
        picture : its dots as they are shown
        said, drawn : its figures, and how large it is drawn, in small letters
        marks : what points at things in it: points (x, y) in dots, whether they enclose an arrow's head, and
            whether the mark is quiet
        figures : what `said` says, figure by figure, where they open what they rest on
    """

    picture: Picture
    said: str
    drawn: str
    marks: tuple[tuple[tuple[tuple[float, float], ...], bool, bool], ...] = ()
    figures: tuple[Cell, ...] = ()


@dataclass(frozen=True, eq=False)
class Plate:
    """An annotated figure as a page shows it: made from a `Figure` when it is rendered.

    Parameters:
        title, caption, legend : the finding, what the figure shows, and what its marks mean
        panels : in the order they are read
        locator, frame : the whole picture, and the place of the part on it, in its dots; None without one
        stills : links to the same as stills, and where the page has a picture for links, its name
    """

    title: str
    caption: str
    legend: str
    panels: tuple[PlatePanel, ...]
    locator: Picture | None
    frame: Box | None
    stills: Links
    card: str = ""


Item = Table | Plot | Picture | Code | Links | Viewer | Weighing | Figure


@dataclass(frozen=True)
class Part:
    """A section of an answer: a title, paragraphs, and what is shown.

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


@dataclass(frozen=True)
class File:
    """A file of a result that is no picture and no plot.

    Parameters:
        name : in the folder
        content : its text, or what makes it of the folder it will lie in (a text that names other files)
    """

    name: str
    content: str | Callable[[str], str]


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

    def children(self) -> Iterable[tuple[str, str, Result]]:
        """Yield (folder, words, result) of results that are saved in folders inside this one's."""
        return ()

    @property
    def foot(self) -> tuple[str, ...]:
        """What a page ends with: cautions."""
        return FOOT

    def files(self) -> Mapping[str, File]:
        """Return name -> file, for tables and texts that are kept beside the pictures."""
        return {}

    def to_dict(self) -> dict[str, Any]:
        """Return the document's own keys: plain numbers, texts, lists; None where a value cannot be had."""
        raise NotImplementedError

    def _repr_html_(self) -> str:
        """Return what a notebook shows: the sentences and the table."""
        said = "".join(f"<p>{escape(sentence)}</p>" for sentence in self.sentences())
        return typeset_markup(said + table_html(self.table()))


def table_html(table: Table) -> str:
    """Return a table as plain HTML, every text escaped."""
    heads = "".join(f"<th>{escape(str(name))}</th>" for name in table.columns)
    rows = "".join(
        "<tr>" + "".join(f"<td>{escape(str(cell))}</td>" for cell in row) + "</tr>" for row in table.rows
    )
    caption = f"<caption>{escape(table.title)}</caption>"
    return f"<table>{caption}<thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table>"
