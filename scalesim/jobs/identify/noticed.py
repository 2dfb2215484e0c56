"""What a capture shows beside its box's weights: fields of unlike levels, and lines beyond the chart."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from scalesim.signal.kernel.along_line import AlongLine
from scalesim.signal.kernel.field_identity import Prepared
from scalesim.signal.kernel.method_fit import Trial

_LEAST, _ERRORS = 0.01, 6.0
"""Share by which the contrasts of two fields must differ to be told, and standard errors of it."""
_BIAS = 0.3
"""Per cent: one tone is taken for both fields, and what it misses of either is in the contrasts."""
_LINES, _WIDTH = 2, 0.005
"""Lines, and a share of the width, from which on a border is told."""


def unlike_fields(trials: Sequence[Trial], fields: Sequence[Prepared]) -> list[str]:
    """Return a sentence where the fields' contrasts differ, as the answer's fit to each field has them.

    Parameters:  trials, fields : the top field first; nothing is said of one field
    Standard error of a contrast: rms left over / (root of the values' number * their standard deviation)
    """
    if len(trials) != 2:
        return []
    ratio = float(trials[1].gain / trials[0].gain)
    upper, lower = (_error(t, p) for t, p in zip(trials, fields, strict=True))
    error = ratio * float(np.hypot(upper, lower))
    if abs(ratio - 1) < max(_LEAST, _ERRORS * error):
        return []
    more = "more" if ratio > 1 else "less"
    counts = " and ".join(str(p.seen.rows.size) for p in fields)
    return [
        f"the bottom field has {100 * abs(ratio - 1):.1f} % {more} contrast than the top one (± "
        f"{max(100 * error, _BIAS):.1f} %, {counts} lines): the chain does not hold that"
    ]


def _error(trial: Trial, prepared: Prepared) -> float:
    """Return the standard error of a field's contrast as a share of it."""
    values = prepared.lines.values(trial.domain)[prepared.seen.rows]
    left = float(np.sqrt(trial.misfit / values.size))
    return left / (np.sqrt(values.size) * max(float(values.std()), 1e-9))


def beyond_chart(along: AlongLine, fields: Sequence[Prepared]) -> list[str]:
    """Return a sentence where the capture goes on beyond the chart, as with a border of black lines."""
    first = fields[0]
    middles = first.seen.place.scale * (np.arange(first.lines.lines) + 0.5) + first.seen.place.offset
    above, below = int((middles < 0).sum()), int((middles > len(first.lines.codes)).sum())
    parts = [f"{n} lines {where}" for n, where in ((above, "above"), (below, "below")) if n >= _LINES]
    left, right = -along.shift / along.scale, (along.scale + along.shift - 1) / along.scale
    sides = ((left, "at the left"), (right, "at the right"))
    parts += [f"{100 * share:.1f} % of the width {where}" for share, where in sides if share > _WIDTH]
    if not parts:
        return []
    return [
        f"the capture goes on beyond the chart: {', '.join(parts)}. Its {first.lines.lines} lines a field or "
        "picture count those; if a capture program added them as a border, --trim auto takes them off"
    ]
