"""What the picture viewer of a page is given: layers, places, and whom it opens with."""

from __future__ import annotations

import re
from importlib import resources
from typing import Any

from scalesim.page.kept import Store
from scalesim.result import Box, Judged, Layer, Pointed, Taps, Viewer

MODULES = (
    "dom", "load", "paint", "values", "fields", "wipe", "flip", "magnifier", "taps", "slice", "keys",
    "gestures", "link", "marks", "pane", "tools", "view", "viewer",
)  # fmt: skip
"""The viewer's modules, each after those it imports."""

_IMPORT = re.compile(r'^import (\{.*\}) from "\./(\w+)\.js";$', re.MULTILINE)
_EXPORT = re.compile(r"^export (\{.*\});$", re.MULTILINE)


def viewer_options(viewer: Viewer, store: Store, name: str = "") -> dict[str, Any]:
    """Return the options of `createViewer` in static/viewer.js.

    Parameters:  name : of the viewer in the page's address, "" to leave the address alone
    """
    x, y = viewer.start
    return {
        "label": f"Pictures of {viewer.name}",
        "name": name,
        "pictures": [_layer(layer, viewer, store) for layer in viewer.layers],
        "pair": list(viewer.pair),
        "source": viewer.source or None,
        "contestants": list(viewer.contestants),
        **({"mode": viewer.mode} if viewer.mode else {}),
        "start": {"centreX": x, "centreY": y},
        "judged": [_judged(each) for each in viewer.judged],
    }


def inlined_viewer() -> str:
    """Return the viewer as one script: each module is a function of its own, so that no names meet."""
    folder = resources.files("scalesim.page") / "static"
    return "\n".join(
        [
            *(_wrapped(name, (folder / f"{name}.js").read_text(encoding="utf-8")) for name in MODULES),
            "const { createViewer, registerPicture } = modules.viewer;",
            "const { fragmentRead } = modules.link;",
        ]
    ).replace("modules.dom = ", "const modules = {};\nmodules.dom = ", 1)


def _wrapped(name: str, text: str) -> str:
    """Return a module as a function that gives what it exports."""
    text = _IMPORT.sub(r"const \1 = modules.\2;", text)
    text = _EXPORT.sub(r"return \1;", text)
    return f"modules.{name} = (() => {{\n{text}}})();"


def _layer(layer: Layer, viewer: Viewer, store: Store) -> dict[str, Any]:
    options: dict[str, Any] = {
        "id": layer.id,
        "label": layer.label,
        "alt": f"{viewer.name}: {layer.label}",
        "caption": layer.caption,
        "source": store.source(layer.name),
        **_place(layer.place),
    }
    if not layer.light:
        options["light"] = False
    if layer.percent and layer.palette:
        middle = len(layer.palette) // 2
        options["scale"] = {
            "stops": [list(layer.palette[at]) for at in (0, middle, -1)],
            "limit": layer.percent,
        }
    if layer.fields:
        options["fields"] = [
            {"source": store.source(picture.name), "label": picture.label, **_place(place)}
            for picture, place in layer.fields
        ]
    if layer.looks:
        options["looks"] = {"down": list(layer.looks[0]), "across": list(layer.looks[1])}
    if layer.taps is not None:
        options["taps"] = taps_options(layer.taps)
    if layer.no_taps:
        options["why"] = layer.no_taps
    if layer.of:
        options["of"] = layer.of
    return options


def taps_options(taps: Taps) -> dict[str, Any]:
    """Return weights as static/taps.js takes them."""
    return {
        "patterns": [list(each) for each in taps.patterns],
        "use": list(taps.use),
        "first": list(taps.first),
        "encoding": taps.encoding,
    }


def _judged(judged: Judged) -> dict[str, Any]:
    """Return what a measure judged, by layer."""
    return {
        "key": judged.key,
        "label": judged.label,
        "what": judged.what,
        "says": judged.says,
        "found": {pointed.layer: _pointed(pointed) for pointed in judged.found},
    }


def _pointed(pointed: Pointed) -> dict[str, Any]:
    found: dict[str, Any] = {
        "total": pointed.total,
        "faulty": pointed.faulty,
        "cases": [list(case) for case in pointed.cases],
    }
    return {**found, "shows": pointed.shows} if pointed.shows else found


def _place(box: Box) -> dict[str, float]:
    return {"x": box.x, "y": box.y, "width": box.width, "height": box.height}
