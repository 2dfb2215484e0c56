"""A chain being written: from text, TOML or stages to all three, stages that are switched off kept.

A stage that is off is no part of the chain: it is left out of the text and of what is computed. Only a
lab's own TOML keeps it, as `off = true`. Files that a chain names are those the lab was started with or
given on the page, by their names; nothing else is opened.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from scalesim.chain import Chain
from scalesim.chain.dial import Dial, make_dial, range_of
from scalesim.chain.keys import find_key
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
        dials : of all stages, their addresses counted among them all
    """

    chain: Chain | None
    steps: tuple[Step, ...]
    name: str = ""
    dials: tuple[Dial, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """Return it for the page: text, TOML, stages and dials."""
        return {
            "ok": True,
            "name": self.name,
            "text": "" if self.chain is None else self.chain.text,
            "toml": lab_toml(self),
            "stages": [step.to_dict() for step in self.steps],
            "dials": [_dial(dial) for dial in self.dials],
        }


def written(given: Mapping[str, Any]) -> Written:
    """Return the chain that the page gives as `toml`, `stages` with `name` and `dials`, or `text`.

    The first of these counts. Dials are tables as a chain file has them, with `steps`.
    Raises: ParameterError naming the place
    """
    if "toml" in given:
        return from_lab_toml(_text(given["toml"], "chain file"))
    if "stages" in given:
        found = _of_stages(given["stages"], _text(given.get("name", ""), "name"))
        return _with_dials(found, given.get("dials", []))
    chain = Chain(_text(given.get("text"), "chain"))
    return Written(chain, _steps_of(chain), chain.name, chain.dials)


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
                    f"that it was given ({known}): give it here, or name it on the command line"
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
    """Return the TOML form with every stage and dial, stages that are off marked."""
    import tomlkit

    document = tomlkit.parse(write_toml(written.name, _whole(written).stages, written.dials))
    for table, step in zip(document["stage"], written.steps, strict=True):
        if step.off:
            table["off"] = True
    return tomlkit.dumps(document)


def from_lab_toml(text: str) -> Written:
    """Return the chain of a TOML text, which may hold stages that are off.

    Where some are, the addresses of dials count all stages, as `lab_toml` writes them.
    Raises: ParameterError naming the place
    """
    import tomlkit

    document = toml_document(text, "chain file", "the sample chains")
    tables = document.get("stage")
    if not isinstance(tables, list) or not any(isinstance(t, dict) and "off" in t for t in tables):
        chain = Chain.from_toml(text)
        return Written(chain, _steps_of(chain), chain.name, chain.dials)
    off = [table.pop("off", False) if isinstance(table, dict) else False for table in tables]
    whole = Chain.from_toml(tomlkit.dumps(document))
    steps = [{**step.to_dict(), "off": out} for step, out in zip(_steps_of(whole), off, strict=True)]
    return _dialled(_of_stages(steps, whole.name), whole.dials)


def _with_dials(found: Written, tables: Any) -> Written:
    """Return it with the dials that the page gives as tables.

    Raises: ParameterError for what is no dial of its stages
    """
    if not isinstance(tables, list):
        raise ParameterError("dials is no list of tables")
    if not tables:
        return found
    stages, dials = _whole(found).stages, []
    for number, table in enumerate(tables, start=1):
        steps = table.get("steps") if isinstance(table, Mapping) else None
        if not isinstance(steps, list):
            raise ParameterError(f"dial {number} is no table of key and steps")
        key, label = _text(table.get("key"), f"dial {number}: key"), _text(table.get("label", ""), "label")
        dials.append(make_dial(stages, key, steps, label))
    return _dialled(found, tuple(dials))


def _dialled(found: Written, dials: tuple[Dial, ...]) -> Written:
    """Return it with its dials; the chain has those of its own stages, counted among them alone."""
    if found.chain is None or not dials:
        return replace(found, dials=dials)
    kinds = [step.kind for step in found.steps]
    own = []
    for dial in dials:
        at = find_key(_whole(found).stages, dial.key).stage
        if found.steps[at].off:
            continue
        before = sum(k == kinds[at] and not s.off for k, s in zip(kinds[:at], found.steps, strict=False))
        number = f"#{before + 1}" if before else ""
        own.append(replace(dial, key=f"{kinds[at]}{number}.{dial.key.rpartition('.')[2]}"))
    chain = Chain(*found.chain.stages, name=found.chain.name, dials=own)
    return replace(found, chain=chain, dials=dials)


def _whole(written: Written) -> Chain:
    """Return the chain with every stage on."""
    return Chain(*(_made(step) for step in written.steps), name=written.name)


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


def _dial(dial: Dial) -> dict[str, Any]:
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
