"""Plots as inline SVG: text stays text, colours are the page's own, and equal data give equal bytes."""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from scalesim.typeset import typeset_markup

if TYPE_CHECKING:
    from matplotlib.figure import Figure

INK, QUIET, RULE = "#010101", "#020202", "#030303"
HUES = ("#040404", "#050505", "#060606", "#070707")
"""Stand-ins for the page's colours: Matplotlib knows no style sheet, so they are replaced afterwards."""

MARKS = ("o", "s", "^", "D")
"""Shapes that go with the hues, so that no colour is needed to tell them apart."""

PAPER_HUES = ("#077fde", "#b8701f", "#015628", "#662277")
DARK_HUES = ("#45a5f8", "#b98a54", "#7cf493", "#fa4aaf")
"""The hues on a light and on a dark ground, the same as in the page's style: every pair stays apart for each
colour vision, and each stands out from its ground by 3:1 at least."""

ON_PAGE = {
    INK: "currentColor",
    QUIET: "var(--quiet)",
    RULE: "var(--rule)",
    **{hue: f"var(--hue-{number})" for number, hue in enumerate(HUES)},
}
ON_PAPER = {
    INK: "#1f2328",
    QUIET: "#5b626b",
    RULE: "#c9c5ba",
    **dict(zip(HUES, PAPER_HUES, strict=True)),
}
"""The colours of the files beside the page; the hues differ in lightness and shape, not only in hue."""

_DOTS = 72
"""Dots to the inch of an SVG by Matplotlib: sizes here are in dots."""

_LONG_NUMBER = re.compile(r"-?\d+\.\d{4,}\b")

FONT = 11.5
"""Dots of the letters; a page shows no plot smaller than its own size, so they are 11 pixels at least."""

_STYLE: dict[Any, Any] = {
    "svg.fonttype": "none",
    "font.family": "DejaVu Sans",
    "font.size": FONT,
    "text.parse_math": False,
    "text.color": INK,
    "axes.edgecolor": QUIET,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.8,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "xtick.color": QUIET,
    "ytick.color": QUIET,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "figure.facecolor": "none",
    "axes.facecolor": "none",
}


@contextmanager
def styled(name: str) -> Iterator[None]:
    """Set the style for the plot of this name; a label's missing glyphs are the reader's fonts' business."""
    from matplotlib import rc_context

    with rc_context({**_STYLE, "svg.hashsalt": name}), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        yield


def new_figure(width: float, height: float) -> Figure:
    """Return an empty figure of a size in dots."""
    from matplotlib.figure import Figure as New

    return New(figsize=(width / _DOTS, height / _DOTS), dpi=_DOTS)


def clean(text: str, most: int = 34) -> str:
    """Return a label short enough for a plot, without characters that XML forbids."""
    text = "".join(char if char.isprintable() else " " for char in text).strip() or " "
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"


def svg_of(figure: Figure, name: str, title: str) -> str:
    """Return a figure as an SVG element with the stand-in colours, its ids made the page's only ones."""
    packed = io.StringIO()
    figure.savefig(packed, format="svg", transparent=True, metadata={"Date": None, "Creator": None})
    text = packed.getvalue()
    text = text[text.index("<svg") :].strip()
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    text = re.sub(r'\bid="', f'id="{name}-', text)
    text = re.sub(r'(href="|url\()#', rf"\1#{name}-", text)
    text = re.sub(r"<[^>]*>", lambda tag: _LONG_NUMBER.sub(_shorter, tag.group()), text)
    text = text.replace("font-family: 'DejaVu Sans'", "font-family: var(--plot-font, sans-serif)")
    text = text.replace('<style type="text/css">*{', '<style type="text/css">svg *{')
    head = f'<svg role="img" aria-labelledby="{name}-title"'
    titled = text.replace("<svg", head, 1).replace(">", f'><title id="{name}-title">{_xml(title)}</title>', 1)
    return typeset_markup(titled)


def coloured(svg: str, colours: Mapping[str, str]) -> str:
    """Return an SVG with the stand-ins replaced."""
    return re.sub(r"#0([1-7])(?:0\1){2}", lambda found: colours[found.group()], svg)


def on_paper(svg: str) -> str:
    """Return an SVG as a file of its own: dark on white, whatever it is shown on."""
    style = "<style>svg{background:#fff;color:#1f2328}</style>"
    return coloured(svg, ON_PAPER).replace("</title>", f"</title>{style}", 1) + "\n"


def _shorter(number: re.Match[str]) -> str:
    """Return a place to a hundredth of a dot: what lies below it differs with the number of threads."""
    return f"{float(number.group()):.2f}".rstrip("0").rstrip(".")


def _xml(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
