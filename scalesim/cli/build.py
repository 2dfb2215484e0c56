"""A command made of a job's own description: its files, its keys, and how its answer is shown."""

from __future__ import annotations

import dataclasses
import inspect
from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import rich_click as click

from scalesim.cli.options import folder_for, framing_options, output_options, range_option, read_chain
from scalesim.cli.progress import Progress
from scalesim.job import Input, Job
from scalesim.schema import Param, params_of

if TYPE_CHECKING:
    from scalesim.core.lag_table import LagTable
    from scalesim.core.trace import Trace
    from scalesim.result import Result


def command_of(job: Job) -> click.Command:
    """Return the command of a job."""

    def run(out: Path | None, force: bool, as_json: bool, **given: Any) -> int:
        return run_job(job, given, out=out, force=force, as_json=as_json)

    run.__doc__ = job.about
    decorated: Callable[..., Any] = output_options(run)
    if job.moded:
        decorated = range_option(framing_options(decorated))
        decorated = click.option(
            "--mode", metavar="NAME", help="Mode of the pictures, such as 480i (default: by size)."
        )(decorated)
    for name, schema in reversed(params_of(job.keys).items() if job.keys else ()):
        decorated = _option(name, schema, job)(decorated)
    for each in reversed(job.inputs):
        decorated = _input(each)(decorated)
    return click.command(job.name)(decorated)


def show(result: Result, out: Path, *, force: bool, as_json: bool, **options: Any) -> int:
    """Save an answer, print it, and return the exit code of its verdict; `options` are those of `save`."""
    from scalesim.cli.show import note, show_json, show_result
    from scalesim.saving import save

    written = save(result, out, force=force, **options)
    note(result.remarks())
    if as_json:
        show_json(written)
    else:
        show_result(result, out)
    return 1 if result.undecided else 0


def run_job(
    job: Job, given: Mapping[str, Any], *, out: Path | None, force: bool, as_json: bool, command: str = ""
) -> int:
    """Read what a job takes, do it, and show its answer; return the exit code.

    Parameters:
        given : name of an input or key (and `mode`, `code_range`) -> what was given for it
        command : what the document calls itself and the folder is named after, when not after the job
    """
    first = given[_word(job.inputs[0].name)] if job.inputs else ""
    if isinstance(first, tuple):
        first = first[0] if first else ""
    name = Path(first or "").stem
    folder = folder_for(command or job.name, name, out, force=force)
    reading = {
        "mode": given.get("mode"),
        "limited": given.get("code_range") == "limited",
        "trim": given.get("trim"),
        "native": given.get("native"),
    }
    found = {i.name: _read(i, given.get(_word(i.name)), reading) for i in job.inputs}
    found |= {
        i.named: Path(given[_word(i.name)]).name for i in job.inputs if i.named and given.get(_word(i.name))
    }
    function = job.load()
    if "advance" in inspect.signature(function).parameters:
        with Progress(None) as progress:
            result = function(**found, **job.settled(given), advance=progress)
    else:
        result = function(**found, **job.settled(given))
    return show(result, folder, force=force, as_json=as_json, command=command)


_NAMED = {
    "chain": "TEXT or FILE.toml",
    "chains": "TEXT or FILE.toml",
    "display": "KEY or FILE.toml",
    "displays": "KEY or FILE.toml",
    "camera": "KEY or FILE.toml",
}
"""Inputs that need not be files, and how they are written."""


def _word(name: str) -> str:
    return name.replace("-", "_")


def _input(each: Input) -> Callable[[Any], Any]:
    path = click.Path(path_type=Path)
    if each.option:
        kind: Any = str if each.reads in _NAMED else path
        return click.option(
            f"--{each.name}",
            type=kind,
            required=each.required,
            metavar=_NAMED.get(each.reads, "FILE"),
            help=each.doc,
            multiple=each.reads in ("chains", "displays"),
        )
    if each.reads in ("clips", "traces", "photos", "logs"):
        metavar = f"{each.name.removesuffix('s').upper()}..."
        return click.argument(each.name, nargs=-1, required=each.required, type=path, metavar=metavar)
    return click.argument(each.name, required=each.required, type=path)


