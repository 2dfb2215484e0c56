"""One task of a study: some frames through the chains, measured; plain data in and out, sent anywhere."""

from __future__ import annotations

import gc
import sys
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Any

from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.chain.resolve import Resolved
from scalesim.core.clip import Clip
from scalesim.core.compiled import wanted
from scalesim.errors import ScalesimError
from scalesim.jobs.compare.measured import measured_on
from scalesim.jobs.compare.rows import texts_of
from scalesim.jobs.predict.prediction import Prediction
from scalesim.metrics import measure
from scalesim.rows.layout import FRAME_ITSELF
from scalesim.rows.rows import Measured, NotDone
from scalesim.sampled import Part
from scalesim.tube.cut import shown_window
from scalesim.tube.display import Display
from scalesim.version import __version__

OF_DISPLAYS = ("cropped_percent",)
"""What a display changes of the metrics, which are of the lines: how much its overscan hides."""


@dataclass(frozen=True)
class Asked:
    """What is measured on every frame.

    Parameters:
        chains : in their order; displays : tubes besides none; names : of metrics; reference : see `compare`
        threads : chains of a frame that are measured at once
        many : whether there are so many frames that compiling loops for them is worth its time
    """

    chains: tuple[Chain, ...]
    displays: tuple[Display, ...]
    names: tuple[str, ...]
    reference: str | NDArray
    threads: int = 1
    many: bool = False

    def chain_of(self, contestant: int) -> int:
        """Return the number of a contestant's chain: contestants are chains by displays."""
        return contestant // (1 + len(self.displays))

    def display_of(self, contestant: int) -> Display | None:
        """Return a contestant's tube, None for the lines alone."""
        own = contestant % (1 + len(self.displays))
        return self.displays[own - 1] if own else None


@dataclass(frozen=True)
class Work:
    """Frames of one source, and the contestants that are measured on them, by their numbers."""

    source: int
    part: Part
    contestants: tuple[int, ...]
    asked: Asked
    frames: int


@dataclass(frozen=True)
class Done:
    """What a task gave; `version` is of the program that did it."""

    measured: tuple[Measured, ...]
    not_done: tuple[NotDone, ...]
    source: int
    frames: int
    version: str = __version__


def do(work: Work) -> Done:
    """Return the rows of a task; what cannot be done is told in their place."""
    found = list(each(work))
    rows = tuple(row for done in found for row in done.measured)
    lost = tuple(one for done in found for one in done.not_done)
    return Done(rows, lost, work.source, work.frames)


def each(work: Work) -> Iterator[Done]:
    """Yield the rows of a task frame by frame."""
    met: list[dict[Any, Resolved]] = [{} for _ in work.asked.chains]
    with wanted(work.asked.many), _given_back():
        for number, found in work.part.stills():
            if isinstance(found, ScalesimError):
                lost = NotDone(work.source, number, FRAME_ITSELF, str(found))
                yield Done((), (lost,), work.source, 1)
                continue
            found.found["looks woven"] = False  # told of the frames that are shown
            yield _measured(work, number, found, met)


@contextmanager
def _given_back() -> Iterator[None]:
    """Let go of frames that hold each other (Python does not see a decoder's memory), and of free memory.

    What was there before is not looked through: there is much of it, and none of it is a frame.
    """
    alone = gc.get_freeze_count() == 0
    if alone:
        gc.freeze()
    try:
        yield
        gc.collect()
    finally:
        if alone:
            gc.unfreeze()
    if sys.platform == "linux":
        import ctypes

        trim = getattr(ctypes.CDLL(None), "malloc_trim", None)
        if trim is not None:
            trim(0)


def _measured(work: Work, number: int, clip: Clip, met: Sequence[dict[Any, Resolved]]) -> Done:
    """Return the rows of a frame; what a chain makes of it is let go before the next but one."""
    asked = work.asked
    chains = list(dict.fromkeys(map(asked.chain_of, work.contestants)))

    def one(chain: int) -> tuple[list[Measured], list[NotDone]]:
        outcome = measured_on(clip, asked.chains[chain], asked.names, asked.reference, met[chain])
        return _rows(work, number, chain, outcome)

    found = [one(chains[0])]  # the first alone, as it finds what all share
    if asked.threads == 1 or len(chains) == 1:
        found += map(one, chains[1:])
    else:
        with ThreadPoolExecutor(asked.threads) as pool:
            found += pool.map(one, chains[1:])
    rows = tuple(row for own, _ in found for row in own)
    return Done(rows, tuple(lost for _, own in found for lost in own), work.source, 1)


def _rows(
    work: Work, number: int, chain: int, outcome: Prediction | ScalesimError
) -> tuple[list[Measured], list[NotDone]]:
    """Return the rows of a chain, on no display and on each."""
    asked, rows, lost = work.asked, [], []
    for contestant in work.contestants:
        if asked.chain_of(contestant) != chain:
            continue
        if isinstance(outcome, ScalesimError):
            lost.append(NotDone(work.source, number, contestant, str(outcome)))
            continue
        values, why = _on_display(outcome, asked.display_of(contestant), asked.names)
        beside = (outcome.n, outcome.how, why)
        rows.append(Measured(work.source, number, contestant, texts_of(outcome), values, beside))
    return rows, lost


def _on_display(
    outcome: Prediction, display: Display | None, names: Sequence[str]
) -> tuple[Mapping[str, float | None], Mapping[str, str]]:
    """Return the values and the reasons for none, on a tube or on none."""
    own = [name for name in OF_DISPLAYS if name in names]
    if display is None or not own:
        return outcome.metrics, outcome.why
    evidence = replace(outcome.evidence(), shown=shown_window(outcome.raster, display))
    values, why = measure(evidence, own)
    return {**outcome.metrics, **values}, {**outcome.why, **why}
