"""The rows of a comparison as files: a flat CSV, and JSON."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Mapping, Sequence
from typing import Any

from scalesim.jobs.compare.rows import Row
from scalesim.metrics import METRICS, key_of
from scalesim.result import SCHEMA
from scalesim.texts import spreadsheet_cell
from scalesim.version import __version__

_LAST = ("why", "version")


def rows_csv(rows: Sequence[Row]) -> str:
    """Return one row per frame and chain; an empty cell is a value that cannot be had.

    `<key>.n` is how many steps, outlines or windows a value rests on, where that is counted. The reasons
    stand in the last column but one, as `key: reason` parted by semicolons. Texts that a spreadsheet would
    take for a formula have an apostrophe in front; the JSON has them as they are.
    """
    flat = [_flat(row) for row in rows]
    names = list(dict.fromkeys(name for row in flat for name in row if name not in _LAST))
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    columns = [*names, *_LAST]
    table.writerow([spreadsheet_cell(name) for name in columns])
    table.writerows([spreadsheet_cell(_cell(row.get(name))) for name in columns] for row in flat)
    return text.getvalue()


def _flat(row: Row) -> dict[str, Any]:
    flat = row.to_dict() | {"why": _reasons(row.why)}
    return {name: value for name, value in flat.items() if name != "n"} | {
        f"{key}.n": count for key, count in row.n.items()
    }


def _cell(value: Any) -> Any:
    return "" if value is None else value


def _reasons(why: Mapping[str, str]) -> str:
    return "; ".join(f"{key}: {reason}" for key, reason in why.items())


def rows_json(rows: Sequence[Row]) -> str:
    """Return the rows with the metrics' units and what their n counts, null where a value cannot be had."""
    document = {
        "schema": SCHEMA,
        "version": __version__,
        "units": {name: key_of(name).unit for name in METRICS},
        "counts": {name: key_of(name).counts for name in METRICS if key_of(name).counts},
        "rows": [_plain(row.to_dict()) for row in rows],
    }
    return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _plain(value: Any) -> Any:
    """Return a value as JSON can hold it: notes may have dates, or numbers that are none."""
    if isinstance(value, Mapping):
        return {str(key): _plain(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(each) for each in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value if isinstance(value, str | int | float | bool) or value is None else str(value)
