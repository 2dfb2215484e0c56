"""A comparison as files: rows, page, stills and Markdown."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Any

from scalesim.jobs.compare import Comparison, Row
from scalesim.jobs.words import number_text
from scalesim.page import compare_tables as tables
from scalesim.page import compare_words as said
from scalesim.page.compare_look import Crop
from scalesim.page.compare_markdown import comparison_markdown
from scalesim.page.compare_pictures import FramePictures, Look, frame_pictures
from scalesim.page.compare_plots import Plot, plots_of
from scalesim.page.compare_rows import write_csv, write_json
from scalesim.page.picture_store import PictureStore
from scalesim.page.plot_svg import ON_PAGE, ON_PAPER, coloured
from scalesim.page.stills import MOST_CHAINS, Caption, write_stills
from scalesim.version import __version__


@dataclass(frozen=True)
class FrameSection:
    """One frame's part of the page."""

    anchor: str
    pictures: FramePictures
    measured: tables.MetricTable
    fidelity: tables.MetricTable
    viewer: dict[str, Any]


def write_comparison(
    comparison: Comparison,
    folder: Path,
    *,
    crop: Crop | None = None,
    tube: str = "4:3",
    advance: Callable[[str], None] = lambda _: None,
) -> dict[str, str]:
    """Write everything about a comparison into a folder that exists; return name -> file name in it.

    `rows.csv` and `rows.json`, `index.html`, `figures/` (stills of the first frame at 1920x1080 and
    3840x2160, plots as SVG), `comparison.md`. Pictures are predicted again frame by frame, so memory
    does not grow with their number; they lie inside the page, or beside it in `pictures/` when they
    are heavy.

    Parameters:
        crop : (top, left, height, width) in source samples of every frame; None takes the window in
            which the chains differ most
        tube : shape of the tube, "4:3" or "16:9"
        advance : called with what is worked on next
    Raises: ParameterError for a crop outside a frame
    """
    (folder / "figures").mkdir()
    store = PictureStore(folder)
    found: list[FramePictures] = []
    stills: list[Path] = []
    for number in range(len(comparison.frames)):
        made = frame_pictures(comparison, number, store, crop=crop, tube=tube, advance=advance)
        if made is None:
            continue
        pictures, look = made
        found.append(pictures)
        if not stills:
            stills = _stills(comparison, look, folder / "figures")
    plots = plots_of(comparison)
    for plot in plots:
        (folder / "figures" / f"{plot.name}.svg").write_text(coloured(plot.svg, ON_PAPER), encoding="utf-8")
    sections = [_section(comparison, number, each, store) for number, each in enumerate(found, start=1)]
    (folder / "index.html").write_text(_page(comparison, sections, plots, store), encoding="utf-8")
    markdown = comparison_markdown(comparison, [p.name for p in stills], [(p.name, p.caption) for p in plots])
    (folder / "comparison.md").write_text(markdown, encoding="utf-8")
    store.close()
    write_csv(comparison.rows, folder / "rows.csv")
    write_json(comparison, folder / "rows.json")
    figures = {path.stem: f"figures/{path.name}" for path in stills}
    return {
        "csv": "rows.csv",
        "json": "rows.json",
        "page": "index.html",
        "markdown": "comparison.md",
        **figures,
    }


def _stills(comparison: Comparison, look: Look, folder: Path) -> list[Path]:
    rows = {row.chain: row for row in comparison.rows if row.frame == look.name}
    captions = {each.label: Caption(each.label, _in_short(rows[each.label])) for each in look.contestants}
    more = len(look.contestants) - MOST_CHAINS
    foot = "Predicted, no beam or glow drawn."
    if more > 0:
        foot += f" {more} more on the page."
    return write_stills(
        look, captions, f"{look.name}: the same part after each chain", foot, folder / "still"
    )


def _in_short(row: Row) -> str:
    """Return the few numbers a caption has room for."""
    edge, split, flicker = (
        row.metrics.get(k) for k in ("edge_spread_lines", "line_doubling", "flicker_percent")
    )
    parts = []
    if edge is not None:
        parts.append(f"edges {edge:.2f} scan lines")
    if split is not None:
        parts.append(f"{number_text('line_doubling', split)[0]} % split")
    if flicker is not None:
        parts.append("steady" if flicker == 0 else f"flicker {flicker:.1f} % of white")
    return ", ".join(parts)


