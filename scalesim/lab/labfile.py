"""One TOML text that holds a whole lab: the variants, the frame by its id, and the view; it opens again."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from scalesim.errors import ParameterError
from scalesim.lab.editor import written
from scalesim.schema import Param, read_table, toml_document

MOST_VARIANTS = 8

LAB = {
    "scalesim_lab": Param("whole", bare=True, at_least=1, at_most=1, doc="version of this form"),
    "frame": Param("text", default="", fewest=0, doc="id of the frame"),
    "view": Param("text", default="", fewest=0, doc="place, zoom and panes, as an address holds them"),
    "variant": Param("any", optional=True, doc="[[variant]] tables"),
}
VARIANT = {
    "name": Param("text", fewest=0, default="", doc="what it is called"),
    "note": Param("text", fewest=0, default="", doc="free text"),
    "chain": Param("text", doc="the chain as a lab's own TOML, stages that are off included"),
}


def lab_text(given: Mapping[str, Any]) -> str:
    """Return the TOML of what the page gives: `variants` (name, note, stages), `frame`, `view`.

    Raises: ParameterError for a variant that is no chain
    """
    import tomlkit

    document = tomlkit.document()
    document["scalesim_lab"] = 1
    document["frame"] = str(given.get("frame") or "")
    document["view"] = str(given.get("view") or "")
    tables = tomlkit.aot()
    for each in _variants(given.get("variants")):
        table = tomlkit.table()
        table["name"] = str(each.get("name") or "")
        table["note"] = str(each.get("note") or "")
        table["chain"] = tomlkit.string(written(each).to_dict()["toml"], multiline=True)
        tables.append(table)
    document["variant"] = tables
    return tomlkit.dumps(document)


def opened(text: str) -> dict[str, Any]:
    """Return variants, frame and view of a lab's TOML, for the page.

    Raises: ParameterError naming the place
    """
    found = read_table("lab file", toml_document(text, "lab file", "one that the lab saved"), LAB)
    variants = []
    for number, table in enumerate(_variants(found.get("variant", [])), start=1):
        keys = read_table(f"variant {number}", table, VARIANT)
        variants.append(
            {
                **written({"toml": keys["chain"]}).to_dict(),
                "name": keys.get("name", ""),
                "note": keys.get("note", ""),
            }
        )
    return {"variants": variants, "frame": found.get("frame", ""), "view": found.get("view", "")}


def _variants(given: Any) -> list[Mapping[str, Any]]:
    if not isinstance(given, list) or not all(isinstance(each, Mapping) for each in given):
        raise ParameterError("variants is no list of tables")
    if len(given) > MOST_VARIANTS:
        raise ParameterError(f"there are {len(given)} variants; at most {MOST_VARIANTS}")
    return given
