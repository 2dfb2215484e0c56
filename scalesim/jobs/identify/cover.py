"""The figure that opens the page: what was captured, what the answer makes of the chart, and what is left."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.core.codes import to_codes
from scalesim.figure import Figure, Mark, View, Window
from scalesim.jobs.identify.check import IdentifyCheck
from scalesim.jobs.identify.findings import Findings
from scalesim.jobs.identify.plain import headline, sure

_SHAPE = 4 / 3
"""Width over height of the screen that the picture is for."""
_LINES, _SAMPLES = 50, 67
"""Lines of the part, and its width in heights of a line: six dots to a line, three views in a row."""
_FOOT = "The chart through the identified box and its capture path."


def cover_of(found: Findings, check: IdentifyCheck) -> Figure:
    """Return captured, predicted and their difference, where that is largest; marked where it stands out."""
    lines, samples = check.captured.shape
    shape = _SHAPE * lines / samples
    pictures = {name: to_codes(values) for name, values in check.pictures.items()}
    marks = tuple(
        Mark((top * lines, (top + 1 / 6) * lines), (left * samples, (left + 1 / 8) * samples))
        for top, left, _ in check.stands_out
    )
    views = (
        View("captured", pictures["captured"], said=f"{samples}x{lines}", line_word="line", marks=marks),
        View("predicted", pictures["predicted"], said="by this answer", line_word="line"),
        View(
            "captured less predicted",
            pictures["residual"],
            said=f"colours end at \u00b1{check.limit} codes of 255",
            line_word="line",
            marks=marks,
        ),
    )
    caption = (
        "The chart as it was captured (a), as this answer predicts it (b), and what is left (c), where it is "
        f"largest. Over the whole picture they differ by {check.rms_codes:.1f} codes of 255 (rms of "
        f"{lines * samples} samples); {sure(found)}."
    )
    if marks:
        caption += f" The corners mark {'a part' if len(marks) == 1 else 'parts'} where they disagree most."
    window = _worst(check.apart, (min(_LINES, lines), min(_SAMPLES / shape, samples)))
    return Figure(
        "figures/figure", headline(found), caption, views, window, shape, pictures["captured"], _FOOT
    )


def _worst(apart: NDArray, size: tuple[float, float]) -> Window:
    """Return the window of a size in which the difference is largest, the first of equals."""
    tall, wide = (max(1, int(each)) for each in size)
    sums = np.zeros((apart.shape[0] + 1, apart.shape[1] + 1))
    sums[1:, 1:] = np.cumsum(np.cumsum(apart.astype(np.float64) ** 2, axis=0), axis=1)
    windows = sums[tall:, wide:] - sums[:-tall, wide:] - sums[tall:, :-wide] + sums[:-tall, :-wide]
    top, left = np.unravel_index(int(np.argmax(np.round(windows, 3))), windows.shape)
    return float(top), float(left), float(size[0]), float(size[1])
