"""Trying settings on frames: the quick way where it is exact, else the whole prediction.

A *trial* is one candidate on every frame: the metrics, or the reason there are none.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from functools import partial
from typing import Any, TypeVar

from scalesim.chain import Chain
from scalesim.chain.keys import with_stage_keys
from scalesim.chain.resolve import Lands
from scalesim.core.clip import Clip
from scalesim.core.geometry import Geometry
from scalesim.core.raster import Raster
from scalesim.errors import EncodingError, ScalesimError
from scalesim.jobs.frames import FrameSource
from scalesim.jobs.predict.outcome import Outcome
from scalesim.jobs.predict.predict import predict
from scalesim.jobs.settings.carry import Carrier, carriers_of, carry
from scalesim.jobs.settings.compose import Composer, is_linear
from scalesim.jobs.settings.strips import (
    QUICK,
    Strips,
    geometry_evidence,
    measure_strips,
    whole_frame,
)
from scalesim.metrics import key_of, measure
from scalesim.stages import Stage

_AT_ONCE = 64
"""Candidates predicted before what was found out about the source is let go."""

_KEPT_BYTES = 512_000_000
"""Frames up to this much altogether stay in memory while samples vary; beyond, they are read again."""

_MOST_THREADS = 8

_LONG_TRIAL = 0.006
"""Seconds a frame from which threads are worth it: NumPy works on long arrays without the interpreter. Two
threads took 1.2 to 2 times as long as one at 2 ms a frame, 0.75 at 8 ms."""

T = TypeVar("T")
R = TypeVar("R")


@dataclass(frozen=True)
class Trial:
    """One candidate on every frame.

    Parameters:
        values : per frame, metric key -> value or None
        why : per frame, metric key -> reason for None
        cropped : percent of the picture hidden or pushed out, None when the chain does not fit
        error : why the candidate cannot be had at all, "" when it can
    """

    values: tuple[Mapping[str, float | None], ...]
    why: tuple[Mapping[str, str], ...]
    cropped: float | None = None
    error: str = ""


class NotQuick(Exception):
    """The quick way would not be exact; its text says why."""


def in_threads(call: Callable[[T], R], items: Sequence[T]) -> list[R]:
    """Return what `call` makes of every item, in order, one thread per processor (at most 8)."""
    workers = min(os.cpu_count() or 1, _MOST_THREADS, len(items))
    if workers <= 1:
        return [call(item) for item in items]
    with ThreadPoolExecutor(workers) as pool:
        return list(pool.map(call, items))


@dataclass(eq=False)
class Trials:
    """Runs candidates of one chain over frames.

    Parameters:
        stages : of the chain; keys : the addresses that vary
        frames : read one at a time
        names : the metrics
        reference : what fidelity metrics compare with
        advance : called with what is worked on; lands : see `Chain`
    """

    stages: tuple[Stage, ...]
    keys: tuple[str, ...]
    frames: Sequence[FrameSource]
    names: tuple[str, ...]
    reference: Any = "ideal"
    advance: Callable[[str], None] = lambda _: None
    lands: Lands | None = None
    failed: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._carriers: dict[Raster, tuple[Carrier, ...]] = {}
        self.slow_because = self._whole_pictures_needed()
        self._strips: list[Strips] | None = None
        self._composers: dict[Raster, Composer] = {}
        self.rasters: list[Raster] = []
        self._drop_unreadable()

    @property
    def how(self) -> str:
        """ "fast" when only strips were looked at, else "full"."""
        return "full" if self.slow_because else "fast"

    def run(self, candidates: Sequence[Mapping[str, Any]]) -> list[Trial]:
        """Return the trial of every candidate, in order."""
        if not self.slow_because:
            try:
                return self._quick(candidates)
            except NotQuick as reason:
                self.slow_because = str(reason)
        return self._whole(candidates)

    def carriers(self, raster: Raster) -> tuple[Carrier, ...]:
        """Return which scalers take fractions of the positions that vary, on frames of a raster."""
        if raster not in self._carriers:
            self._carriers[raster] = carriers_of(self.stages, self.keys, raster)
        return self._carriers[raster]

    def as_set(self, candidate: Mapping[str, Any], raster: Raster) -> dict[str, Any]:
        """Return a candidate's keys as they are tried: fractions of a line in the scaler's phase."""
        return carry(self.stages, candidate, self.carriers(raster))

    # which way

    def _whole_pictures_needed(self) -> str:
        for name in self.names:
            if key_of(name).needs not in QUICK:
                return f"{name} looks at whole pictures"
        for stage in self.stages:
            if not is_linear([stage]):
                return f"{stage.kind} is no matrix on lines and samples"
        return ""

    def _drop_unreadable(self) -> None:
        """Read every frame once; keep its strips when the quick way is open, its raster in any case."""
        readable, strips = [], []
        kept_bytes = 0
        for frame in self.frames:
            self.advance(f"reading {frame.name}")
            try:
                clip = frame.load()
                size = whole_frame(clip).nbytes
            except ScalesimError as error:
                self.failed[frame.name] = str(error)
                continue
            readable.append(frame)
            self.rasters.append(clip.raster)
            if not self.slow_because:
                kept_bytes += size
                strips.append(Strips(clip, frame.load, keep=kept_bytes <= _KEPT_BYTES))
        self.frames, self._strips = readable, strips

    # the two ways

    def _quick(self, candidates: Sequence[Mapping[str, Any]]) -> list[Trial]:
        """Try two settings, then the rest: threads only wait for each other where trials are short."""
        self.advance(f"{len(candidates)} settings")
        first = [self._quick_trial(candidate) for candidate in candidates[:1]]  # finds out about the frames
        begun = time.perf_counter()
        first += [self._quick_trial(candidate) for candidate in candidates[1:2]]
        long = time.perf_counter() - begun > _LONG_TRIAL * len(self.frames)
        rest = candidates[2:]
        if long:
            return first + in_threads(self._quick_trial, rest)
        return first + [self._quick_trial(candidate) for candidate in rest]

    def _quick_trial(self, candidate: Mapping[str, Any]) -> Trial:
        try:
            made = with_stage_keys(self.stages, candidate)
            if not is_linear(made):
                raise NotQuick("a setting joins pictures of two times")
            chains = {
                raster: self._composer(raster).compose(self.as_set(candidate, raster))
                for raster in dict.fromkeys(self.rasters)
            }
        except EncodingError:
            raise NotQuick("one stage mixes code values and another light") from None
        except ScalesimError as error:
            return Trial((), (), error=str(error))
        if any(chain.mixes_light for chain in chains.values()):
            raise NotQuick("light is mixed, which strips cannot show exactly")
        assert self._strips is not None
        found = [measure_strips(strips, chains[strips.raster], self.names) for strips in self._strips]
        first = chains[self.rasters[0]]
        cropped = _cropped_percent(first.source, first.output, first.geometry)
        return Trial(tuple(f[0] for f in found), tuple(f[1] for f in found), cropped)

    def _composer(self, raster: Raster) -> Composer:
        if raster not in self._composers:
            phases = (carrier.phase for carrier in self.carriers(raster))
            keys = tuple(dict.fromkeys([*self.keys, *phases]))
            self._composers[raster] = Composer(self.stages, keys, raster, self.lands)
        return self._composers[raster]

    def _whole(self, candidates: Sequence[Mapping[str, Any]]) -> list[Trial]:
        """Predict frame by frame, so that one frame is in memory at a time."""
        by_frame: list[list[_Predicted]] = []
        for frame in self.frames:
            clip = frame.load()
            rows: list[_Predicted] = []
            for begin in range(0, len(candidates), _AT_ONCE):
                self.advance(
                    f"{frame.name}: settings {begin + 1} to {min(begin + _AT_ONCE, len(candidates))}"
                )
                fresh = clip.afresh()  # what is found out about the source goes with the copy
                now = candidates[begin : begin + _AT_ONCE]
                rows += in_threads(partial(self._predicted, fresh), now)
            by_frame.append(rows)
        return [_joined(rows) for rows in zip(*by_frame, strict=True)]

    def _predicted(self, clip: Clip, candidate: Mapping[str, Any]) -> _Predicted:
        try:
            made = with_stage_keys(self.stages, self.as_set(candidate, clip.raster))
            chain = Chain(*made, lands=self.lands)
            found = predict(clip, chain, metrics=self.names, reference=self.reference)
        except ScalesimError as error:
            return _Predicted(error=str(error))
        return _Predicted(dict(found.metrics), dict(found.why), _cropped(found))


@dataclass(frozen=True)
class _Predicted:
    """One frame through one setting: metrics, reasons, what is cut off, or why it cannot be done."""

    metrics: dict[str, float | None] = field(default_factory=dict)
    why: dict[str, str] = field(default_factory=dict)
    cropped: float | None = None
    error: str = ""


def _joined(rows: Sequence[_Predicted]) -> Trial:
    error = next((row.error for row in rows if row.error), "")
    if error:
        return Trial((), (), error=error)
    return Trial(tuple(row.metrics for row in rows), tuple(row.why for row in rows), rows[0].cropped)


def _cropped(outcome: Outcome) -> float | None:
    return _cropped_percent(outcome.source.raster, outcome.raster, outcome.geometry)


def _cropped_percent(source: Raster, output: Raster, geometry: Geometry) -> float | None:
    return measure(geometry_evidence(source, output, geometry), ["cropped_percent"])[0]["cropped_percent"]
