"""Circuits with a memory that counts or averages: a flywheel, a countdown of half lines.

Flywheel: each field is expected where the last one was, a field later, and corrects a share c of the error.
On fields whose sync stands off by +s and -s in turn it settles at c / (2 - c) of that, in closed form.

Countdown: see `scalesim.tube.lock.circuit.Countdown`. It is run field by field on the half lines at which its
front finds vertical sync: cold, or switched over from the standard signal while it ran alone. The structure
and its figures are from memory.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Rule = Literal["strict", "tolerant", "two-field"]
_FIELDS = 160
_TAIL = 64
"""Fields that are run, and at the end of them those in which nothing may change any more."""


def flywheel(times: NDArray, nominal: NDArray, correction: NDArray) -> NDArray:
    """Return where a flywheel makes the fields begin, (points, fields).

    Parameters:  times : (points, fields) where sync is; nominal : (fields,) of fields equally far apart;
        correction : (points,) share of the error, above 0, at most 1
    """
    away = times - nominal
    mean = away.mean(axis=1, keepdims=True)
    kept = (correction / (2 - correction))[:, None]
    return np.asarray(nominal + mean + kept * (away - mean))


@lru_cache(maxsize=4096)
def countdown(
    found: tuple[int, ...],
    standard: int,
    cycle: int,
    halves: int,
    rule: Rule,
    window: int,
    fields_in: int,
    misses_out: int,
    warm: bool,
) -> tuple[tuple[int, ...], bool] | None:
    """Return the half lines at which the fields of a cycle begin, and whether it runs alone; None if it
    hunts.

    Parameters:
        found : half lines at which the front finds vertical sync, per field, within a cycle of `cycle`
        standard : likewise in the first field of the standard signal
        halves : half lines of a standard field
        warm : switched over from the standard signal, on which it ran alone
    """
    fields = len(found)
    raw = [found[k % fields] + k // fields * cycle for k in range(_FIELDS)]
    alone, begin = warm, standard - halves
    in_row = misses = changed = 0
    begins: list[int] = []
    for k, at in enumerate(raw):
        fits = _fits(raw, k, halves, rule, window)
        if alone:
            begin += halves
            hit = fits if rule == "two-field" else abs(at - begin) <= (window if rule == "tolerant" else 0)
            misses = 0 if hit else misses + 1
            if misses >= misses_out:
                alone, in_row, changed = False, 0, k
        else:
            begin = at
            in_row = in_row + 1 if fits else 0
            if in_row >= fields_in:
                alone, misses, changed = True, 0, k
        begins.append(begin)
    if changed > _FIELDS - _TAIL:
        return None
    last = _FIELDS - _FIELDS % fields - fields
    return tuple(begins[last + j] - last // fields * cycle for j in range(fields)), alone


def _fits(raw: list[int], k: int, halves: int, rule: Rule, window: int) -> bool:
    """Tell whether the field that ends here has the standard's length."""
    if rule == "two-field":
        return k >= 2 and raw[k] - raw[k - 2] == 2 * halves
    if k < 1:
        return False
    return abs(raw[k] - raw[k - 1] - halves) <= (window if rule == "tolerant" else 0)
