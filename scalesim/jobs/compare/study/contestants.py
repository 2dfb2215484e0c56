"""Who is compared in a study: chains, at every setting of their dials that is tried, on every display."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from pathlib import Path
from typing import Any

from scalesim.chain import Chain
from scalesim.chain.vary import parse_vary
from scalesim.errors import ParameterError
from scalesim.rows.layout import Contestant
from scalesim.schema import params_of
from scalesim.tube.display import Display

MOST = 100
"""Chains of a study, settings counted singly."""


@dataclass(frozen=True)
class Setting:
    """A chain at a setting of its dials, "" for as it is written."""

    chain: Chain
    setting: str = ""


def settings_of(chains: Mapping[str, Chain], vary: Iterable[str] = ()) -> dict[str, Setting]:
    """Return label -> chain for every combination of the settings that are tried.

    Parameters:
        vary : texts such as "line-drop.phase=0:1:0.5", see `chain.vary`; each is tried on the chains that
            have such a key
    Raises: ParameterError for a text that cannot be read, a key that no chain has, or too many settings
    """
    texts, found = list(vary), {}
    used: set[str] = set()
    for label, chain in chains.items():
        own = [text for text in texts if _has(chain, text, alone=len(chains) == 1)]
        used.update(own)
        if not own:
            found[label] = Setting(chain)
            continue
        varied = parse_vary(chain.stages, own)
        for values in product(*(each.values for each in varied)):
            pairs = {each.key: value for each, value in zip(varied, values, strict=True)}
            setting = ", ".join(f"{key}={_said(value)}" for key, value in pairs.items())
            found[f"{label}, {setting}"] = Setting(chain.with_keys(pairs), setting)
            if len(found) > MOST:
                raise ParameterError(f"vary: there are over {MOST} chains and settings; try fewer values")
    unused = [text for text in texts if text not in used]
    if unused:
        raise ParameterError(f"vary {unused[0]}: no chain has such a key; write it as kind.key=values")
    return found


def _has(chain: Chain, text: str, *, alone: bool) -> bool:
    """Return whether a chain has the key; of one chain alone, and of what is no key, the error is told."""
    kind = text.partition("=")[0].strip().partition(".")[0].partition("#")[0]
    return alone or any(stage.kind == kind for stage in chain.stages)


def _said(value: Any) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def contestants_of(settings: Mapping[str, Setting], displays: Sequence[Display]) -> list[Contestant]:
    """Return every chain at its setting, alone and on each display, in this order."""
    found = []
    for label, each in settings.items():
        mark = f"{each.chain.text} {_files(each.chain)}"
        found.append(Contestant(label, mark, each.chain.text, each.setting))
        for display in displays:
            on = f"{mark} on {display!r}"
            found.append(Contestant(label, on, each.chain.text, each.setting, display.name))
    return found


def _files(chain: Chain) -> str:
    """Return digests of the files that a chain names: with other contents it is another chain."""
    found = []
    for stage in chain.stages:
        for name, schema in params_of(type(stage)).items():
            value = getattr(stage, name)
            if schema.type == "file" and value and Path(value).is_file():
                found.append(hashlib.sha256(Path(value).read_bytes()).hexdigest()[:16])
    return " ".join(found)