def _section(
    comparison: Comparison, number: int, pictures: FramePictures, store: PictureStore
) -> FrameSection:
    rows = [row for row in comparison.rows if row.frame == pictures.name]
    measured = tables.columns_of(rows, fidelity=False)
    likeness = tables.columns_of(rows, fidelity=True)
    return FrameSection(
        f"frame-{number}",
        pictures,
        tables.metric_table(f"Measured on {pictures.name}", rows, measured),
        tables.metric_table(f"Likeness on {pictures.name}", rows, likeness),
        _viewer_options(pictures, store),
    )


def _viewer_options(pictures: FramePictures, store: PictureStore) -> dict[str, Any]:
    """Return what the viewer is made with: all pictures, and panes for the first of them."""
    listed = []
    for picture in pictures.viewer:
        x, y, width, height = (picture.place.x, picture.place.y, picture.place.width, picture.place.height)
        fields = [
            {
                "source": store.source(name),
                "label": label,
                "x": b.x,
                "y": b.y,
                "width": b.width,
                "height": b.height,
            }
            for name, b, label in picture.fields
        ]
        listed.append(
            {
                "id": picture.id,
                "source": store.source(picture.picture),
                "label": picture.label,
                "alt": f"{pictures.name}: {picture.label}",
                "caption": picture.caption,
                "x": x,
                "y": y,
                "width": width,
                "height": height,
                "light": picture.light,
                **({"fields": fields} if fields else {}),
            }
        )
    start = {"centreX": pictures.start[0], "centreY": pictures.start[1], "scale": 1}
    label = f"Linked pictures of {pictures.name}"
    return {"pictures": listed, "panes": _panes(pictures), "start": start, "label": label}


def _panes(pictures: FramePictures) -> list[dict[str, Any]]:
    chains = [p.id for p in pictures.viewer if p.light and p.id != "source"]
    maps = [p.id for p in pictures.viewer if not p.light]
    other = chains[1] if len(chains) > 1 else "source"
    return [
        {"picture": "source", "choose": True},
        {"picture": chains[0], "choose": True},
        {"picture": chains[0], "against": other, "choose": True},
        {"picture": maps[0], "choose": True},
    ]


def _page(
    comparison: Comparison, sections: Sequence[FrameSection], plots: Sequence[Plot], store: PictureStore
) -> str:
    from jinja2 import Environment, StrictUndefined
    from markupsafe import Markup

    folder = resources.files("scalesim.page")
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    template = environment.from_string((folder / "templates" / "compare.html").read_text(encoding="utf-8"))
    return template.render(
        comparison=comparison,
        title=said.title_of(comparison),
        opening=said.opening(comparison),
        rankings=tables.ranking_tables(comparison),
        sections=sections,
        image=store.image,
        options_json=lambda section: Markup(_script_json(section.viewer)),
        plots=[(Markup(coloured(plot.svg, ON_PAGE)), plot.caption) for plot in plots],
        chains=tables.chains_of(comparison),
        settings=tables.settings_table(comparison),
        failures=tables.failures_table(comparison),
        reference=said.reference_sentence(comparison),
        fidelity_note=said.FIDELITY_NOTE,
        modelled=said.MODELLED,
        cautions=said.CAUTIONS,
        version=__version__,
        viewer_css=Markup((folder / "static" / "viewer.css").read_text(encoding="utf-8")),
        viewer_js=Markup(inlined_viewer()),
    )


def inlined_viewer() -> str:
    """Return the viewer's modules as one script: pane.js then viewer.js, less imports and exports."""
    folder = resources.files("scalesim.page") / "static"
    lines = [
        line
        for name in ("pane.js", "viewer.js")
        for line in (folder / name).read_text(encoding="utf-8").splitlines()
        if not line.startswith(("import ", "export "))
    ]
    return "\n".join(lines)


def _script_json(value: Any) -> str:
    """Return JSON that no text in it can end the script element of."""
    return json.dumps(value, ensure_ascii=False, allow_nan=False).replace("<", "\\u003c")
