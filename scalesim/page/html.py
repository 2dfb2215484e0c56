"""An answer as one HTML page: what was found first, then its parts; it loads nothing from anywhere else."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from importlib import resources
from itertools import count, repeat
from typing import Any

from scalesim.page.kept import Store
from scalesim.page.plate import plate_options
from scalesim.page.plots.draw import plot_svg, slim
from scalesim.page.plots.layout import SLIM
from scalesim.page.plots.svg import ON_PAGE, coloured
from scalesim.page.stills import CARD
from scalesim.page.viewer import inlined_viewer, viewer_options
from scalesim.page.weighing import inlined_weighing, weighing_options
from scalesim.plot import Plot
from scalesim.result import (
    Cell,
    Code,
    Exhibit,
    Links,
    Part,
    Picture,
    Plate,
    Prose,
    Quote,
    Result,
    Scale,
    Table,
    Viewer,
    Weighing,
    within,
)
from scalesim.typeset import typeset_markup
from scalesim.version import __version__

_MANY = 8
"""Files of one folder that are still named one by one."""


def render_page(
    result: Result,
    parts: Sequence[Part],
    store: Store,
    *,
    cover: Plate | None = None,
    files: Mapping[str, str] | None = None,
    more: Sequence[tuple[str, str]] = (),
) -> str:
    """Return the page; every text is escaped, and prose is typeset.

    Parameters:
        cover : the figure that opens it, its pictures in the store
        parts : of the result, their pictures in the store
        files : name -> place of the files that lie beside it
        more : (place, words) of pages to go on to
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    environment = Environment(
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        newline_sequence="\n",
        loader=PackageLoader("scalesim.page"),
    )
    figures = count(1 if cover is None else 2)
    shown = [_part(number, part, store, figures) for number, part in enumerate(parts, start=1)]
    kinds = {type(item) for part in parts for item in within(part.items)}
    viewers, weighed = Viewer in kinds, Weighing in kinds
    styles = ["page", "plate", *(["viewer"] if viewers else []), *(["weigh"] if weighed else []), "paper"]
    page = environment.get_template("page.html").render(
        title=result.title,
        byline=result.byline,
        cover=None if cover is None else plate_options(cover, store),
        card=CARD,
        opening=result.opening,
        lead=result.sentences(),
        parts=shown,
        more=more,
        files=_listed(files or {}, parts, [place for place, _ in more]),
        foot=result.foot,
        version=__version__,
        css=Markup("".join(_read(f"static/{name}.css") for name in styles)),
        viewer_js=Markup(inlined_viewer() + "\n" + _read("static/viewers.js")) if viewers else "",
        weigh_js=Markup(inlined_weighing()) if weighed else "",
        page_js=Markup(
            _read("static/page.js")
            + (_read("static/plate.js") if cover is not None or Plate in kinds else "")
        ),
    )
    return typeset_markup(page)


def _read(name: str) -> str:
    return (resources.files("scalesim.page") / name).read_text(encoding="utf-8")


def _listed(files: Mapping[str, str], parts: Sequence[Part], pages: Sequence[str]) -> list[tuple[str, str]]:
    """Return (place, words) of the files beside the page that nothing on it shows or links to.

    Folders of many files are named as a whole.
    """
    items = [item for part in parts for item in within(part.items)]
    pictures = [item for item in items if isinstance(item, Picture)]
    shown = {f"{name}.png" for picture in pictures for name in (picture.name, picture.shown)}
    shown |= {place for item in items if isinstance(item, Links) for place, _ in item.links}
    elsewhere = tuple(page.rpartition("/")[0] + "/" for page in pages)
    left = [p for p in dict.fromkeys(files.values()) if p not in shown and not p.startswith(elsewhere)]
    folders = Counter(place.rpartition("/")[0] for place in left)
    found: dict[str, str] = {}
    for place in left:
        folder = place.rpartition("/")[0]
        if folder and folders[folder] > _MANY:
            found[f"{folder}/"] = f"{folder}/ ({folders[folder]} files)"
        else:
            found[place] = place
    return list(found.items())


def _part(number: int, part: Part, store: Store, figures: Iterator[int]) -> dict[str, Any]:
    anchor = part.anchor or f"part-{number}"
    return {"part": part, "anchor": anchor, "groups": _groups(part.items, anchor, store, figures)}


