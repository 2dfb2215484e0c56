"""The files that the lab's page is made of, as they lie in the package."""

from __future__ import annotations

from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable

from starlette.responses import JSONResponse, Response

PAGES_ALONE = ("page.js", "plate.js", "viewers.js", "weigh.js")
"""Scripts of the pages of answers, which the lab has no use for."""
KINDS = {
    "js": "text/javascript",
    "css": "text/css",
    "svg": "image/svg+xml",
    "html": "text/html",
    "json": "application/json",
    "png": "image/png",
}
"""What is said of files by their endings: Python would ask the registry of Windows, where programs may have
written that scripts are plain text, and a browser runs none of these."""


def modules(folder: Traversable) -> list[str]:
    """Return the scripts of a folder that make the page: asked for at once, not one import at a time."""
    names = sorted(each.name for each in folder.iterdir() if each.name.endswith(".js"))
    return [name for name in names if name not in PAGES_ALONE]


@cache
def _static(package: str) -> dict[str, Traversable]:
    folder = resources.files(package) / "static"
    return {each.name: each for each in folder.iterdir() if each.is_file()}


def packaged(package: str, name: str) -> Response:
    """Return a file of a package's `static` folder; nothing else can be named."""
    names = _static(package)
    if name not in names:
        return JSONResponse({"error": "there is no such file", "place": None}, status_code=404)
    kind = KINDS.get(name.rpartition(".")[2], "text/plain")
    return Response(names[name].read_bytes(), media_type=kind, headers={"cache-control": "no-cache"})
