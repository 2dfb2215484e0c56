"""Rows as a Parquet file, where pyarrow is installed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import islice
from pathlib import Path
from typing import Any, Protocol

from scalesim.errors import LibraryError

NAME = "rows.parquet"
_AT_ONCE = 5000
"""Rows that are held before they are written."""


class Tabular(Protocol):
    """What has rows: their columns, and each as one level of values."""

    def columns(self) -> Sequence[str]: ...
    def records(self) -> Iterable[Mapping[str, Any]]: ...


def check_parquet() -> None:
    """Raise LibraryError unless pyarrow is installed."""
    try:
        import pyarrow.parquet  # noqa: F401  # only whether it is there
    except ImportError:
        raise LibraryError("Parquet needs pyarrow: pip install 'scalesim-bench[parquet]'") from None


def write_parquet(found: Tabular, folder: Path) -> dict[str, str]:
    """Write the rows into a folder, some thousand at a time; return name -> file.

    Columns are numbers where all that is there is numbers, else texts; what cannot be had is null.
    """
    import pyarrow
    import pyarrow.parquet

    columns = list(found.columns())
    schema = pyarrow.schema([(name, kind) for name, kind in _kinds(found, columns).items()])
    with pyarrow.parquet.ParquetWriter(folder / NAME, schema) as writer:
        records = iter(found.records())
        while part := list(islice(records, _AT_ONCE)):
            rows = [{name: _as(schema.field(name).type, row.get(name)) for name in columns} for row in part]
            writer.write_table(pyarrow.Table.from_pylist(rows, schema=schema))
    return {"parquet": NAME}


def _kinds(found: Tabular, columns: Sequence[str]) -> dict[str, Any]:
    """Return what each column holds, from all rows: whole numbers, numbers or texts."""
    import pyarrow

    order = {int: 0, float: 1, str: 2}
    seen: dict[str, int] = {}
    for row in found.records():
        for name, value in row.items():
            if value is not None:
                own = order.get(type(value), 2)
                seen[name] = max(seen.get(name, 0), own)
    kinds = (pyarrow.int64(), pyarrow.float64(), pyarrow.string())
    return {name: kinds[seen.get(name, 1)] for name in columns}


def _as(kind: Any, value: Any) -> Any:
    return str(value) if value is not None and str(kind) == "string" else value