def _groups(items: Sequence[Any], anchor: str, store: Store, figures: Iterator[int]) -> list[dict[str, Any]]:
    """Return items as the template takes them, pictures and plots that follow each other together."""
    groups: list[dict[str, Any]] = []
    for item in items:
        kind, shown = _item(item, anchor, store, figures)
        if groups and groups[-1]["kind"] == kind and kind in ("picture", "plot"):
            groups[-1]["items"].append(shown)
        else:
            groups.append({"kind": kind, "items": [shown]})
    return groups


def _item(item: Any, anchor: str, store: Store, figures: Iterator[int]) -> tuple[str, dict[str, Any]]:
    from markupsafe import Markup

    if isinstance(item, Table):
        return "table", _table(item)
    if isinstance(item, Plot):
        drawn = [
            (Markup(coloured(plot_svg(each), ON_PAGE)), kind, each.size[0]) for each, kind in _widths(item)
        ]
        return "plot", {"number": next(figures), "plot": item, "drawn": drawn}
    if isinstance(item, Picture):
        return "picture", _picture(item, store)
    if isinstance(item, Code):
        return "code", {"code": item}
    if isinstance(item, Links):
        return "links", {"links": item}
    if isinstance(item, Weighing):
        return "weighing", {"item": item, "options": weighing_options(item)}
    if isinstance(item, Prose):
        return "prose", {"html": Markup(item.html)}
    if isinstance(item, Quote):
        return "quote", {"quote": item}
    if isinstance(item, Plate):
        return "plate", {"plate": plate_options(item, store)}
    if isinstance(item, Exhibit):
        return "exhibit", {"exhibit": item, "groups": _groups(_once(item), item.anchor, store, repeat(0))}
    assert isinstance(item, Viewer)
    options = json.dumps(viewer_options(item, store, f"{anchor}-viewer"), ensure_ascii=False)
    # no text can end the script element: a "<" in JSON is always inside a string
    shown = Markup(options.replace("<", "\\u003c"))
    return "viewer", {"viewer": item, "options": shown, "id": f"{anchor}-viewer", "scale": _scale(item.scale)}


def _once(exhibit: Exhibit) -> tuple[Any, ...]:
    """Return what an exhibit shows; of a picture alone without the words that the caption below it says."""
    if len(exhibit.items) != 1 or not isinstance(exhibit.items[0], Picture):
        return exhibit.items
    (only,) = exhibit.items
    said = {key: getattr(only, key) for key in ("label", "caption")}
    again = {key for key, words in said.items() if words.rstrip(".") == exhibit.caption.rstrip(".")}
    return (replace(only, alt=only.alt or only.label, **dict.fromkeys(again, "")),)


def _widths(plot: Plot) -> list[tuple[Plot, str]]:
    """Return a plot as it is drawn on a desk and on a phone, with the class that shows it there."""
    return [(plot, "roomy"), (slim(plot), "slim")] if plot.size[0] > SLIM else [(plot, "")]


def _picture(picture: Picture, store: Store) -> dict[str, Any]:
    assert picture.size is not None
    shown = f"{picture.shown}.png" if picture.shown else ""
    return {"picture": picture, "image": store.image(picture.name), "link": shown, "size": picture.size}


def _scale(scale: Scale | None) -> dict[str, Any] | None:
    """Return the colours as stops of a gradient, and the words at its ends and middle."""
    from markupsafe import Markup

    if scale is None:
        return None
    places = (0, len(scale.colours) // 2, len(scale.colours) - 1)
    stops = ", ".join("rgb({}, {}, {})".format(*scale.colours[place]) for place in places)
    return {"stops": Markup(stops), "ends": scale.ends, "alt": scale.alt}


def _table(table: Table) -> dict[str, Any]:
    """Return a table with its footnotes numbered."""
    notes = {note: number for number, note in enumerate(table.notes, start=1)}
    cells = [[_cell(cell, notes) for cell in row] for row in table.rows]
    heads = [_cell(cell, notes) for cell in table.columns]
    return {"table": table, "heads": heads, "rows": cells, "notes": list(notes), "align": table.aligned}


def _cell(cell: str | Cell, notes: Mapping[str, int]) -> dict[str, Any]:
    if isinstance(cell, Cell):
        return {
            "text": cell.text,
            "quiet": cell.quiet,
            "best": cell.best,
            "note": notes.get(cell.note, 0),
            "reason": cell.note,
            "opens": cell.opens,
        }
    return {"text": cell, "quiet": "", "best": False, "note": 0, "reason": "", "opens": ""}
