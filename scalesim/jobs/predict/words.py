"""Results in a reviewer's words."""

from __future__ import annotations

from collections.abc import Mapping

from scalesim.core.raster import Raster
from scalesim.metrics import METRICS, Key, key_of
from scalesim.result import Cell
from scalesim.texts import capital


def metric_rows(
    metrics: Mapping[str, float | None], why: Mapping[str, str], how: Mapping[str, str] | None = None
) -> tuple[tuple[str | Cell, ...], ...]:
    """Return one row per metric: what it is, value, unit, what is better.

    A footnote says why there is no value, or, where a metric can be had in several ways, which was taken
    (`how`).
    """
    rows: list[tuple[str | Cell, ...]] = []
    for name, value in metrics.items():
        key = key_of(name)
        better = "" if key.better == "neither" else key.better
        if value is None:
            rows.append((key.label, Cell("none", note=reason_note(why[name])), "", better))
        else:
            number, unit = key.number(value)
            had = Cell(number, note=basis_note(how[name])) if how and name in how else number
            rows.append((key.label, had, unit, better))
    return tuple(rows)


def reason_note(why: str) -> str:
    """Return the reason for a missing value as the sentence of a footnote."""
    return f"{capital(why).removesuffix('.')}."


def basis_note(how: str) -> str:
    """Return the way in which a value was had as the sentence of a footnote."""
    return f"Basis: {how}."


def metric_sentences(
    metrics: Mapping[str, float | None],
    n: Mapping[str, int] | None = None,
    otherwise: Mapping[str, str] | None = None,
) -> list[str]:
    """Return what the metrics say that are told, one sentence each, in the order of the table.

    Parameters:
        n : how many things a value rests on, where that is known; said where the metric says them
        otherwise : key -> the sentence to say in place of the metric's own
    """
    said = []
    for key, value in ((key_of(name), metrics.get(name)) for name in METRICS):
        if not key.told or value is None:
            continue
        own = (otherwise or {}).get(key.name)
        said.append(own or counted(key, key.sentence(value), (n or {}).get(key.name)))
    return said


def counted(key: Key, sentence: str, n: int | None) -> str:
    """Return the sentence with how many things it rests on, where the key says them."""
    if not key.counted or n is None:
        return sentence
    return f"{sentence.removesuffix('.')} ({n} {key.counts if n != 1 else key.counts.removesuffix('s')})."


def _apart(raster: Raster) -> str:
    places = [field.landing for field in sorted(raster.fields, key=lambda field: field.parity)]
    return f"{float(places[-1] - places[0]):.3g}"


def signal_sentence(mode_in: str, mode_out: str, raster: Raster) -> str:
    """Return what signal leaves the chain."""
    lines = {
        "progressive": f"{raster.lines} lines, the same ones every picture",
        "interlaced": f"{raster.lines} lines a field, the bottom field half a line lower",
        "field-only": f"{raster.lines} lines a field, both fields on one set of scan lines",
        "uneven": f"{raster.lines} lines a field, the fields {_apart(raster)} of a line apart",
    }[raster.scan]
    name = "" if mode_out == "custom" else f"{mode_out}: "
    came = "The picture" if mode_in == "custom" else mode_in
    return f"{came} comes out as {name}{lines}, {raster.samples} samples a line."
