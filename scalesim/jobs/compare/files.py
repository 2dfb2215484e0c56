"""The rows of a comparison as files: a flat CSV, and JSON."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from textwrap import indent
from typing import Any

from scalesim.errors import LibraryError
from scalesim.jobs.compare.rows import Row
from scalesim.metrics import METRICS, key_of
from scalesim.result import SCHEMA
from scalesim.texts import spreadsheet_cell
from scalesim.version import __version__

_LAST = ("why", "version")
_PIECE = 2**18
"""Characters that are held before they are written."""


def rows_csv(rows: Sequence[Row]) -> str:
    """Return one row per frame and chain; an empty cell is a value that cannot be had.

    `<key>.n` is how many steps, outlines or windows a value rests on, where that is counted. The reasons
    stand in the last column but one, as `key: reason` parted by semicolons. Texts that a spreadsheet would
    take for a formula have an apostrophe in front; the JSON has them as they are.
    """
    return "".join(csv_pieces(rows, columns_of(rows)))


def columns_of(rows: Iterable[Row]) -> list[str]:
    """Return the columns of the rows, in the order in which they are first met."""
    names = dict.fromkeys(name for row in rows for name in flat(row) if name not in _LAST)
    return [*names, *_LAST]


def csv_pieces(rows: Iterable[Row], columns: Sequence[str]) -> Iterator[str]:
    """Yield the text of `rows_csv` piece by piece, as so many rows come."""
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow([spreadsheet_cell(name) for name in columns])
    for row in rows:
        found = flat(row)
        table.writerow([spreadsheet_cell(_cell(found.get(name))) for name in columns])
        if text.tell() > _PIECE:
            yield text.getvalue()
            text.seek(0)
            text.truncate()
    yield text.getvalue()


def flat(row: Row) -> dict[str, Any]:
    """Return a row as one level of values: `<key>.n` for what each rests on, the reasons as one text."""
    found = row.to_dict() | {"why": _reasons(row.why)}
    return {name: value for name, value in found.items() if name != "n"} | {
        f"{key}.n": count for key, count in row.n.items()
    }


def _cell(value: Any) -> Any:
    return "" if value is None else value


def _reasons(why: Mapping[str, str]) -> str:
    return "; ".join(f"{key}: {reason}" for key, reason in why.items())


def rows_json(rows: Sequence[Row]) -> str:
    """Return the rows with the metrics' units and what their n counts, null where a value cannot be had."""
    return "".join(json_pieces(rows))


def json_pieces(rows: Iterable[Row]) -> Iterator[str]:
    """Yield the text of `rows_json` piece by piece."""
    head = {
        "schema": SCHEMA,
        "version": __version__,
        "units": {name: key_of(name).unit for name in METRICS},
        "counts": {name: key_of(name).counts for name in METRICS if key_of(name).counts},
        "rows": [],
    }
    yield _json(head).removesuffix("]\n}")
    between = "\n"
    for row in rows:
        yield between + indent(_json(_plain(row.to_dict())), "  ")
        between = ",\n"
    yield ("]" if between == "\n" else "\n ]") + "\n}\n"


def _json(value: Any) -> str:
    return json.dumps(value, indent=1, ensure_ascii=False, allow_nan=False)


def frame_of_rows(rows: Iterable[Row], columns: Sequence[str]) -> Any:
    """Return the rows as a pandas `DataFrame`, a row a frame and chain, NaN where a value cannot be had.

    Raises: LibraryError without pandas
    """
    try:
        import pandas
    except ImportError:
        raise LibraryError("a table for pandas needs pandas: pip install pandas") from None
    texts = [name for name in columns if name.endswith((".how", "why"))]
    found = pandas.DataFrame.from_records((flat(row) for row in rows), columns=list(columns))
    return found.fillna(dict.fromkeys(texts, ""))


def _plain(value: Any) -> Any:
    """Return a value as JSON can hold it: notes may have dates, or numbers that are none."""
    if isinstance(value, Mapping):
        return {str(key): _plain(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(each) for each in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value if isinstance(value, str | int | float | bool) or value is None else str(value)
