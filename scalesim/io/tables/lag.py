"""Which columns of a log are time, lag, position and label, and in which units: guessed, and told."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scalesim.core.lag_table import LagTable
from scalesim.errors import ReadError
from scalesim.io.tables.cells import CLOCK, FRAMES, TIME_UNITS, unit_in
from scalesim.io.tables.sheet import Column, Sheet, read_sheet

PLACES = {"top": 0.0, "upper": 0.25, "middle": 0.5, "mid": 0.5, "centre": 0.5, "center": 0.5, "lower": 0.75}
PLACES |= {"bottom": 1.0}
"""Heights in the picture by the words of the trade."""
_TIME = re.compile(r"\b(time|t|when|elapsed|clock|seconds?|minutes?|timestamp|date)\b", re.IGNORECASE)
_LAG = re.compile(r"(lag|delay|latency)", re.IGNORECASE)
_VALUE = re.compile(r"(reading|value)", re.IGNORECASE)
"""A word of lag, unless it is the time of the reading that a title names."""
_PLACE = re.compile(r"(pos|place|height|zone|where)", re.IGNORECASE)
_LABEL = re.compile(r"(label|device|box|run|chain|set|name|model|unit|what)", re.IGNORECASE)
_COUNT = re.compile(r"(^#$|^n$|^no\.?$|index|count|sample|number)", re.IGNORECASE)
_SECONDS_BELOW, _MICROSECONDS_ABOVE, _NANOSECONDS_ABOVE = 0.5, 2000.0, 2e6
_EPOCH_MS = 1e11
_FAR, _ALIKE = 200.0, 3.0
"""Readings so many times apart may be in two units: they are where a thousandth is so near the rest."""
_MOST_CHECKED = 64
_FEW = 2000


def read_lag(path: str | Path, advance: Callable[[int], None] = lambda _: None) -> LagTable:
    """Return the readings of a log.

    Raises: ReadError, one line, for a file without a column of lag, or with two units in it
    """
    sheet = read_sheet(path, advance)
    notes = list(sheet.notes)
    taken = _roles(sheet)
    lag_columns = taken["lag"]
    if not lag_columns:
        raise ReadError(
            f"{sheet.name}: no column of lag was found; write a first line with names such as time_s,lag_ms"
        )
    times = _times(sheet, taken["time"], notes)
    labels, names = _labels(sheet, taken["label"])
    heights = _heights(sheet, taken["place"], notes)
    read = [_lags(sheet, place, notes) for place in lag_columns]
    for place, (values, frames) in zip(lag_columns, read, strict=True):
        if not frames:
            _check_mixed(values, labels, sheet, place)
    unit: Literal["ms", "frames"] = "frames" if read[0][1] else "ms"
    if len({frames for _, frames in read}) > 1:
        raise ReadError(f"{sheet.name}: one column of lag is in frames, another in time; keep to one")
    if len(read) == 1:
        return LagTable(sheet.name, read[0][0], unit, times, labels, names, heights, tuple(notes))
    # several columns of lag are several devices, read at the same times
    many, rows = len(read), sheet.rows
    if names:
        raise ReadError(
            f"{sheet.name}: has labels and {many} columns of lag; give each device one or the other"
        )
    return LagTable(
        sheet.name,
        np.concatenate([values for values, _ in read]),
        unit,
        None if times is None else np.tile(times, many),
        np.repeat(np.arange(many), rows),
        tuple(_plain_title(sheet.columns[place].title, place) for place in lag_columns),
        None if heights is None else np.tile(heights, many),
        tuple(notes),
    )


def _roles(sheet: Sheet) -> dict[str, list[int]]:
    """Return role -> columns: by their titles, else by what they hold."""
    taken: dict[str, list[int]] = {"time": [], "lag": [], "place": [], "label": [], "count": []}
    left: list[int] = []
    for place, column in enumerate(sheet.columns):
        title = column.title.replace("_", " ")
        worded = column.words is not None
        if worded and _is_place(column):
            taken["place"].append(place)
        elif worded:
            taken["label"].append(place)
        elif _COUNT.search(title):
            taken["count"].append(place)
        elif _LAG.search(title) or (_VALUE.search(title) and not _is_time(column)):
            taken["lag"].append(place)
        elif _PLACE.search(title):
            taken["place"].append(place)
        elif _TIME.search(title):
            taken["time"].append(place)
        elif _LABEL.search(title) and _is_number(column) and len(sheet.columns) > 1:
            taken["label"].append(place)
        else:
            left.append(place)
    if (
        not taken["time"]
        and left
        and len(left) + len(taken["lag"]) > 1
        and _rises(sheet.columns[left[0]].values)
    ):
        taken["time"].append(left.pop(0))
    if not taken["lag"]:
        taken["lag"] = left
    return taken


def _is_place(column: Column) -> bool:
    said = {text.lower() for text in column.texts if text}
    return bool(said) and said <= set(PLACES)


def _is_time(column: Column) -> bool:
    """Return whether a title speaks of time, and its values rise as times do."""
    return bool(_TIME.search(column.title.replace("_", " "))) and _rises(column.values)


def _is_number(column: Column) -> bool:
    """Return whether values may be numbers of boxes or runs: whole ones without a unit."""
    finite = column.values[np.isfinite(column.values)]
    return not unit_in(column.title) and column.units is None and bool((finite % 1 == 0).all())


def _rises(values: NDArray) -> bool:
    first = values[:_FEW]
    steps = np.diff(first[np.isfinite(first)])
    return len(steps) == 0 or bool((steps >= 0).mean() > 0.9 and (steps > 0).any())


def _times(sheet: Sheet, places: list[int], notes: list[str]) -> NDArray | None:
    if not places:
        return None
    column = sheet.columns[places[0]]
    said = unit_in(column.title)
    values = column.values.astype(np.float64)
    clock = CLOCK in column.unit_names
    if clock and column.units is not None:
        days = np.cumsum(np.diff(values, prepend=values[:1]) < -43_200)
        return values + 86_400 * days  # past midnight
    scale = TIME_UNITS.get(said, 0.0)
    if not scale:
        scale = 1e-3 if _largest(values) > _EPOCH_MS else 1.0
        notes.append(
            f"{sheet.name}: {_called(column, places[0])} is taken as time in {'ms' if scale < 1 else 's'}"
        )
    return _scaled(column, values, scale, TIME_UNITS)


def _lags(sheet: Sheet, place: int, notes: list[str]) -> tuple[NDArray, bool]:
    """Return (values in ms or frames, whether they are frames)."""
    column = sheet.columns[place]
    values = column.values
    finite = np.abs(values[np.isfinite(values)])
    if not len(finite):
        raise ReadError(f"{sheet.name}: {_called(column, place)} holds no number; write lag in ms")
    said = unit_in(column.title)
    own = set(column.unit_names) - {""}
    if own & {CLOCK}:
        raise ReadError(f"{sheet.name}: {_called(column, place)} holds times of day; write lag in ms")
    if said in FRAMES or own & set(FRAMES):
        if own - set(FRAMES):
            raise ReadError(f"{sheet.name}: {_called(column, place)} mixes frames and time; keep to one")
        return values, True
    if not said and not own:
        typical = float(np.median(finite))
        said = "ms"
        if typical < _SECONDS_BELOW and finite.max() < 10 * _SECONDS_BELOW and typical > 0:
            said = "s"
        elif typical > _NANOSECONDS_ABOVE:
            said = "ns"
        elif typical > _MICROSECONDS_ABOVE:
            said = "us"
        notes.append(f"{sheet.name}: {_called(column, place)} has no unit; it is taken as lag in {said}")
    elif own:
        said = said or next(iter(sorted(own)))
        notes.append(f"{sheet.name}: units beside the values are used; where there is none, {said}")
    found = _scaled(column, values, TIME_UNITS.get(said, 1e-3), TIME_UNITS) * 1e3
    return found, False


def _scaled(column: Column, values: NDArray, scale: float, units: dict[str, float]) -> NDArray:
    """Return values in seconds, each by the unit beside it or else by `scale`."""
    if column.units is None:
        return values * scale
    scales = np.array([units.get(name, scale) for name in column.unit_names])
    return np.asarray(values * scales[column.units], dtype=np.float64)


def _check_mixed(lags: NDArray, labels: NDArray | None, sheet: Sheet, place: int) -> None:
    """Refuse a column in which some readings of a device are a thousand times the others."""
    groups = (
        [np.arange(len(lags))]
        if labels is None
        else [np.flatnonzero(labels == number) for number in np.unique(labels)[:_MOST_CHECKED]]
    )
    for rows in groups:
        row = _thousandfold(lags[rows])
        if row is not None:
            at, typical = rows[row], float(np.nanmedian(np.abs(lags[rows])))
            raise ReadError(
                f"{sheet.name}: row {at + 1} of {_called(sheet.columns[place], place)} reads {lags[at]:g} ms "
                f"where most read about {typical:.3g}: mixed units? write the unit beside each value "
                "(16.7 ms), or keep to one"
            )


def _thousandfold(lags: NDArray) -> int | None:
    """Return the first reading of a group that is a thousand times as large as the rest, or as small."""
    size = np.abs(lags)
    typical = float(np.median(size[np.isfinite(size)])) if np.isfinite(size).any() else 0.0
    if not typical > 0:
        return None
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = size / typical
    for factor in (1000.0, 0.001):
        apart = ratio / factor
        suspects = np.flatnonzero((ratio > _FAR) if factor > 1 else (ratio < 1 / _FAR))
        # stray readings and lag near zero are of any size; another unit is alike but for the thousand
        alike = suspects[(apart[suspects] > 1 / _ALIKE) & (apart[suspects] < _ALIKE)]
        if len(alike) and len(alike) >= 0.9 * len(suspects) and len(alike) >= 0.002 * len(lags):
            return int(alike[0])
    return None


def _labels(sheet: Sheet, places: list[int]) -> tuple[NDArray | None, tuple[str, ...]]:
    """Return (number of each row's label, labels); several columns of words are joined."""
    if not places:
        return None, ()
    only = sheet.columns[places[0]]
    if len(places) == 1 and only.words is not None:
        used, numbers = np.unique(only.words, return_inverse=True)
        return numbers.reshape(-1), tuple(only.texts[word] or "no label" for word in used)
    joined: list[list[str]] = []
    for place in places:
        column = sheet.columns[place]
        if column.words is not None:
            joined.append([column.texts[word] for word in column.words])
        else:
            joined.append([f"{value:g}" if np.isfinite(value) else "" for value in column.values])
    rows = (
        joined[0] if len(joined) == 1 else [" ".join(filter(None, row)) for row in zip(*joined, strict=True)]
    )
    names: dict[str, int] = {}
    numbers = np.array([names.setdefault(row or "no label", len(names)) for row in rows])
    return numbers, tuple(names)


def _heights(sheet: Sheet, places: list[int], notes: list[str]) -> NDArray | None:
    if not places:
        return None
    column = sheet.columns[places[0]]
    if column.words is not None:
        known = np.array([PLACES.get(text.lower(), np.nan) for text in column.texts])
        return np.asarray(known[column.words], dtype=np.float64)
    values = column.values
    most = _largest(values)
    scale = 1.0 if most <= 1 else 0.01
    if most > 100 or (values < 0).any():
        raise ReadError(
            f"{sheet.name}: {_called(column, places[0])} holds {most:g}; write top, middle, bottom, or the "
            "height as "
            "0 (top) to 1 (bottom)"
        )
    if scale != 1:
        notes.append(
            f"{sheet.name}: {_called(column, places[0])} is taken as percent of the picture's height"
        )
    return values * scale


def _largest(values: NDArray) -> float:
    """Return the largest size among the finite values, 0 for none."""
    return float(np.abs(values[np.isfinite(values)]).max(initial=0.0))


def _called(column: Column, place: int) -> str:
    return f"column '{column.title}'" if column.title else f"column {place + 1}"


def _plain_title(title: str, place: int) -> str:
    """Return a column's title as a device's name: without its unit."""
    plain = re.sub(r"[_\s]*[(\[]?\b(ms|us|µs|s|ns|frames)\b[)\]]?\s*$", "", title).strip(" _")
    return plain or f"column {place + 1}"
