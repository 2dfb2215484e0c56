"""Whole jobs from the page: done by the very functions of the command line, saved in the very same folders.

An answer's folder lies under `outputs/` where the lab was started, and its files are shown from there.
Progress is told while it is worked on.
"""

from __future__ import annotations

import inspect
import queue
import threading
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path, PureWindowsPath
from typing import Any, TypeVar

from scalesim.errors import ParameterError, ScalesimError
from scalesim.job import Job
from scalesim.lab.frames import Frames
from scalesim.lab.inputs import ChainOf, first_name, job_inputs
from scalesim.lab.records import failed, record
from scalesim.result import Result
from scalesim.typeset import typeset

R = TypeVar("R", bound=Result)
Advance = Callable[[str], None]
_LOOK_S = 0.2
"""How often it is looked whether the lab is to end."""


class Answers:
    """Folders of answers that may be shown, by number."""

    def __init__(self) -> None:
        self._folders: dict[str, Path] = {}
        self._lock = threading.Lock()

    def add(self, folder: Path) -> str:
        """Return the number of a folder."""
        with self._lock:
            number = str(len(self._folders) + 1)
            self._folders[number] = folder.resolve()
        return number

    def folders(self) -> list[Path]:
        """Return all folders, in the order they were written."""
        return list(self._folders.values())

    def file(self, number: str, name: str) -> Path | None:
        """Return a file of an answer, None for what is none: links out of the folder are none either."""
        folder = self._folders.get(number)
        if folder is None or PureWindowsPath(name).anchor:  # Windows would ask the server of //server/share
            return None
        path = (folder / name).resolve()
        return path if path.is_relative_to(folder) and path.is_file() else None


def kept(
    result: R,
    name: str,
    answers: Answers,
    advance: Advance,
    command: str = "",
    placed: Callable[[R, Path], R] = lambda result, _: result,
) -> dict[str, Any]:
    """Save an answer as its command does; return what the page is told of it.

    Parameters:  placed : gives the answer as it is in a folder, when it names files of its own
    """
    from scalesim.io.folder import reserved
    from scalesim.io.saved import read_saved
    from scalesim.lab.shown import shown_parts
    from scalesim.saving import save

    with reserved(command or result.kind, name) as folder:
        result = placed(result, folder)
        written = save(result, folder, command=command, advance=advance)
    number = answers.add(Path(written["out"]))
    root = Path(written["out"])
    files = {key: Path(path).relative_to(root).as_posix() for key, path in written["files"].items()}
    return {
        "kind": "result",
        "id": number,
        "title": result.title,
        "sentences": [typeset(each) for each in result.sentences()],
        "remarks": [typeset(each) for each in result.remarks()],
        "parts": shown_parts(read_saved(root), f"/results/{number}/"),
        "page": f"/results/{number}/index.html",
        "files": {key: f"/results/{number}/{place}" for key, place in files.items()},
        "out": written["out"],
        "undecided": result.undecided,
    }


class Ended(ScalesimError):
    """Work that nobody waits for any more: the lab is to end, or something newer was asked for."""


def told_as_done(work: Callable[[Advance], dict[str, Any]], ending: threading.Event) -> Iterator[bytes]:
    """Yield the records of a piece of work done in another thread: its progress, then its result or error.

    Parameters:  ending : set when the lab is to end; the work then stops at its next step, and nobody waits
    """
    told: queue.Queue[dict[str, Any] | None] = queue.Queue()
    count = 0

    def advance(what: str) -> None:
        nonlocal count
        if ending.is_set():
            raise Ended("the lab was asked to end")
        told.put({"kind": "progress", "done": count, "what": what})
        count += 1

    def run() -> None:
        try:
            told.put(work(advance))
        except ScalesimError as error:
            told.put({"kind": "error", **failed(error)})
        except MemoryError:
            told.put({"kind": "error", "error": "this needs more memory than there is", "place": None})
        except Exception as error:  # a thread has nobody above it: the page is told, and the lab goes on
            fault = f"a fault of the program ({type(error).__name__})"
            told.put({"kind": "error", "error": fault, "place": None})
        finally:
            told.put(None)

    threading.Thread(target=run, daemon=True).start()
    while not ending.is_set():
        try:
            each = told.get(timeout=_LOOK_S)
        except queue.Empty:
            continue
        if each is None:
            return
        yield record(each)


def run_job(
    job: Job, given: Mapping[str, Any], frames: Frames, chain_of: ChainOf, answers: Answers, advance: Advance
) -> dict[str, Any]:
    """Do a job on frames of the lab; return what the page is told of its answer."""
    inputs = given.get("inputs")
    if not isinstance(inputs, Mapping):
        raise ParameterError("inputs is no table of frames and chains")
    keys = given.get("keys") or {}
    settled = job.settled(keys if isinstance(keys, Mapping) else {})
    found = job_inputs(job, inputs, given.get("mode") or None, frames, chain_of)
    function = job.load()
    more = {"advance": advance} if "advance" in inspect.signature(function).parameters else {}
    advance(job.name)
    result = function(**found, **settled, **more)
    name = first_name(job, inputs, frames)
    return kept(result, Path(name).stem, answers, advance, command=job.name)