def _option(name: str, schema: Param, job: Job) -> Callable[[Any], Any]:
    """Return the option of a key; its words are checked by the schema, as those of every file are."""
    default = next(each.default for each in dataclasses.fields(job.keys) if each.name == name)  # type: ignore[arg-type]  # a dataclass
    if schema.type == "switch" and default is False:
        return click.option(f"--{name.replace('_', '-')}", name, is_flag=True, help=schema.doc)
    told = "" if default is None else f" (default {default})"
    metavar = (
        "|".join(schema.choices)
        if schema.choices
        else (schema.unit.removeprefix("of ") or schema.type).upper()
    )
    return click.option(
        f"--{name.replace('_', '-')}", name, metavar=metavar, help=f"{schema.doc.removesuffix('.')}{told}."
    )


def _read(each: Input, given: Any, reading: dict[str, Any]) -> Any:
    """Return an input as its job takes it; what is taken off is taken off captures, not off what was sent."""
    from scalesim.cli.frames import as_shells_do
    from scalesim.cli.named import camera_of, display_of
    from scalesim.io.read import read

    if given is None:
        return None
    if each.reads == "chain":
        return read_chain(given)
    if each.reads == "chains":
        return [read_chain(text) for text in given]
    if each.reads == "displays":
        return [display_of(text) for text in given]
    if each.reads == "display":
        return display_of(given)
    if each.reads == "camera":
        return camera_of(given)
    if each.reads == "clips":
        return [read(path, **reading) for path in as_shells_do(given)]
    if each.reads == "traces":
        return _traces(as_shells_do(given if isinstance(given, tuple) else (given,)))
    if each.reads == "logs":
        return _logs(as_shells_do(given))
    if each.reads in ("photo", "photos"):
        return _photos(given) if each.reads == "photos" else _photos([given])[0]
    if each.reads == "picture":
        return _picture(given, reading)
    return read(given, mode=reading["mode"], limited=reading["limited"])


def _traces(paths: list[Path]) -> list[Trace]:
    """Return the traces of some files, with a bar while long texts are read."""
    from scalesim.cli.progress import Progress
    from scalesim.io.traces.read import PART_BYTES, read_trace

    found = []
    for path in paths:
        size = path.stat().st_size if path.is_file() else 0
        with Progress(size // PART_BYTES + 2 if size > PART_BYTES else None) as progress:
            advance = partial(_advance, progress, f"reading {path.name}")
            found.append(read_trace(path, advance))
    return found


def _photos(paths: list[Path]) -> list[Any]:
    """Return photos and films as a camera gave them."""
    from scalesim.cli.frames import as_shells_do
    from scalesim.io.photos import read_photo

    return [read_photo(path) for path in as_shells_do(paths)]


def _logs(paths: list[Path]) -> list[LagTable]:
    """Return the logs of some files, with a bar while long ones are read."""
    from scalesim.cli.progress import Progress
    from scalesim.io.tables.lag import read_lag
    from scalesim.io.traces.read import PART_BYTES

    found = []
    for path in paths:
        size = path.stat().st_size if path.is_file() else 0
        with Progress(size // PART_BYTES + 2 if size > PART_BYTES else None) as progress:
            found.append(read_lag(path, partial(_advance, progress, f"reading {path.name}")))
    return found


def _advance(progress: Callable[[str], None], words: str, _: int) -> None:
    progress(words)


def _picture(path: Path, reading: dict[str, Any]) -> Any:
    """Return a capture's code values, with what was taken off told."""
    from scalesim.cli.show import note
    from scalesim.core.framing import Framing, cut_of
    from scalesim.io.pictures.read import read_picture

    values = read_picture(path).values
    framing = Framing(reading["trim"], reading["native"])
    if not framing:
        return values
    cut = cut_of(values, framing, path.name)
    note(f"{path.name}: {said}" for said in cut.notes)
    return cut(values)
