"""What the picture viewer of a page is given: layers, places and the panes it opens with."""

from __future__ import annotations

from importlib import resources
from typing import Any

from scalesim.page.kept import Store
from scalesim.result import Box, Layer, Viewer

_START_SCALE = 2


def viewer_options(viewer: Viewer, store: Store) -> dict[str, Any]:
    """Return the options of `createViewer` in static/viewer.js."""
    x, y = viewer.start
    return {
        "label": f"Pictures of {viewer.name}",
        "pictures": [_layer(layer, viewer.name, store) for layer in viewer.layers],
        "panes": [_pane(first, against) for first, against in viewer.panes],
        "start": {"centreX": x, "centreY": y, "scale": _START_SCALE},
    }


def inlined_viewer() -> str:
    """Return the viewer as one script, by the rule in its header."""
    folder = resources.files("scalesim.page") / "static"
    texts = [(folder / name).read_text(encoding="utf-8") for name in ("pane.js", "viewer.js")]
    lines = [line for text in texts for line in text.splitlines()]
    return "\n".join(line for line in lines if not line.startswith(("import ", "export ")))


def _pane(first: str, against: str) -> dict[str, Any]:
    return {"picture": first, **({"against": against} if against else {}), "choose": True}


def _layer(layer: Layer, name: str, store: Store) -> dict[str, Any]:
    options: dict[str, Any] = {
        "id": layer.id,
        "label": layer.label,
        "alt": f"{name}: {layer.label}",
        "caption": layer.caption,
        "source": store.source(layer.name),
        **_place(layer.place),
    }
    if not layer.light:
        options["light"] = False
    if layer.fields:
        options["fields"] = [
            {"source": store.source(picture.name), "label": picture.label, **_place(place)}
            for picture, place in layer.fields
        ]
    return options


def _place(box: Box) -> dict[str, float]:
    return {"x": box.x, "y": box.y, "width": box.width, "height": box.height}
