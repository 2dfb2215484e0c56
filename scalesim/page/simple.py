"""A page: an opening, sections of captioned pictures with a table each, a closing.

The page is one HTML file that refers to picture files beside it; it loads nothing else.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib import resources

from scalesim.result import Table


@dataclass(frozen=True)
class Figure:
    """A picture with its words; `image` and `link` are paths relative to the page, `size` is in dots."""

    name: str
    image: str
    link: str
    alt: str
    caption: str
    code: str = ""
    size: tuple[int, int] = (400, 300)


@dataclass(frozen=True)
class Section:
    """One frame's part of the page."""

    anchor: str
    title: str
    subtitle: str
    text: tuple[str, ...]
    figures: tuple[Figure, ...]
    table: Table


def render_page(
    title: str,
    opening: tuple[str, ...],
    sections: tuple[Section, ...],
    closing: tuple[str, ...],
    more: tuple[tuple[str, str], ...],
) -> str:
    """Return the page as HTML, every text escaped; `more` are (place, words) of pages to read next."""
    from jinja2 import Environment, StrictUndefined

    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=False)
    source = (resources.files("scalesim.page") / "templates" / "page.html").read_text(encoding="utf-8")
    return environment.from_string(source).render(
        title=title, opening=opening, sections=sections, closing=closing, more=more
    )
