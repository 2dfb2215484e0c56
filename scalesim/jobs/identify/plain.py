"""What a box does to lines, in plain words, from the stages that reproduce it."""

from __future__ import annotations

import numpy as np

from scalesim.chain import Chain
from scalesim.jobs.identify.findings import Findings
from scalesim.stages import Stage

LEAST_TOLD = 0.02
"""Weights below this share of the largest are not counted, nor written beside their stems."""
_DEINTERLACED = {"weave": "weaves the fields into frames", "bob": "makes each field a frame of its own"}


def plain_method(found: Findings) -> str:
    """Return what the box does as a verb phrase: "averages its lines to 480 and keeps 240 of them".

    "" where no chain of named stages gives it.
    """
    if not found.methods or found.method == "unknown":
        return ""
    parts: list[str] = []
    for stage in Chain(found.chain).stages:
        if text := _stage(stage, found, first=not parts):
            parts.append(text)
    return " and ".join(filter(None, [", ".join(parts[:-1]), parts[-1]])) if parts else ""


def _stage(stage: Stage, found: Findings, *, first: bool) -> str:
    """Return what one stage does, "" for what is no matter of lines."""
    lines = getattr(stage, "lines", None)
    if stage.kind == "line-drop":
        return f"keeps {lines} of {found.lines_in} lines" if first else f"keeps {lines} of them"
    if stage.kind == "line-average":
        return f"averages lines down to {lines}"
    if stage.kind == "resample":
        kernel = str(getattr(stage, "kernel", ""))
        how = "blends lines" if kernel == "linear" else f"scales lines with kernel {kernel}"
        return f"{how} to {lines}"
    if stage.kind == "line-repeat":
        return f"shows every line {getattr(stage, 'times', 2)} times"
    if stage.kind == "flicker-filter":
        taps = found.flicker_taps
        return "averages its lines in pairs" if taps == "paired" else f"filters them by {taps}"
    if stage.kind == "interlace":
        return "sends them as two fields"
    if stage.kind == "deinterlace":
        return _DEINTERLACED.get(str(getattr(stage, "how", "")), "blends the fields into frames")
    if stage.kind == "keep-field":
        return f"keeps the {getattr(stage, 'parity', 'top')} field alone"
    return ""


def headline(found: Findings) -> str:
    """Return the finding that heads the page; it tells an answer among several from the only one."""
    doing = plain_method(found)
    if not doing:
        return "No method with a name makes what this box makes"
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
