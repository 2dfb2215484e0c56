"""Every method tried at every phase, against sums of products collected once.

All that a method predicts is a product of small matrices, weights times codes. Lines whose spans start
at the same place within a source line share their weights, so their sums of products are collected
once; a method at a phase then costs a few small products, whatever the number of lines.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.kernel.dictionary import Method
from scalesim.signal.kernel.field_alignment import cycle
from scalesim.signal.kernel.field_lines import DOMAINS, Domain, FieldLines, Windows

PHASES = 16


@dataclass(frozen=True)
class Trial:
    """A method at a phase and step, and what it leaves unexplained.

    Parameters:
        method, domain : what was tried; in "light", light is mixed
        taps_in_code : the base mixes light, the taps after it code values
        held : the taps may not sharpen a line past its own value, as some filters see to
        step, phase : of the method, for the field's line 0
        misfit : sum of squares, in units of code swing
        lift, gain : fitted on top of the tone
        blend : share by which the recorder mixed neighbouring lines in, 0 unless the field is `blended`
    """

    method: Method
    domain: Domain
    step: float
    phase: float
    misfit: float
    lift: float = 0.0
    gain: float = 1.0
    blend: float = 0.0
    taps_in_code: bool = False
    held: bool = False


@dataclass(frozen=True)
class Sums:
    """Sums of products over lines that share their weights, per class of lines.

    Parameters:
        fraction : (classes,) where in a source line they look
        codes : (classes, width), products : (classes, width, width), with_values : domain -> (classes, width)
        values, squares : domain -> sums over all
        count : number of values
    """

    fraction: NDArray
    codes: NDArray
    products: NDArray
    with_values: dict[Domain, NDArray]
    values: dict[Domain, float]
    squares: dict[Domain, float]
    count: int


def collect(field: FieldLines, seen: Windows) -> Sums:
    """Return the sums of one field, lines grouped by where in a source line they look."""
    length = cycle(len(field.codes), seen.place.scale)
    group = seen.rows % length if length else np.floor(seen.fraction * PHASES).astype(int)
    found = [_class_sums(field, seen, group == k) for k in np.unique(group)]
    per_domain = {d: field.values(d)[seen.rows] for d in DOMAINS}
    return Sums(
        np.array([f[0] for f in found]),
        np.stack([f[1] for f in found]),
        np.stack([f[2] for f in found]),
        {d: np.stack([f[3][d] for f in found]) for d in DOMAINS},
        {d: float(v.sum()) for d, v in per_domain.items()},
        {d: float((v**2).sum()) for d, v in per_domain.items()},
        per_domain["code"].size,
    )


def _class_sums(
    field: FieldLines, seen: Windows, members: NDArray
) -> tuple[float, NDArray, NDArray, dict[Domain, NDArray]]:
    part = seen.sources[members]
    angle = np.exp(2j * np.pi * seen.fraction[members]).mean()
    fraction = float(np.angle(angle) / (2 * np.pi)) % 1.0
    # windows near the wrap of a class that repeats exactly all look at one place
    values = {d: np.einsum("lwc,lc->w", part, field.values(d)[seen.rows[members]]) for d in DOMAINS}
    products = np.matmul(part, part.transpose(0, 2, 1)).sum(axis=0)
    return fraction, part.sum(axis=(0, 2)), products, values


def try_all(
    sums: Sums, seen: Windows, weights_of: Mapping[Method, NDArray], reach_lines: float = 0.75
) -> list[Trial]:
    """Return the best phase of every method in both domains, from the sums alone.

    `seen.place` must be centred on the kernel; phases within `reach_lines` of there are tried.
    `weights_of` are the methods' `tables` at the same step and reach, `PHASES` phases.
    """
    step = seen.place.scale
    found = []
    for method, table in weights_of.items():
        offsets = np.arange(-seen.reach, seen.reach + 1)
        # how far the weights' centroid lies below the start of the span, on average over the phases
        lead = float(np.mean(table @ (offsets + 0.5) - np.arange(PHASES) / PHASES))
        tried = np.arange(-int(reach_lines * PHASES), int(reach_lines * PHASES) + 1)
        base = np.round((sums.fraction - lead) * PHASES).astype(int)
        starts = base[None, :] + tried[:, None]
        weights = _rolled(table, starts)
        for domain in DOMAINS:
            misfit = _misfits(sums, weights, domain)
            at = int(np.argmin(misfit))
            aside, least = _between(misfit, at) if method.base.steady else (0.0, float(misfit[at]))
            # the phase of the field's line 0 from the starts of the classes
            delay = float(np.mean(starts[at] / PHASES - sums.fraction)) + aside / PHASES
            found.append(Trial(method, domain, step, seen.place(0.5) + delay, least))
    return found


def _between(misfit: NDArray, at: int) -> tuple[float, float]:
    """Return (place, value) of the parabola's minimum through three neighbours, the place from `at`."""
    if not 0 < at < len(misfit) - 1:
        return 0.0, float(misfit[at])
    before, here, after = (float(m) for m in misfit[at - 1 : at + 2])
    bend = before - 2 * here + after
    if bend <= 0:
        return 0.0, here
    aside = 0.5 * (before - after) / bend
    return aside, max(here - 0.25 * (before - after) * aside, 0.02 * here)


def _rolled(table: NDArray, starts: NDArray) -> NDArray:
    """Return the weights of spans that start `starts`/PHASES lines after the window's middle line."""
    whole, part = np.divmod(starts, PHASES)
    width = table.shape[1]
    columns = np.arange(width) - whole[..., None]
    weights = table[part[..., None], np.clip(columns, 0, width - 1)]
    return np.where((columns >= 0) & (columns < width), weights, 0.0)


def _misfits(sums: Sums, weights: NDArray, domain: Domain) -> NDArray:
    """Return the misfit of each trial, (tried,), after the best lift and gain."""
    means = np.einsum("tcw,cw->t", weights, sums.codes)
    spread = np.matmul(weights.transpose(1, 0, 2), sums.products).transpose(1, 0, 2)
    squares = np.einsum("tcw,tcw->t", spread, weights) - means**2 / sums.count
    cross = np.einsum("tcw,cw->t", weights, sums.with_values[domain])
    cross = cross - means * sums.values[domain] / sums.count
    total = sums.squares[domain] - sums.values[domain] ** 2 / sums.count
    return total - np.maximum(cross, 0.0) ** 2 / np.maximum(squares, 1e-9)
