"""An answer as Markdown: the page's text and tables, with plots and pictures as files beside it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from itertools import count

from scalesim.plot import Plot
from scalesim.result import (
    Cell,
    Code,
    Exhibit,
    Item,
    Links,
    Part,
    Picture,
    Plate,
    Prose,
    Quote,
    Result,
    Table,
)
from scalesim.typeset import typeset
from scalesim.version import __version__

_SIGNS = re.compile(r"([\\`*_{}\[\]<>#|~&])")


def render_markdown(
    result: Result, parts: Sequence[Part], plots: Mapping[str, str], cover: Plate | None = None
) -> str:
    """Return the document; pictures and plots are named by their places beside it.

    Parameters:  plots : name of a plot -> its file; cover : the figure that opens it
    """
    said = [f"# {escaped(result.title)}"]
    said += [escaped(" · ".join(result.byline))] if result.byline else []
    if cover is not None and cover.stills.links:
        said.append(figure(cover.stills.links[0][0], f"Figure 1. {cover.caption}"))
    said += map(escaped, result.opening)
    said += map(escaped, result.sentences())
    figures = count(1 if cover is None else 2)
    for part in parts:
        quiet = f" ({escaped(part.quiet)})" if part.quiet else ""
        said += [f"## {escaped(part.title)}{quiet}"] if part.title else []
        said += map(escaped, part.text)
        said += [text for item in part.items if (text := _item(item, plots, figures))]
    said += [*map(escaped, result.foot), f"Made with scalesim {__version__}."]
    return "\n\n".join(said) + "\n"


def _item(item: Item, plots: Mapping[str, str], figures: Iterator[int]) -> str:
    if isinstance(item, Table):
        return table_text(item)
    if isinstance(item, Plot):
        return figure(plots[item.name], f"Figure {next(figures)}. {item.caption}")
    if isinstance(item, Picture):
        words = ". ".join(filter(None, (item.label, item.said.rstrip("."))))
        return figure(f"{item.name}.png", words)
    if isinstance(item, Code):
        label = f"**{escaped(item.label)}**\n\n" if item.label else ""
        return label + code_block(item.text)
    if isinstance(item, Links):
        return "\n".join(
            [escaped(item.text), *(f"- [{escaped(words)}]({place})" for place, words in item.links)]
        )
    if isinstance(item, Prose):
        return item.markdown
    if isinstance(item, Quote):
        return "\n>\n".join(f"> {escaped(said)}" for said in (*item.sentences, item.origin))
    if isinstance(item, Plate):
        return _plate(item)
    if isinstance(item, Exhibit):
        return _exhibit(item, plots)
    return ""  # a viewer is for a page


def _plate(plate: Plate) -> str:
    """Return a plate as its still, or panel by panel where it has none."""
    if plate.stills.links:
        return f"![{escaped(plate.title)}]({plate.stills.links[0][0]})"
    named = ((panel.picture, f"{panel.picture.label}; {panel.said}") for panel in plate.panels)
    return "\n\n".join(f"![{escaped(said)}]({picture.name}.png)" for picture, said in named)


def _exhibit(exhibit: Exhibit, plots: Mapping[str, str]) -> str:
    """Return what an exhibit shows, and its caption below; what only a page can show is told."""
    shown = []
    for item in exhibit.items:
        if isinstance(item, Picture):
            shown.append(f"![{escaped(item.alt or item.label)}]({item.name}.png)")
        elif isinstance(item, Plot):
            shown.append(f"![{escaped(item.title)}]({plots[item.name]})")
        else:
            shown.append(_item(item, plots, count()) or "(Linked pictures, which the page alone can show.)")
    words = " ".join(filter(None, (f"{exhibit.name}.", exhibit.caption, exhibit.origin)))
    return "\n\n".join([*shown, f"*{escaped(words)}*"])


def escaped(text: str) -> str:
    """Return prose, typeset, whose signs mean nothing in Markdown, HTML or a table, on one line."""
    return _SIGNS.sub(r"\\\1", typeset(" ".join(text.split())))


def table_text(table: Table) -> str:
    """Return a table, the best in bold, and its footnotes."""
    notes = {note: number for number, note in enumerate(table.notes, start=1)}
    lines = [_cells(table.columns, notes), _rule(table), *(_cells(row, notes) for row in table.rows)]
    body = "\n".join("| " + " | ".join(line) + " |" for line in lines)
    below = "".join(f"\n\\[{number}\\] {escaped(note)}  " for note, number in notes.items())
    return f"**{escaped(table.title)}**\n\n{body}" + (f"\n{below}" if below else "")


def _rule(table: Table) -> list[str]:
    return ["--:" if align == "right" else ":--" for align in table.aligned]


def _cells(row: Sequence[str | Cell], notes: Mapping[str, int]) -> list[str]:
    return [_cell(cell, notes) for cell in row]


def _cell(cell: str | Cell, notes: Mapping[str, int]) -> str:
    if isinstance(cell, str):
        return escaped(cell)
    quiet = f" ({cell.quiet})" if cell.quiet else ""
    note = f" [{notes[cell.note]}]" if cell.note else ""
    text = escaped(f"{cell.text}{quiet}{note}")
    return f"**{text}**" if cell.best else text


def code_block(text: str) -> str:
    """Return a text as an indented block, in which nothing means anything."""
    return "\n".join("    " + line for line in text.splitlines())


def figure(path: str, words: str) -> str:
    """Return a picture with its words."""
    return f"![{escaped(words)}]({path})\n\n*{escaped(words)}*"
