"""Predictions, comparisons and identified boxes from the page, saved as the command line saves them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any, Literal

from scalesim.errors import ParameterError
from scalesim.jobs.frames import FrameSource
from scalesim.lab import forms
from scalesim.lab.bench import Bench
from scalesim.lab.tasks import Advance, kept
from scalesim.schema import Param, convert

VIEWS = ("raster", "seen", "screen")
_LINES = Param("whole", at_least=1, at_most=4320)


def exported(bench: Bench, given: Mapping[str, Any], advance: Advance) -> dict[str, Any]:
    """Predict a frame as `scalesim predict` does, with all metrics, and save it."""
    from scalesim.jobs.predict.on_screen import Glass
    from scalesim.jobs.predict.predict import predict

    views = given.get("views") or ["raster", "seen"]
    if not isinstance(views, list) or not set(views) <= set(VIEWS):
        raise ParameterError(f"views is none of {', '.join(VIEWS)}")
    known = bench.frames.known(given.get("frame", ""))
    display = forms.display_of(given.get("display"))
    glass = Glass(display) if "screen" in views else None
    advance("predicting")
    chain = bench.chain_of(given.get("chain"))
    found = predict(bench.frames.still(known.id), chain, glass=glass, display=display)
    return kept(replace(found, views=tuple(views)), Path(known.name).stem, bench.answers, advance)


def compared(bench: Bench, given: Mapping[str, Any], advance: Advance) -> dict[str, Any]:
    """Compare variants on frames as `scalesim compare` does, and save the page."""
    from scalesim.jobs.compare.compare import compare

    variants, ids = given.get("variants"), given.get("frames")
    if not isinstance(variants, list) or not isinstance(ids, list) or not variants or not ids:
        raise ParameterError("name at least one frame and one variant")
    chains = {}
    for number, each in enumerate(variants, start=1):
        if not isinstance(each, Mapping):
            raise ParameterError(f"variant {number} is no table of name and chain")
        name = str(each.get("name") or f"variant {number}")
        if name in chains:
            raise ParameterError(f"variant {name!r} is there twice; give each a name of its own")
        chains[name] = bench.chain_of(each.get("chain"))
    known = [bench.frames.known(id) for id in ids]
    sources = [FrameSource(each.name, partial(bench.frames.still, each.id)) for each in known]
    found = compare(chains, sources, advance=advance)
    return kept(found, Path(known[0].name).stem, bench.answers, advance)


def identified(bench: Bench, given: Mapping[str, Any], advance: Advance) -> dict[str, Any]:
    """Identify a box from captures of the kernel chart, as `scalesim identify` does, and save the page.

    The chain that was found is told as the page may name it: its operator's file is known from now on.
    """
    from scalesim.jobs.identify.identify import identify, with_operator

    inputs, keys, mode = given.get("inputs"), given.get("keys") or {}, given.get("mode")
    ids = inputs.get("captures") if isinstance(inputs, Mapping) else None
    if not isinstance(keys, Mapping):
        raise ParameterError("keys is no table")
    if not isinstance(ids, list) or not ids:
        raise ParameterError("captures is missing; give at least one picture of the chart")
    if not isinstance(mode, str) or not mode:
        raise ParameterError("mode is missing; give the mode the chart was played in, such as 720p60")
    known = [bench.frames.known(id) for id in ids]
    frames = [frame for each in known if (frame := bench.frames.clip(each.id, "custom").frame) is not None]
    lines = keys.get("lines")
    advance("looking at the chart")
    found = identify(
        frames, mode, lines=None if lines is None else convert("lines", lines, _LINES), scan=_scan(keys)
    )
    told = kept(
        found,
        Path(known[0].name).stem,
        bench.answers,
        advance,
        placed=lambda result, folder: with_operator(result, folder.as_posix()),
    )
    chain = found.chain
    if found.undecided:
        label = bench.add_path(f"{Path(told['out']).name}.json", Path(told["out"]) / "operator.json")
        chain = f"measured file={label}"
    return {**told, "chain": chain}


def charted(bench: Bench, given: Mapping[str, Any], advance: Advance) -> dict[str, Any]:
    """Draw the kernel chart of a mode, as `scalesim chart` does but for its clips, and save it."""
    from scalesim.jobs.chart.chart import chart

    mode = given.get("mode")
    if not isinstance(mode, str) or not mode:
        raise ParameterError("mode is missing; give the mode the chart is to be played in, such as 720p60")
    advance("drawing the chart")
    return kept(chart("kernel", mode), "kernel", bench.answers, advance)


def _scan(keys: Mapping[str, Any]) -> Literal["progressive", "interlaced"] | None:
    scan = keys.get("scan")
    if scan not in (None, "progressive", "interlaced"):
        raise ParameterError("scan is none of progressive, interlaced")
    return scan
