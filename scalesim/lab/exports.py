"""What the page exports: a prediction or a comparison, saved as the command line saves it, byte for byte."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

from scalesim.errors import ParameterError
from scalesim.jobs.frames import FrameSource
from scalesim.lab import forms
from scalesim.lab.bench import Bench
from scalesim.lab.tasks import Advance, kept

VIEWS = ("raster", "seen", "screen")


def exported(bench: Bench, given: Mapping[str, Any], advance: Advance) -> dict[str, Any]:
    """Predict a frame as `scalesim predict` does, with all metrics, and save it."""
    from scalesim.jobs.predict.on_screen import Glass
    from scalesim.jobs.predict.predict import predict

    views = given.get("views") or ["raster", "seen"]
    if not isinstance(views, list) or not set(views) <= set(VIEWS):
        raise ParameterError(f"views is none of {', '.join(VIEWS)}")
    known = bench.frames.known(given.get("frame", ""))
    glass = Glass(forms.display_of(given.get("display"))) if "screen" in views else None
    advance("predicting")
    found = predict(bench.frames.clip(known.id), bench.chain_of(given.get("chain")), glass=glass)
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
    sources = [FrameSource(each.name, partial(bench.frames.clip, each.id)) for each in known]
    found = compare(chains, sources, advance=advance)
    return kept(found, Path(known[0].name).stem, bench.answers, advance)
