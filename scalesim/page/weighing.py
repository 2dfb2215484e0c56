"""What a ranking that is weighed on a page is given: its data for the script, and places of its bands."""

from __future__ import annotations

import json
from dataclasses import asdict
from importlib import resources
from typing import Any

from scalesim.result import Weighing

_KEPT = ("chains", "weights", "groups", "ranks", "draws", "agreeing", "span")


def weighing_options(item: Weighing) -> dict[str, Any]:
    """Return the data as JSON, and functions from mean ranks to shares of the width, "25.0%"."""
    from markupsafe import Markup

    known = {key: value for key, value in asdict(item).items() if key in _KEPT}
    data = json.dumps(known, ensure_ascii=False, separators=(",", ":")).replace("<", "\\u003c")
    first, last = item.span
    return {
        "data": Markup(data),
        "at": lambda value: f"{100 * (value - first) / (last - first):.2f}%",
        "wide": lambda low, high: f"{100 * (high - low) / (last - first):.2f}%",
    }


def inlined_weighing() -> str:
    """Return the script, less the lines that only a module of its own has."""
    text = (resources.files("scalesim.page") / "static/weigh.js").read_text(encoding="utf-8")
    return "\n".join(line for line in text.splitlines() if not line.startswith(("import ", "export ")))
