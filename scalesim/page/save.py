"""Saving a comparison from Python, as the command does it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from scalesim.io.folder import output_folder
from scalesim.io.save import document, save_document, with_absolute_paths
from scalesim.jobs.compare.compare import Comparison
from scalesim.page.compare import write_comparison
from scalesim.page.compare_look import Crop


def save_comparison(
    comparison: Comparison,
    out: str | Path,
    *,
    crop: Crop | None = None,
    tube: str = "4:3",
    force: bool = False,
    advance: Callable[[str], None] = lambda _: None,
) -> dict[str, Any]:
    """Write rows, page, stills and document to a folder; return the document with absolute paths.

    Parameters:
        out : folder that does not exist yet; with `force` an earlier result of ours is replaced
        crop : (top, left, height, width) in source samples; None takes the busiest window
        tube : shape of the tube, "4:3" or "16:9"
        advance : called with what is worked on next
    Raises: WriteError for a folder that cannot be written, ParameterError for a crop outside a frame
    """
    with output_folder(Path(out), force=force) as partial:
        files = write_comparison(comparison, partial, crop=crop, tube=tube, advance=advance)
        written = save_document(document(comparison, files), partial)
    return with_absolute_paths(written, Path(out))
