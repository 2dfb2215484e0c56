"""A chain being written: from text, TOML or stages to all three, stages that are switched off kept.

A stage that is off is no part of the chain: it is left out of the text and of what is computed. Only a
lab's own TOML keeps it, as `off = true`. Files that a chain names are those the lab was started with, by
their names; nothing else is opened.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from scalesim.chain import Chain
from scalesim.chain.dial import range_of
from scalesim.chain.text import make_stage
from scalesim.chain.toml import write_toml
from scalesim.core.limits import STAGES
from scalesim.errors import ParameterError
from scalesim.schema import changed_keys, key_text, params_of, toml_document
from scalesim.stages import STAGES as KINDS
from scalesim.stages import Stage
from scalesim.texts import echoed

_STAGE = re.compile(r"stage (\d+)(?: of \d+)?")
_CHARACTER = re.compile(r"at character (\d+)")


@dataclass(frozen=True)
class Step:
    """A stage as the editor holds it: its keys as texts, and whether it is switched off."""

    kind: str
    keys: Mapping[str, str]
    off: bool = False

    def to_dict(self) -> dict[str, Any]:
        """Return it for the page."""
        return {"kind": self.kind, "keys": dict(self.keys), "off": self.off}


@dataclass(frozen=True)
class Written:
    """A chain being written.

    Parameters:
        chain : the stages that are on, files as they were named; None when all are off
        steps : all stages
    """

    chain: Chain | None
    steps: tuple[Step, ...]
    name: str = ""

    def to_dict(self) -> dict[str, Any]:
        """Return it for the page: text, TOML, stages and dials."""
        dials = () if self.chain is None else self.chain.dials
        return {
            "ok": True,
            "name": self.name,
            "text": "" if self.chain is None else self.chain.text,
            "toml": lab_toml(self),
            "stages": [step.to_dict() for step in self.steps],
            "dials": [_dial(dial) for dial in dials],
        }


def written(given: Mapping[str, Any]) -> Written:
    """Return the chain that the page gives as `toml`, `stages` with a `name`, or `text`: the first of these.

    Raises: ParameterError naming the place
    """
    if "toml" in given:
        return from_lab_toml(_text(given["toml"], "chain file"))
    if "stages" in given:
        return _of_stages(given["stages"], _text(given.get("name", ""), "name"))
    chain = Chain(_text(given.get("text"), "chain"))
    return Written(chain, _steps_of(chain), chain.name)


def with_files(chain: Chain, files: Mapping[str, Path]) -> Chain:
    """Return a chain whose files are those of these names.

    Raises: ParameterError for any other file
    """

    def resolved(number: int, stage: Stage) -> Stage:
        names = [name for name, schema in params_of(stage).items() if schema.type == "file"]
        found = {}
        for name in names:
            value = getattr(stage, name)
            if value is None:
                continue
            if str(value) not in files:
                known = ", ".join(files) or "none"
                raise ParameterError(
                    f"stage {number}: {stage.kind}: {name} is {echoed(repr(value))}; the lab opens files "
                    f"that it was started with ({known}): name it on the command line"
                )
            found[name] = str(files[str(value)])
        return replace(stage, **found) if found else stage

    return chain.with_stages(resolved(number, stage) for number, stage in enumerate(chain.stages, start=1))


def place_of(text: str) -> dict[str, int] | None:
    """Return where in a chain an error is: stage and character, from 0; None for no place in it."""
    place = {}
    if found := _STAGE.search(text):
        place["stage"] = int(found.group(1)) - 1
    if found := _CHARACTER.search(text):
        place["begin"] = int(found.group(1)) - 1
    return place or None


def lab_toml(written: Written) -> str:
    """Return the TOML form with every stage, those that are off marked."""
    import tomlkit

    whole = Chain(*(_made(step) for step in written.steps), name=written.name)
    dials = () if written.chain is None else written.chain.dials
    document = tomlkit.parse(write_toml(written.name, whole.stages, dials))
    for table, step in zip(document["stage"], written.steps, strict=True):
        if step.off:
            table["off"] = True
    return tomlkit.dumps(document)


def from_lab_toml(text: str) -> Written:
    """Return the chain of a TOML text, which may hold stages that are off.

    Dials of a chain some of whose stages are off are those of the stages that are on.
    Raises: ParameterError naming the place
    """
    import tomlkit

    document = toml_document(text, "chain file", "the sample chains")
    tables = document.get("stage")
    if not isinstance(tables, list) or not any(isinstance(t, dict) and "off" in t for t in tables):
        chain = Chain.from_toml(text)
        return Written(chain, _steps_of(chain), chain.name)
    off = [table.pop("off", False) if isinstance(table, dict) else False for table in tables]
    whole = Chain.from_toml(tomlkit.dumps({**document, "dial": []}))
    steps = _steps_of(whole)
    found = _of_stages(
        [{**step.to_dict(), "off": out} for step, out in zip(steps, off, strict=True)], whole.name
    )
    return replace(found, chain=_with_dials(found.chain, document.get("dial", [])))


def _with_dials(chain: Chain | None, tables: Any) -> Chain | None:
    """Return a chain with those dials, as a chain file has them, that are of its stages."""
    import tomlkit

    if chain is None or not isinstance(tables, list):
        return chain
    document = tomlkit.parse(chain.to_toml()).unwrap()
    own = []
    for table in tables:
        try:
            Chain.from_toml(tomlkit.dumps({**document, "dial": [table]}))
        except ParameterError:
            continue
        own.append(table)
    return Chain.from_toml(tomlkit.dumps({**document, "dial": own}))


def _of_stages(stages: Any, name: str) -> Written:
    if not isinstance(stages, list) or not stages:
        raise ParameterError("chain is empty; add a stage")
    if len(stages) > STAGES:
        raise ParameterError(f"chain has {len(stages)} stages; at most {STAGES}")
    made = [_step(number, table, len(stages)) for number, table in enumerate(stages, start=1)]
    on = [stage for step, stage in made if not step.off]
    chain = Chain(*on, name=name) if on else None
    return Written(chain, tuple(step for step, _ in made), name)


def _step(number: int, table: Any, count: int) -> tuple[Step, Stage]:
    place = f"stage {number} of {count}"
    if not isinstance(table, dict) or not isinstance(table.get("keys", {}), dict):
        raise ParameterError(f"{place}: is no table of kind, keys and off")
    off = table.get("off", False)
    if not isinstance(off, bool):
        raise ParameterError(f"{place}: off is {echoed(repr(off))}; it must be true or false")
    keys = {_text(key, "key"): _key_text(value) for key, value in table.get("keys", {}).items()}
    kind = _text(table.get("kind"), f"{place}: kind")
    stage = make_stage(place, kind, {key: value for key, value in keys.items() if value != ""})
    return Step(kind, _texts(stage), off), stage


def _made(step: Step) -> Stage:
    return make_stage(step.kind, step.kind, dict(step.keys))


def _steps_of(chain: Chain) -> tuple[Step, ...]:
    return tuple(Step(stage.kind, _texts(stage)) for stage in chain.stages)


def _texts(stage: Stage) -> dict[str, str]:
    assert KINDS[stage.kind] is type(stage)
    return {key: key_text(value) for key, value in changed_keys(stage).items()}


def _dial(dial: Any) -> dict[str, Any]:
    span = range_of(dial.steps)
    told = {} if span is None else dict(zip(("first", "last", "step"), span, strict=True))
    return {"key": dial.key, "values": [key_text(step) for step in dial.steps], "label": dial.label, **told}


def _text(value: Any, place: str) -> str:
    if not isinstance(value, str):
        raise ParameterError(f"{place} is {echoed(repr(value))}; it must be a text")
    return value


def _key_text(value: Any) -> str:
    if isinstance(value, str):
        return value
    if isinstance(value, Sequence):
        return "/".join(str(part) for part in value)
    return ("on" if value else "off") if isinstance(value, bool) else str(value)
