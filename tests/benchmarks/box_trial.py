"""One trial: the kernel chart through a box and a capture, identified, judged."""

from __future__ import annotations

import time
from functools import cache

import numpy as np
from box_judge import Found, Verdict, judge
from box_steps import Matrix
from boxes import Box
from capture_paths import PATHS, capture

from scalesim.chain import Chain
from scalesim.charts.kernel import kernel_chart
from scalesim.core.mode import MODES
from scalesim.core.raster import Raster
from scalesim.errors import ScalesimError
from scalesim.jobs.identify.identify import Identification, identify


@cache
def played(mode: str) -> np.ndarray:
    """The chart as its 8-bit file holds it."""
    return np.floor(255 * np.clip(kernel_chart(mode).frame, 0, 1) + 0.5).astype(np.uint8)


def tried(box: Box, path: str, seed: int) -> Verdict:
    """Identify a box from a capture of the chart and judge the answer; a refusal counts as "unknown".

    Seconds are of the processor, so that other work on the machine does not count.
    """
    taken = capture(box.apply(played(box.mode)), path, seed, fields=box.relation != "progressive")
    begin = time.process_time()
    try:
        answer = found(identify(taken.frames, box.mode))
    except ScalesimError as refusal:
        answer = Found(None, None, (str(refusal),), True, "unknown", "undecidable", 0.0)
    swapped = PATHS[path].oddity == "swapped"
    return judge(box, taken, answer, seed, time.process_time() - begin, swapped=swapped)


def found(result: Identification) -> Found:
    """Return a result's answer in the judge's form; a name is taken at its word, by running its chain.

    Kernels may be named where no chain of ours has the box (each field scaled from the whole frame by
    itself): then the operator the result gives for that name stands for it.
    """
    operators = [np.asarray(rows, float) for rows in result.rows]
    measured = result.chain.startswith("measured")
    return Found(
        operators,
        operators if measured else by_chain(result.chain, result.mode, len(operators)),
        result.methods,
        not result.methods,
        result.field_relation,
        result.encoding,
        result.confidence,
    )


def by_chain(text: str, mode: str, fields: int) -> list[Matrix]:
    """Return the operators per field of a chain on a mode's raster: what `predict` would do with it.

    A progressive picture may be captured as two equal fields.
    """
    phases = Chain(text).operator(Raster(MODES[mode].lines, 4)).phases
    found = [phase.lines.toarray() for phase in phases if phase.lines is not None]
    return found * fields if len(found) == 1 else found
