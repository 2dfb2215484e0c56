"""What ends a write-up, from what was really used: sources, chains, methods, cautions."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from scalesim.jobs.report.exhibits import Placed
from scalesim.metrics import METRICS, key_of
from scalesim.result import FOOT, Code, Part, Result, Table
from scalesim.texts import capital


def sources(shown: Iterable[Placed], answers: Mapping[str, Result]) -> Table:
    """Return where every figure and table comes from, a row a folder."""
    named: dict[str, list[str]] = {place: [] for place in answers}
    for each in shown:
        named[each.asked.place].append(
            each.exhibit.name
            if each.exhibit
            else "its words"
            if each.asked.select == "said"
            else "its chains"
        )
    rows = tuple(
        (place, *_origin(answers[place]), ", ".join(dict.fromkeys(names))) for place, names in named.items()
    )
    return Table("Where the figures come from", ("folder or file", "made by", "version", "shown as"), rows)


def ending(answers: Mapping[str, Result], placed: Iterable[Placed] = ()) -> Iterator[Part]:
    """Yield the parts that end a write-up; one that would be empty is left out.

    Parameters:  answers : place -> the answer there, in the order of the text; placed : what stands above:
        chains that do are not told again
    """
    told = {each.asked.place for each in placed if each.asked.select == "chains"}
    codes = _chains({place: answer for place, answer in answers.items() if place not in told})
    if codes:
        said = "As they were run; each can be pasted after --chain." if any(c.text for c in codes) else ""
        yield Part("The chains", (said,), codes, anchor="chains")
    methods = _methods(answers)
    if methods:
        yield Part("How it was made", tuple(methods), anchor="methods")


def cautions(answers: Iterable[Result]) -> tuple[str, ...]:
    """Return the cautions of all that is shown, each once; the usual ones when nothing has any."""
    said: dict[str, None] = {}
    for answer in answers:
        said |= dict.fromkeys(answer.foot)
        for part in answer.parts():
            if part.anchor == "cautions":
                said |= dict.fromkeys(part.text)
    return tuple(said) or FOOT


def _origin(answer: Result) -> tuple[str, str]:
    document = _document(answer)
    return str(document.get("command", "a picture file")), str(document.get("version", "–"))


def _document(answer: Result) -> Mapping[str, Any]:
    found: Mapping[str, Any] = getattr(answer, "document", {})
    return found


def _chains(answers: Mapping[str, Result]) -> tuple[Code, ...]:
    """Return the chains of all answers: those with names, each once under a name, then those without."""
    found: dict[tuple[str, str], str] = {}
    nameless: dict[str, list[str]] = {}
    for place, answer in answers.items():
        document = _document(answer)
        chains = document.get("chains")
        for name, text in dict(chains).items() if isinstance(chains, Mapping) else ():
            if isinstance(text, str) and text:
                found.setdefault((str(name), text), place)
        own = document.get("chain")
        if isinstance(own, str) and own:
            nameless.setdefault(own, []).append(place)
    names = [name for name, _ in found]
    return (
        *(
            Code(text, name if names.count(name) == 1 else f"{name} ({place})")
            for (name, text), place in found.items()
        ),
        *(Code(text, f"the chain of {', '.join(places)}") for text, places in nameless.items()),
    )


def _methods(answers: Mapping[str, Result]) -> list[str]:
    """Return what was asked of each folder, what the measures mean, and what was modelled; each text once."""
    said = [f"{place}: {' '.join(answer.opening)}" for place, answer in answers.items() if answer.opening]
    keys: dict[str, None] = {}
    for answer in answers.values():
        by = _document(answer).get("by") or ()
        keys |= dict.fromkeys(str(key) for key in ([by] if isinstance(by, str) else by))
    said += [_measure(key) for key in keys if key in METRICS]
    for answer in answers.values():
        said += [text for part in answer.parts() if part.anchor == "model" for text in part.text]
    return list(dict.fromkeys(said))


def _measure(key: str) -> str:
    known = key_of(key)
    better = {"higher": "more is better", "lower": "less is better"}.get(known.better, "")
    return f"{capital(known.label)} ({', '.join(filter(None, (key, better)))}): {known.reading}."
