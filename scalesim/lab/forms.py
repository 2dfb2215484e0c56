"""What the page makes its controls of: stages, displays, metrics and jobs, out of their own schemas."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from scalesim.job import Job
from scalesim.metrics import METRICS, key_of
from scalesim.schema import Param, key_text, params_of
from scalesim.stages import STAGES
from scalesim.tube.display import DISPLAYS, Display

BY_HAND = ("predict", "compare", "tune", "identify", "chart", "demo")
"""Jobs that are no form: the page has views of its own for them, or they make what is looked at elsewhere."""


def stages() -> list[dict[str, Any]]:
    """Return every kind of stage with its keys."""
    return [
        {
            "kind": kind,
            "doc": _first_sentence(cls.__doc__),
            "keys": [key_form(name, schema) for name, schema in params_of(cls).items()],
            "example": {name: _plain(value) for name, value in cls.example.items()},
        }
        for kind, cls in STAGES.items()
    ]


def tubes() -> list[dict[str, Any]]:
    """Return every shipped display with its quantities."""
    return [tube(key, display) for key, display in DISPLAYS.items()]


def tube(key: str, display: Display) -> dict[str, Any]:
    """Return a display with its quantities; its vertical circuit is no quantity."""
    keys = {name: schema for name, schema in params_of(Display).items() if schema.type != "any"}
    return {
        "key": key,
        "name": display.name,
        "keys": [key_form(name, schema) for name, schema in keys.items()],
        "values": {name: _plain(getattr(display, name)) for name in keys},
    }


def metrics() -> list[dict[str, Any]]:
    """Return what is said of every metric."""
    return [
        {
            "key": name,
            "label": key_of(name).label,
            "unit": key_of(name).unit,
            "better": key_of(name).better,
            "reading": key_of(name).reading,
            "digits": key_of(name).digits,
            "share": key_of(name).share,
            "tie": key_of(name).difference_parts(),
        }
        for name in METRICS
    ]


def job_form(job: Job) -> dict[str, Any]:
    """Return a job's inputs and keys."""
    keys = params_of(job.keys) if job.keys else {}
    return {
        "name": job.name,
        "about": job.about,
        "inputs": [
            {"name": each.name, "doc": each.doc, "reads": each.reads, "required": each.required}
            for each in job.inputs
        ],
        "keys": [key_form(name, schema) for name, schema in keys.items()],
        "moded": job.moded,
    }


def display_of(given: Any) -> Display:
    """Return the display that the page gives as a key, or one and changed quantities, or as a file's text.

    Raises: ParameterError for one that is not known, or a quantity out of range
    """
    from scalesim.errors import ParameterError, nearest
    from scalesim.jobs.predict.on_screen import DEFAULT_DISPLAY
    from scalesim.schema import from_keys

    if isinstance(given, str):
        given = {"key": given}
    given = {"key": DEFAULT_DISPLAY} if given is None else given
    table = given if isinstance(given, Mapping) else {}
    toml, key = table.get("toml"), table.get("key")
    if isinstance(toml, str):
        first = Display.from_toml(toml)
    elif isinstance(key, str) and key in DISPLAYS:
        first = DISPLAYS[key]
    else:
        raise ParameterError(f"display: {nearest(str(key)[:60], DISPLAYS)}")
    values = table.get("values") or {}
    if not isinstance(values, Mapping):
        raise ParameterError("display: values is no table of quantities")
    if not values:
        return first
    base = {name: getattr(first, name) for name in params_of(Display)}
    changed = {name: _number_or_text(name, value) for name, value in values.items()}
    base["aspect"] = key_text(base["aspect"])
    return from_keys(Display, {**base, **changed}, "display")


def _number_or_text(name: str, value: Any) -> Any:
    """Return what a control holds as a display's file writes it: its numbers bare, a list of three apart."""
    if not isinstance(value, str) or name in ("name", "aspect", "mask"):
        return value
    try:
        numbers = [float(part) for part in value.split("/")]
    except ValueError:
        return value
    return numbers if len(numbers) > 1 else numbers[0]


def key_form(name: str, schema: Param) -> dict[str, Any]:
    """Return what a control for a key needs."""
    default = None if schema.required or schema.default is None else _plain(schema.default)
    return {
        "name": name,
        "type": schema.type,
        "unit": schema.unit,
        "doc": "; ".join(part for part in (schema.doc, schema.remedy) if part),
        "default": default,
        "at_least": schema.at_least,
        "above": schema.above,
        "at_most": schema.at_most,
        "choices": list(schema.choices),
        "optional": schema.optional,
        "required": schema.required,
    }


def _plain(value: Any) -> str | None:
    if value is None or value is ...:
        return None
    if isinstance(value, Fraction) and value.denominator == 1:
        return str(value)  # "1", not the "1:1" of a ratio
    return key_text(tuple(value) if isinstance(value, list) else value)


def _first_sentence(doc: str | None) -> str:
    text = " ".join((doc or "").split("\n\n")[0].split())
    return text
