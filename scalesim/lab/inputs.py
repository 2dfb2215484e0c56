"""What a job takes, out of what the page gives: ids of frames and files, chains, displays and cameras."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from scalesim.chain import Chain
from scalesim.errors import ParameterError
from scalesim.job import Input, Job
from scalesim.lab.frames import Frames
from scalesim.lab.readings import READERS

ChainOf = Callable[[Any], Chain]
"""From what the page gives for a chain to the chain, its files resolved."""
MANY = ("clips", "traces", "logs", "photos", "chains", "displays")
"""What is read one by one from a list."""


def job_inputs(
    job: Job, given: Mapping[str, Any], mode: str | None, frames: Frames, chain_of: ChainOf
) -> dict[str, Any]:
    """Return what a job takes by its inputs' names.

    Parameters:
        given : name -> id, chain (a text or a table), display or camera; a list of them where it takes many
        mode : that pictures are read in, None by their sizes
    Raises: ParameterError for an input that is missing or not here
    """
    found: dict[str, Any] = {}
    for each in job.inputs:
        value = given.get(each.name)
        if value in (None, "", []):
            if each.required:
                raise ParameterError(f"{each.name} is missing: {each.doc}")
            continue
        if each.reads in MANY:
            values = value if isinstance(value, list) else [value]
            found[each.name] = [_input(each, one, mode, frames, chain_of) for one in values]
        else:
            found[each.name] = _input(each, value, mode, frames, chain_of)
        if each.named:
            found[each.named] = frames.known(value).name
    return found


def first_name(job: Job, given: Mapping[str, Any], frames: Frames) -> str:
    """Return the name of the first file that a job is given, "" for none."""
    for each in job.inputs:
        value = given.get(each.name)
        first = value[0] if isinstance(value, list) and value else value
        if first and each.reads in READERS:
            return frames.readings.name(first)
        if first and each.reads in ("picture", "frame", "clip", "clips"):
            return frames.known(first).name
    return ""


def _input(each: Input, value: Any, mode: str | None, frames: Frames, chain_of: ChainOf) -> Any:
    from scalesim.lab.forms import display_of

    reads = each.reads
    if reads in ("chain", "chains"):
        return chain_of(value)
    if reads in READERS:
        return frames.readings.read(reads, value)
    if reads in ("display", "displays"):
        return display_of(value)
    if reads == "camera":
        return _camera(value)
    clip = frames.clip(value, mode)
    return clip.frame if reads == "picture" else clip


def _camera(value: Any) -> Any:
    from scalesim.core.camera import Camera, camera_named

    toml = value.get("toml") if isinstance(value, Mapping) else None
    return Camera.from_toml(toml) if isinstance(toml, str) else camera_named(str(value)[:60])
