"""A plate as the page's template takes it: its pictures, and its marks as paths over them."""

from __future__ import annotations

from typing import Any

from scalesim.page.kept import Store
from scalesim.result import Picture, Plate, PlatePanel


def plate_options(plate: Plate, store: Store) -> dict[str, Any]:
    """Return a plate whose pictures are in the store."""
    panels = [_panel(letter, panel, store) for letter, panel in zip("abcd", plate.panels, strict=False)]
    located = None if plate.locator is None else _image(plate.locator, store)
    return {
        "panels": panels,
        "locator": located,
        "frame": plate.frame,
        "caption": plate.caption,
        "legend": plate.legend,
        "stills": plate.stills,
        "card": plate.card,
    }


def _panel(letter: str, panel: PlatePanel, store: Store) -> dict[str, Any]:
    return _image(panel.picture, store) | {
        "letter": letter,
        "label": panel.picture.label,
        "said": panel.said,
        "figures": panel.figures,
        "drawn": panel.drawn,
        "marks": [
            {
                "path": _path(points, closed),
                "kind": f"{'same' if quiet else 'fault'}{' head' if closed else ''}",
            }
            for points, closed, quiet in panel.marks
        ],
    }


def _image(picture: Picture, store: Store) -> dict[str, Any]:
    return {"image": store.image(picture.name), "size": picture.size, "alt": picture.alt}


def _path(points: tuple[tuple[float, float], ...], closed: bool) -> str:
    """Return the path's text, in tenths of a dot."""
    said = " L".join(f"{x:.1f} {y:.1f}" for x, y in points)
    return f"M{said}{' Z' if closed else ''}"
