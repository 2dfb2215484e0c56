"""Fill the comparison's page: what the template shows, and what the viewers are given."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from importlib import resources
from typing import Any

from scalesim.jobs.compare.compare import Comparison
from scalesim.page.compare_difference import LIMIT, palette
from scalesim.page.compare_look import Box
from scalesim.page.compare_pictures import FramePictures, ViewerPicture
from scalesim.page.compare_tables import (
    chains_of,
    columns_of,
    failures_table,
    metric_table,
    ranking_tables,
    settings_table,
)
from scalesim.page.compare_words import (
    CAUTIONS,
    FIDELITY_NOTE,
    MODELLED,
    figures_of,
    opening,
    reference_sentence,
    title_of,
)
from scalesim.page.picture_store import PictureStore
from scalesim.page.plots.compare import Plot, alike_sentence
from scalesim.page.plots.svg import ON_PAGE, coloured
from scalesim.version import __version__

_START_SCALE = 2


def render(
    comparison: Comparison,
    frames: Sequence[FramePictures],
    plots: Sequence[Plot],
    stills: Mapping[str, Sequence[str]],
    store: PictureStore,
    tube: str,
) -> str:
    """Return the page as HTML; every text is escaped."""
    from jinja2 import Environment, StrictUndefined
    from markupsafe import Markup

    environment = Environment(
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        newline_sequence="\n",
    )
    return environment.from_string(_read("templates/compare.html")).render(
        title=title_of(comparison),
        opening=opening(comparison),
        verdict=comparison.sentences(),
        rankings=ranking_tables(comparison),
        by=", ".join(comparison.by),
        frames=[_frame(frame, store, _captions(comparison, frame.name)) for frame in frames],
        alike=alike_sentence(comparison),
        tube=tube,
        limit=f"{LIMIT:g}",
        scale=Markup(_scale_stops()),
        plots=[{"svg": Markup(coloured(plot.svg, ON_PAGE)), "caption": plot.caption} for plot in plots],
        measured=_tables(comparison, fidelity=False),
        fidelity=_tables(comparison, fidelity=True),
        fidelity_note=f"{FIDELITY_NOTE} {reference_sentence(comparison)}",
        chains=chains_of(comparison),
        settings=settings_table(comparison),
        failures=failures_table(comparison),
        modelled=MODELLED,
        cautions=CAUTIONS,
        stills=[(frame, list(names)) for frame, names in stills.items()],
        version=__version__,
        viewer_css=Markup(_read("static/viewer.css")),
        viewer_js=Markup(inlined_viewer()),
    )


def _read(name: str) -> str:
    return (resources.files("scalesim.page") / name).read_text(encoding="utf-8")


def inlined_viewer() -> str:
    """Return the viewer as one script, by the rule in its header."""
    lines = [*_read("static/pane.js").splitlines(), *_read("static/viewer.js").splitlines()]
    return "\n".join(line for line in lines if not line.startswith(("import ", "export ")))


def _scale_stops() -> str:
    """Return the difference scale's colours as stops of a gradient."""
    colours = palette()
    places = (0, len(colours) // 2, len(colours) - 1)
    return ", ".join("rgb({}, {}, {})".format(*colours[place]) for place in places)


def _tables(comparison: Comparison, *, fidelity: bool) -> list[Any]:
    columns = columns_of(comparison.rows, fidelity=fidelity)
    if not columns:
        return []
    frames = dict.fromkeys(row.frame for row in comparison.rows)
    return [
        metric_table(name, [row for row in comparison.rows if row.frame == name], columns) for name in frames
    ]


def _captions(comparison: Comparison, frame: str) -> dict[str, str]:
    """Return chain -> its figures on a frame, as a sentence without its stop."""
    found = {row.chain: figures_of(row) for row in comparison.rows if row.frame == frame}
    return {chain: said[:1].upper() + said[1:] for chain, said in found.items()}


def _frame(frame: FramePictures, store: PictureStore, captions: Mapping[str, str]) -> dict[str, Any]:
    from markupsafe import Markup

    top, left, height, width = frame.crop
    chains = ["", *(captions.get(tile.label, "") for tile in frame.tiles[1:])]
    tiles = [
        {"tile": tile, "image": store.image(tile.picture), "figures": said}
        for tile, said in zip(frame.tiles, chains, strict=True)
    ]
    options = json.dumps(_viewer_options(frame, store), ensure_ascii=False)
    return {
        "name": frame.name,
        "size": frame.size,
        "window": f"lines {top} to {top + height}, samples {left} to {left + width} of the source",
        "reason": frame.crop_reason,
        "tiles": tiles,
        # no text can end the script element: a "<" in JSON is always inside a string
        "options": Markup(options.replace("<", "\\u003c")),
    }


def _viewer_options(frame: FramePictures, store: PictureStore) -> dict[str, Any]:
    pictures = [_viewer_picture(picture, frame, store) for picture in frame.viewer]
    x, y = frame.start
    return {
        "label": f"Pictures of {frame.name}",
        "pictures": pictures,
        "panes": _panes(frame.viewer),
        "start": {"centreX": x, "centreY": y, "scale": _START_SCALE},
    }


def _panes(pictures: Sequence[ViewerPicture]) -> list[dict[str, Any]]:
    """Return the first panes: source, first chain, first against second, and the first's difference."""
    chains = [picture.id for picture in pictures[1:] if picture.light]
    maps = [picture.id for picture in pictures if not picture.light]
    panes: list[dict[str, Any]] = [{"picture": "source"}, {"picture": chains[0]}]
    if len(chains) > 1:
        panes.append({"picture": chains[0], "against": chains[1]})
    return [{**pane, "choose": True} for pane in [*panes, {"picture": maps[0]}]]


def _viewer_picture(picture: ViewerPicture, frame: FramePictures, store: PictureStore) -> dict[str, Any]:
    options: dict[str, Any] = {
        "id": picture.id,
        "label": picture.label,
        "alt": f"{frame.name}: {picture.label}",
        "caption": picture.caption,
        "source": store.source(picture.picture),
        **_place(picture.place),
    }
    if not picture.light:
        options["light"] = False
    if picture.fields:
        options["fields"] = [
            {"source": store.source(name), "label": label, **_place(place)}
            for name, place, label in picture.fields
        ]
    return options


def _place(box: Box) -> dict[str, float]:
    return {"x": box.x, "y": box.y, "width": box.width, "height": box.height}
