"""A page of one result: its answer in words first, then plots, pictures and tables; one HTML file.

Plots are inline; pictures lie beside the page and are shown one dot for one dot.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib import resources

from scalesim.page.plots.svg import ON_PAGE, coloured
from scalesim.result import Table

FOOT = (
    "A prediction is a model, and a measurement is of what was captured: look at the real thing before you "
    "spend money. A tube holds lethal voltages when off; leave its inside to trained people, and follow the "
    "display's manual for input levels.",
)


@dataclass(frozen=True)
class Plot:
    """An SVG with stand-in colours (see `plot_svg`) and what to see in it."""

    svg: str
    caption: str


@dataclass(frozen=True)
class Picture:
    """A picture file beside the page; `size` is (dot rows, dots)."""

    name: str
    file: str
    alt: str
    caption: str
    size: tuple[int, int]


@dataclass(frozen=True)
class Part:
    """A section: paragraphs, then plots, pictures, a text to copy, and tables."""

    title: str
    text: tuple[str, ...] = ()
    plots: tuple[Plot, ...] = ()
    pictures: tuple[Picture, ...] = ()
    code: str = ""
    tables: tuple[Table, ...] = ()


@dataclass(frozen=True)
class Article:
    """The whole page."""

    title: str
    lead: tuple[str, ...]
    sections: tuple[Part, ...]
    foot: tuple[str, ...] = FOOT


def render_article(article: Article) -> str:
    """Return the page as HTML; every text is escaped, plots take the page's colours."""
    from jinja2 import Environment, StrictUndefined

    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=False)
    source = (resources.files("scalesim.page") / "templates" / "article.html").read_text(encoding="utf-8")
    return coloured(environment.from_string(source).render(article=article), ON_PAGE)
