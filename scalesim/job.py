"""What a job is to whoever offers it: its name, what it takes, and the function that does it.

Each folder of `jobs` declares one in its `__init__`, without loading anything heavy. The command line
builds a command from it, and a page of forms builds a form.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from importlib import import_module
from typing import Any, Literal

from scalesim.schema import from_keys, params_of, settle

Reads = Literal[
    "picture",
    "clip",
    "clips",
    "frame",
    "chain",
    "traces",
    "photo",
    "photos",
    "chains",
    "display",
    "displays",
    "camera",
    "logs",
]
"""How a file is read: its code values, a clip, several clips, a still frame, a chain file or a
chain's text, several traces of an oscilloscope, a camera's photo, several photos or a film, several
chains, a tube, several tubes, a camera, several logs of lag.
"""


@dataclass(frozen=True)
class Input:
    """A file that a job takes.

    Parameters:
        name : of the argument; doc : what it is
        reads : how it is read
        named : keyword that the function takes the file's name by, "" for none
        option : given by name (`--name`) instead of by its place; required : cannot be left out
    """

    name: str
    reads: Reads
    doc: str
    option: bool = False
    required: bool = True
    named: str = ""


@dataclass(frozen=True)
class Job:
    """A job.

    Parameters:
        name : of its command
        step : where it stands in a reviewer's work, for lists; jobs of one step are in the order of names
        about : one sentence, then an example, then what is written and what the verdict means
        function : "module:function"; called with the inputs and keys by name
        inputs : the files it takes
        keys : a frozen dataclass whose fields are made with `param`: what else it takes, by schema
        moded : whether pictures are read in a mode and a code range that can be given
    """

    name: str
    step: int
    about: str
    function: str
    inputs: tuple[Input, ...] = ()
    keys: type | None = None
    moded: bool = False

    def load(self) -> Callable[..., Any]:
        """Return the function, imported now."""
        module, _, name = self.function.partition(":")
        function: Callable[..., Any] = getattr(import_module(module), name)
        return function

    def settled(self, given: Mapping[str, Any]) -> dict[str, Any]:
        """Return the job's keys as its schema settles them, those left out with their defaults.

        Parameters:  given : name -> what was given, None for nothing; other names are passed by
        Raises: ParameterError for what the schema refuses
        """
        if self.keys is None:
            return {}
        named = {name: given[name] for name in params_of(self.keys) if given.get(name) is not None}
        keys = from_keys(self.keys, named)
        settle(keys, self.name)
        return {each.name: getattr(keys, each.name) for each in fields(keys)}
