"""Which source lines the captured fields were made of: the frame's, one field's, or both the same ones."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from scalesim.charts.layout import Layout
from scalesim.core.affine import Affine
from scalesim.errors import NotIdentifiable
from scalesim.signal.kernel.capture import Capture
from scalesim.signal.kernel.dictionary import methods
from scalesim.signal.kernel.field_identity import Fitted, both_fields, fit_fields, ridges, shared_lines, total
from scalesim.signal.kernel.field_lines import FieldLines

_LEAST_HEIGHT = 9.0
_MOST_UNEXPLAINED = 0.4
"""Share of the lines' variance that no kernel explains, from which on they cannot be followed at all."""
_POOR = 1.5
_CLEARLY_HALF = 0.07
_SHARED_WORSE = 1.05


@dataclass(frozen=True)
class Explained:
    """The fields explained by source lines of one kind: all of the frame's, or one parity per field.

    `shared`, when not None: both fields show the same lines, line k of the second what line k + shared of
    the first shows; `fitted` then holds their mean as one field.
    """

    source: str
    parities: tuple[int | None, ...]
    fitted: Fitted
    shared: int | None = None


def best_source(capture: Capture, plan: Layout) -> Explained:
    """Return whole frames or single fields as what the box worked on, whichever explains the lines.

    Single fields are tried for interlaced modes, and where nothing made of whole frames fits.

    Raises: NotIdentifiable when neither does
    """
    explained = [found for found in (_explain(capture, plan, "frame"),) if found is not None]
    if plan.mode.interlaced or not explained or _poor(explained[0].fitted):
        fields = _explain(capture, plan, "fields")
        explained += [fields] if fields is not None else []
    if not explained:
        raise NotIdentifiable(
            f"the capture's lines cannot be followed to lines of the {plan.mode.name} kernel chart; capture "
            "the signal itself with whole lines as they come: not turned, not at an angle, not scaled"
        )
    return min(explained, key=lambda e: total(e.fitted.joint[0]) / lines_used(e.fitted))


def _poor(fitted: Fitted) -> bool:
    """True when a free kernel does much better than the best method, or lines are left unexplained."""
    return total(fitted.joint[0]) > _POOR * sum(kernel.misfit for kernel in fitted.free("code"))


def lines_used(fitted: Fitted) -> int:
    return sum(p.seen.rows.size for p in fitted.fields)


def _explain(capture: Capture, plan: Layout, source: str) -> Explained | None:
    fields, parities = _sources(capture, source)
    slopes = ridges(fields)
    if any(r.upside_down for r in slopes):
        raise NotIdentifiable(
            "the capture is upside down against the chart; switch the flip off and capture again"
        )
    if min(r.height for r in slopes) < _LEAST_HEIGHT:
        return None
    fitted = fit_fields(fields, [r.place for r in slopes], methods())
    if _unexplained(fitted) > _MOST_UNEXPLAINED:
        return None
    separate = Explained(source, tuple(parities), fitted)
    return _shared(separate, fields) or separate


def _shared(separate: Explained, fields: list[FieldLines]) -> Explained | None:
    """Return the fields explained as one and the same lines, unless two separate ones explain them better."""
    fitted = separate.fitted
    if len(fields) != 2 or separate.parities[0] != separate.parities[1]:
        return None
    first, second = (p.seen.place for p in fitted.fields)
    middle = fields[0].lines / 2
    apart = (second(middle) - first(middle)) / first.scale
    if abs(abs(apart - round(apart)) - 0.5) < _CLEARLY_HALF:
        return None
    lower = round(apart)
    mean = shared_lines(fitted.fields[0].lines, fitted.fields[1].lines, lower)
    centre = Affine(first.scale, first.offset + (apart - lower) * first.scale / 2)
    one = fit_fields([mean], [centre], methods())
    rows = one.fields[0].seen.rows
    misfit, count = both_fields(fitted.fields[0].lines, fitted.fields[1].lines, lower, rows, one.joint[0][0])
    own = total(fitted.joint[0]) / (lines_used(fitted) * mean.codes.shape[1])
    if misfit / count > _SHARED_WORSE * own:
        return None
    return Explained(separate.source, (separate.parities[0],), one, lower)


def _unexplained(fitted: Fitted) -> float:
    """Return the share of the lines' variance the best method leaves, or the free kernel if that is less."""
    variance = sum(
        float(np.var(p.lines.values("code")[p.seen.rows])) * p.seen.rows.size for p in fitted.fields
    )
    free = sum(
        kernel.misfit / kernel.values * p.seen.rows.size
        for kernel, p in zip(fitted.free("code"), fitted.fields, strict=True)
    )
    cells = fitted.fields[0].lines.codes.shape[1]
    return min(total(fitted.joint[0]) / cells, free) / max(variance, 1e-9)


def _sources(capture: Capture, source: str) -> tuple[list[FieldLines], list[int | None]]:
    """Return each captured field against the frame's lines, or against those of the parity it came from."""
    if source == "frame":
        return list(capture.fields), [None] * len(capture.fields)
    fields: list[FieldLines] = []
    parities: list[int | None] = []
    for data in capture.fields:
        both = [_of_parity(data, parity) for parity in (0, 1)]
        heights = [ridge.height for ridge in ridges(both)]
        parities.append(int(np.argmax(heights)))
        fields.append(both[int(np.argmax(heights))])
    return fields, parities


def _of_parity(data: FieldLines, parity: int) -> FieldLines:
    return replace(data, codes=data.codes[parity::2], coded=data.coded[parity::2])
