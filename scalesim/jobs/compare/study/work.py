"""One task of a study: some frames through the chains, measured; plain data in and out, sent anywhere."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Any

from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.chain.resolve import Resolved
from scalesim.core.clip import Clip
from scalesim.errors import ScalesimError
from scalesim.jobs.compare.measured import in_order, measured_on
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
    """

    chains: tuple[Chain, ...]
    displays: tuple[Display, ...]
    names: tuple[str, ...]
    reference: str | NDArray
    threads: int = 1

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
    rows: list[Measured] = []
    lost: list[NotDone] = []
    met: list[dict[Any, Resolved]] = [{} for _ in work.asked.chains]
    for number, found in work.part.stills():
        if isinstance(found, ScalesimError):
            lost.append(NotDone(work.source, number, FRAME_ITSELF, str(found)))
            continue
        found.found["looks woven"] = False  # told of the frames that are shown
        own, failed = _measured(work, number, found, met)
        rows += own
        lost += failed
    return Done(tuple(rows), tuple(lost), work.source, work.frames)


def _measured(
    work: Work, number: int, clip: Clip, met: Sequence[dict[Any, Resolved]]
) -> tuple[list[Measured], list[NotDone]]:
    asked = work.asked
    chains = list(dict.fromkeys(map(asked.chain_of, work.contestants)))

    def one(chain: int) -> Prediction | ScalesimError:
        return measured_on(clip, asked.chains[chain], asked.names, asked.reference, met[chain])

    found: dict[int, Prediction | ScalesimError] = {}
    if asked.threads == 1:
        found = {chain: one(chain) for chain in chains}
    else:
        with ThreadPoolExecutor(asked.threads) as pool:
            found = {chain: had() for chain, had in in_order(one, chains, pool)}
    rows, lost = [], []
    for contestant in work.contestants:
        outcome = found[asked.chain_of(contestant)]
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
