"""What a box does to lines, in plain words, from the stages that reproduce it."""

from __future__ import annotations

from typing import Any

import numpy as np

from scalesim.chain import Chain
from scalesim.core.raster import Raster
from scalesim.core.source import source_mode
from scalesim.jobs.identify.findings import Findings
from scalesim.signal.kernel.names import taps_text
from scalesim.stages import Stage
from scalesim.stages._base import LinearStage

_SCALERS = ("line-drop", "line-average", "resample")
_ROUNDING = 1e-6
_SAMPLES = 720
"""Of a line, where lines alone matter."""
LEAST_TOLD = 0.02
"""Weights below this share of the largest are not counted, nor written beside their stems."""
_DEINTERLACED = {
    "weave": "weaves the fields into one picture",
    "bob": "makes each field a picture of its own",
}


def plain_method(found: Findings) -> str:
    """Return what the box does as a verb phrase: "averages lines down to 480 and keeps 240 of the 480 lines".

    "" where no chain of named stages gives it.
    """
    if not found.methods or found.method == "unknown":
        return ""
    parts: list[str] = []
    raster = source_mode(found.lines_in, _SAMPLES, found.mode).raster
    for stage in Chain(found.chain).stages:
        if text := _stage(stage, raster, told="lines" in " ".join(parts)):
            parts.append(text)
        raster = stage.raster(raster)
    if not parts:
        return f"passes its {found.lines_in} lines on as they are"
    return " and ".join(filter(None, [", ".join(parts[:-1]), parts[-1]]))


def _leaves_lines(stage: Stage, raster: Raster) -> bool:
    """True when a scaler gives every line of a raster as it came."""
    if not isinstance(stage, LinearStage):
        return False
    return all(_is_identity(phase.lines) for phase in stage.operator(raster).phases)


def _is_identity(matrix: Any) -> bool:
    """True for None, which stands for it, and for ones on the diagonal of a square matrix alone."""
    if matrix is None:
        return True
    lines, lines_in = matrix.shape
    alone = bool(abs(abs(matrix).sum() - lines) < _ROUNDING * lines)
    return lines == lines_in and alone and bool(np.all(abs(matrix.diagonal() - 1) < _ROUNDING))


def _stage(stage: Stage, raster: Raster, *, told: bool) -> str:
    """Return what one stage does to the lines of a raster, "" for what leaves them as they are.

    Parameters:  told : whether lines were spoken of before
    """
    if stage.kind in _SCALERS:
        return "" if _leaves_lines(stage, raster) else _scaler(stage, raster.lines, told=told)
    them = "them" if told else "its lines"
    if stage.kind == "line-repeat":
        return f"shows every line {getattr(stage, 'times', 2)} times"
    if stage.kind == "flicker-filter":
        taps = getattr(stage, "taps", ())
        return f"averages {them} in pairs" if taps == "paired" else f"filters {them} by {taps_text(taps)}"
    if stage.kind == "interlace":
        return f"sends {them} as two fields"
    if stage.kind == "deinterlace":
        return _DEINTERLACED.get(str(getattr(stage, "how", "")), "blends the fields into frames")
    if stage.kind == "keep-field":
        return f"keeps the {getattr(stage, 'parity', 'top')} field alone"
    return ""


def _scaler(stage: Stage, lines_in: int, *, told: bool) -> str:
    lines = int(getattr(stage, "lines", lines_in))
    if stage.kind == "line-drop":
        return f"keeps {lines} of {'the ' if told else ''}{lines_in} lines"
    if stage.kind == "line-average":
        return f"averages lines {'down ' if lines < lines_in else ''}to {lines}"
    kernel = str(getattr(stage, "kernel", ""))
    how = "blends lines" if kernel == "linear" else f"scales lines with kernel {kernel}"
    return f"{how} to {lines}"


def headline(found: Findings) -> str:
    """Return the finding that heads the page; it tells an answer among several from the only one."""
    doing = plain_method(found)
    if not doing:
        return "None of the methods that were tried makes what this box makes"
    others = len(found.methods) - len(found.same_lines) - 1
    if others > 0:
        return f"The box {doing}, or one of {others} other method{'s' if others > 1 else ''} that fit as well"
    return f"The box {doing}"


def sure(found: Findings) -> str:
    """Return the confidence in words, as it is told beside the answer."""
    what = "answers of this kind that were right on simulated boxes"
    if found.confidence >= 0.995:
        return f"confidence above 0.99 of 1, the share of {what}"
    return f"confidence {found.confidence:.2f} of 1, the share of {what}"


def made_of(found: Findings) -> str:
    """Return of how many source lines a line is made, as the finding over its weights."""
    rows = np.abs(found.rows[0])
    counts = (rows > LEAST_TOLD * rows.max()).sum(axis=1)
    inner = counts[len(counts) // 4 : len(counts) - len(counts) // 4]  # away from the picture's edges
    least, most = int(inner.min()), int(inner.max())
    many = str(most) if least == most else f"{least} to {most}"
    return f"Each line of the output is made of {many} source line{'s' if most > 1 else ''}"
