"""The text form of a chain: ``name: kind key=value key=value, kind key=value``.

Stages are separated by commas. A value is a bare word or 'single quoted' (two quotes inside stand
for one); lists use ``/``. The name in front is optional and ends with a colon; spaces, commas and colons in
it need no quotes when a kind of stage follows, a ``=`` does. Writing leaves defaults out, and reading what
was written gives an equal chain.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from scalesim.core import limits
from scalesim.errors import ParameterError, nearest
from scalesim.schema import changed_keys, from_keys, key_text
from scalesim.stages import STAGES, Stage

_QUOTED = r"'(?:[^']|'')*'"
# possessive quantifiers (++, *+) never give back what they took, so no text is slow to refuse
_NAME = re.compile(rf"\s*+(?:({_QUOTED})\s*+|([^,=':]++)):")
_WORD = re.compile(r"\s*+([^\s,=':]++)(?=[\s,]|$)")
_TOKEN = re.compile(rf"\s*+(?:(,)|([^\s,=']++)\s*+=\s*+({_QUOTED}|[^\s,']++)|([^\s,=']++)(?!\s*+=))")


def parse_chain(text: str) -> tuple[str, list[Stage]]:
    """Return (name or "", stages) of a chain's text.

    Raises: ParameterError naming the place and, for an unknown word, the nearest valid one
    """
    name, rest = _split_name(text)
    parts = _split_stages(rest)
    if len(parts) > limits.STAGES:
        raise ParameterError(f"chain has {len(parts)} stages; at most {limits.STAGES}")
    if parts == [[]]:
        raise ParameterError("chain is empty; name at least one stage, such as 'line-drop lines=240'")
    stages = []
    for number, words in enumerate(parts, start=1):
        place = f"stage {number} of {len(parts)}"
        if not words:
            raise ParameterError(f"{place} is empty; remove the extra comma")
        stages.append(_stage(place, words))
    return name, stages


def make_stage(place: str, kind: str, keys: dict[str, object]) -> Stage:
    """Return the stage of a kind and its keys; `place` begins the error if they are wrong."""
    if kind not in STAGES:
        raise ParameterError(f"{place}: unknown kind '{kind}'; {nearest(kind, STAGES)}")
    try:
        return from_keys(STAGES[kind], keys)
    except ParameterError as error:
        raise ParameterError(f"{place}: {error}") from None


def write_chain(name: str, stages: Sequence[Stage]) -> str:
    """Return the text form, defaults omitted."""
    body = ", ".join(_stage_text(stage) for stage in stages)
    return f"{_quote(name, more=':')}: {body}" if name else body


def _split_name(text: str) -> tuple[str, str]:
    match = _NAME.match(text)
    if match and match[1]:
        return _unquote(match[1]), text[match.end() :]
    head = text.partition("=")[0]
    colons = [at for at, letter in enumerate(head) if letter == ":"]
    for at in colons:
        word = _WORD.match(text, at + 1)
        if word and word[1] in STAGES:
            return text[:at].strip(), text[at + 1 :]
    if match is None:
        return "", text
    # no known kind follows: the name ends at the last colon before the first key all the same
    spaced = [at for at in colons if text[at + 1 : at + 2].isspace()]
    at = spaced[-1] if spaced else match.end() - 1
    return text[:at].strip(), text[at + 1 :]


def _split_stages(text: str) -> list[list[tuple[str, str | None]]]:
    """Return the words of each stage as (word, None) or (key, value)."""
    parts: list[list[tuple[str, str | None]]] = [[]]
    at = 0
    text = text.rstrip()
    while at < len(text):
        match = _TOKEN.match(text, at)
        if match is None:
            raise ParameterError(
                f"chain: cannot read {text[at : at + 30].strip()!r} at character {at + 1}; "
                "write stages as: kind key=value, kind key=value (values with spaces in single quotes)"
            )
        comma, key, value, word = match.groups()
        if comma:
            parts.append([])
        elif key:
            parts[-1].append((key, _unquote(value)))
        else:
            parts[-1].append((word, None))
        at = match.end()
    return parts


def _stage(place: str, words: list[tuple[str, str | None]]) -> Stage:
    kind, value = words[0]
    if value is not None:
        raise ParameterError(
            f"{place}: begins with {kind}={value}; it must begin with a kind of stage, or a name and a colon"
        )
    keys: dict[str, object] = {}
    for key, given in words[1:]:
        if given is None:
            raise ParameterError(
                f"{place} ({kind}): '{key}' has no value; write {key}=…, or put a comma before a new stage"
            )
        if key in keys:
            raise ParameterError(f"{place} ({kind}): key '{key}' is given twice; give it once")
        keys[key] = given
    return make_stage(place, kind, keys)


def _stage_text(stage: Stage) -> str:
    words = [stage.kind]
    words += [f"{key}={_quote(key_text(value))}" for key, value in changed_keys(stage).items()]
    return " ".join(words)


def _quote(value: str, more: str = "") -> str:
    plain = re.fullmatch(rf"[^\s,='{more}]+", value) is not None
    return value if plain else "'" + value.replace("'", "''") + "'"


def _unquote(value: str) -> str:
    if value.startswith("'"):
        return value[1:-1].replace("''", "'")
    return value
