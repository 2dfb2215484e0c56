"""An annotated figure as data: some pictures of one thing, the same part of each, and marks on what matters.

Everything lies on one *ground*: the source's lines and samples, edges at integers. A `View` is a whole
picture and where it lies on that ground, so that any part can be cut out of all of them alike, each at a
scale at which its lines are whole dots tall; `Mark`s are on the ground, too. What opens a page, the stills
for a video edit, the picture for a link and the cover of a print are drawn from one `Figure`.

To make one, give the pictures whole, say where they lie, and choose the window; nothing has to be cut,
enlarged or drawn::

    scale, offset = geometry.landed_blocks(raster)  # of an outcome, as `Affine`
    View("after", codes, lines=(3.0, 0.0), samples=(1.0, 0.0), said="outlines 3 % of an even split",
         marks=(Mark((398, 401), (100, 700), "split"),))
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from numpy.typing import NDArray

MOST_VIEWS = 4
Window = tuple[float, float, float, float]
"""(top, left, height, width) on the ground, in source lines and samples."""

MarkKind = Literal["split", "lost", "place"]
"""An outline on lines it does not need (in brackets); a line that is gone (arrows to where it was); any other
place (its corners)."""

MARK_WORDS: dict[str, str] = {
    "split": "brackets: an outline on more scan lines than it needs",
    "lost": "arrows: a thin line that is gone",
}
"""What a figure's caption says of the marks that it has; of a place it says itself what it is."""


@dataclass(frozen=True)
class Mark:
    """Something to point at.

    Parameters:
        lines, samples : (begin, end) on the ground
        kind : see `MarkKind`
        quiet : True where nothing is at fault: it only shows the same place, such as in the source
    """

    lines: tuple[float, float]
    samples: tuple[float, float]
    kind: MarkKind = "place"
    quiet: bool = False


@dataclass(frozen=True, eq=False)
class View:
    """A picture of a figure, whole, and where it lies.

    Parameters:
        label, said : its name, and what is said of it in small letters (its figures with their n)
        values : (lines, samples, 3) uint8 codes
        lines : (scale, offset): its line i shows the ground's lines from scale * i + offset to
            scale * (i + 1) + offset; the source has (1, 0), 240 lines of a 720-line source (3, 0)
        samples : the same along the line
        line_word : what a line of it is called: "scan line", "frame line", "source line", or ""
        marks : on it, worst first; a renderer draws those that lie in the window
        opens : the figures in `said`, and what each opens on a page, as of a `Cell`
    """

    label: str
    values: NDArray
    lines: tuple[float, float] = (1.0, 0.0)
    samples: tuple[float, float] = (1.0, 0.0)
    said: str = ""
    line_word: str = "scan line"
    marks: tuple[Mark, ...] = ()
    opens: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, eq=False)
class Figure:
    """An annotated figure: at most four views of one window.

    Parameters:
        name : stem of its files, in `figures/`, such as "figures/still"
        title : the finding, in a few plain words; says no more than was found
        caption : what it shows and what follows from it, with its n
        views : in the order they are read; lettered a, b, c
        window : the part that is looked at. A renderer cuts about its middle: less where there is no room,
            more where there is, unless it is `fixed`
        shape : width of a ground sample as it is shown, in heights of a ground line (0.75 for 1280x720 on a
            4:3 tube)
        ground : (lines, samples, 3) uint8 codes of the whole picture for the locator, None for none
        foot : said in small letters on the stills
        fixed : True cuts no more than the window, though there be room
        choose : gives the best part of a size (lines, samples), where a sheet has another room than the
            window; None cuts about the window's middle, and shows all of a fixed one where a sheet can
        told : what the caption of a still says where only a part of a fixed window is shown
    """

    name: str
    title: str
    caption: str
    views: tuple[View, ...]
    window: Window
    shape: float = 1.0
    ground: NDArray | Callable[[], NDArray] | None = None
    foot: str = ""
    fixed: bool = False
    choose: Callable[[float, float], Window] | None = None
    told: Callable[[Window], str] | None = None

    @property
    def mark_words(self) -> str:
        """What the marks mean, of those kinds that the views have."""
        kinds = {mark.kind for view in self.views for mark in view.marks if not mark.quiet}
        meant = [words for kind, words in MARK_WORDS.items() if kind in kinds]
        source = any(mark.quiet for view in self.views for mark in view.marks)
        more = ["the five worst of a picture at most"] + [
            "white in the source: the worst of these places"
        ] * source
        return "; ".join([*meant, *more] if meant else [])
