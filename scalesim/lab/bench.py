"""What one running lab holds: its frames, chains, answers, watched folder, and who is told of arrivals."""

from __future__ import annotations

import hashlib
import queue
import secrets
import threading
from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib import import_module
from pathlib import Path
from typing import Any

from scalesim.chain import Chain
from scalesim.core.files import shown
from scalesim.core.raster import Raster
from scalesim.errors import ParameterError
from scalesim.lab.editor import with_files, written
from scalesim.lab.frames import Frames
from scalesim.lab.newest import Newest
from scalesim.lab.tasks import Answers
from scalesim.texts import echoed

MOST_TOLD = 100
"""Messages kept for a page that does not take them."""

READY = (
    (
        "drop two of three",
        "line-drop lines=240",
        "Keeps one line of three as it is: sharp, and thin lines vanish where none was kept.",
    ),
    (
        "average",
        "line-average lines=240",
        "Mixes every three lines into one: nothing vanishes, and outlines may lie on two scan lines.",
    ),
    (
        "480 lines in two fields",
        "line-average lines=480, flicker-filter taps=1/2/1, interlace",
        "Keeps twice the lines by sending them as two fields; the filter calms what would flicker.",
    ),
)


@dataclass
class Bench:
    """A running lab.

    Parameters:
        frames : that may be looked at
        chains : label -> chain, named when it was started
        files : name -> path of the files that chains may name
        first : id of the frame to open with, "" for none
        watched : name of the watched folder, "" for none
        ending : it was asked to end: what waits for arrivals stops
    """

    frames: Frames
    chains: Mapping[str, Chain] = field(default_factory=dict)
    files: Mapping[str, Path] = field(default_factory=dict)
    first: str = ""
    watched: str = ""
    token: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    answers: Answers = field(default_factory=Answers)
    newest: Newest = field(default_factory=Newest)
    ending: threading.Event = field(default_factory=threading.Event)

    def __post_init__(self) -> None:
        self._pages: list[queue.Queue[dict[str, Any]]] = []
        self._lock = threading.Lock()

    def chain_of(self, given: Any) -> Chain:
        """Return a chain as the page gives it, its files resolved.

        Parameters:  given : a text, or a table as `editor.written` takes it
        Raises: ParameterError
        """
        table = {"text": given} if isinstance(given, str) else given
        if not isinstance(table, Mapping):
            raise ParameterError(f"chain is {echoed(repr(given))}; it must be a text")
        chain = written(table).chain
        if chain is None:
            raise ParameterError("every stage is switched off: switch one on")
        return with_files(chain, self.files)

    def add_operator(self, name: str, content: bytes) -> str:
        """Know an operator's file that the page gives; return the name that chains may call it by.

        Raises: ParameterError for what is none
        """
        from scalesim.core.operator_file import OperatorFile

        plain = shown(Path(name.replace("\\", "/")).name)[:80] or "operator.json"
        label = "".join("-" if each in " ,='\"" else each for each in plain)  # a chain's text needs no quotes
        try:
            OperatorFile.from_json(content.decode("utf-8"), name=plain)
        except UnicodeDecodeError:
            raise ParameterError(f"{plain}: is no operator file that identify wrote") from None
        path = self.frames.store / f"operator-{hashlib.sha256(content).hexdigest()[:24]}.json"
        path.write_bytes(content)
        return self.add_path(label, path)

    def add_path(self, label: str, path: Path) -> str:
        """Let chains name a file; return its name, another one where that is taken."""
        with self._lock:
            label = free_name(label, path, self.files)
            self.files = {**self.files, label: path}
        return label

    def start(self) -> dict[str, Any]:
        """Return what the page begins with."""
        from scalesim.core.camera import CAMERAS
        from scalesim.core.mode import ALIASES, MODES
        from scalesim.jobs.catalogue import jobs
        from scalesim.lab import forms
        from scalesim.version import __version__

        ready = [{"name": name, "text": text, "teach": teach} for name, text, teach in READY]
        named = [
            {"name": name, "text": chain.text, "toml": chain.to_toml(), "teach": ""}
            for name, chain in self.chains.items()
        ]
        first = next(iter(self.chains.values()), None)
        return {
            "version": __version__,
            "files": list(self.files),
            "modes": [*ALIASES, *MODES],
            "out": str(Path("outputs").absolute()),
            "watch": self.watched or None,
            "frames": [self.frames.described(each) for each in self.frames.all()],
            "chains": [*ready, *named],
            "named": {
                "frame": self.first or None,
                "chain": None if first is None else first.text,
                "toml": None if first is None else first.to_toml(),  # it has the steps of dials, too
            },
            "stages": forms.stages(),
            "displays": forms.tubes(),
            "metrics": forms.metrics(),
            "cameras": [{"key": key, "name": camera.name} for key, camera in CAMERAS.items()],
            "jobs": [forms.job_form(job) for name, job in jobs().items() if name not in forms.BY_HAND],
        }

    def warm(self) -> None:
        """Load what the first pictures need, while the user is still choosing one."""
        Chain(READY[0][1]).operator(Raster(720, 1280))
        import_module("scalesim.lab.explore")

    def tell(self, message: dict[str, Any]) -> None:
        """Tell every open page."""
        with self._lock:
            pages = list(self._pages)
        for page in pages:
            if page.qsize() < MOST_TOLD:
                page.put(message)

    def listen(self) -> queue.Queue[dict[str, Any]]:
        """Return the messages for a page from now on."""
        page: queue.Queue[dict[str, Any]] = queue.Queue()
        with self._lock:
            self._pages.append(page)
        return page

    def leave(self, page: queue.Queue[dict[str, Any]]) -> None:
        """End that."""
        with self._lock:
            if page in self._pages:
                self._pages.remove(page)


def free_name(label: str, path: Path, files: Mapping[str, Path]) -> str:
    """Return the name that a file may be called by, a numbered one where another has it."""
    name, number = label, 1
    while name in files and files[name] != path:
        number += 1
        name = f"{Path(label).stem}-{number}{Path(label).suffix}"
    return name
