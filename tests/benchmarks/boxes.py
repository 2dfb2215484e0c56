"""Black boxes with a known inside: random vertical scalers built from general libraries, and their truth.

A `Box` brings a still picture of a mode to one output frame (woven when it carries fields), and knows its
operator per field by probing the same library calls (`box_steps`). `random_box` draws from the kinds a
scaler's maker would use; `foreign_box` from kernels nobody would put in a dictionary (`box_kinds`).
Library conventions (which line a "nearest" takes, where a window begins) need no care: they are probed.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import box_steps as use
import cv2
import numpy as np
from box_kinds import DRAWS, ROUND, Geometry, random_geometry
from box_steps import Array, Matrix, Step, probed

GAMMA = 2.4


@dataclass(frozen=True, eq=False)
class Box:
    """One black box and what is true of it.

    `stages` are the names of what it does, in this project's words where it has them; `known` tells
    whether they are kinds a dictionary of named methods should hold (None: it may or may not).
    `relation` is that of the two fields ("same", "half-line"), or "progressive" for frames without fields.
    `bits8` boxes round to 8 bits after every step; the others keep what they have until the end.
    `clamped` boxes hold a non-linear filter, of which the truth is the linear part.
    """

    kind: str
    geometry: Geometry
    steps: tuple[Step, ...]
    stages: tuple[str, ...]
    relation: str
    light: bool
    bits8: bool
    known: bool | None

    @property
    def mode(self) -> str:
        """The source's mode."""
        return self.geometry.mode

    @property
    def method(self) -> str:
        """The stages joined, or "foreign"."""
        return "foreign" if self.known is False else "+".join(self.stages)

    @property
    def clamped(self) -> bool:
        """Whether a step is not linear."""
        return any("complex" in step.name for step in self.steps)

    @property
    def encoding(self) -> str:
        """ "code" or "light", and "undecidable" where next to nothing is mixed."""
        mixed = 1.0 - np.abs(self.truth[0]).max(axis=1)[self.inner(0)]
        if mixed.mean() < 0.05:
            return "undecidable"
        return "light" if self.light else "code"

    @cached_property
    def truth(self) -> tuple[Matrix, ...]:
        """Operators (lines out, lines in) of the top and the bottom field, or of the progressive frame."""
        whole = np.eye(self.geometry.lines_in)
        for step in self.steps:
            whole = probed(step, whole.shape[0]) @ whole
        return (whole,) if self.relation == "progressive" else (whole[0::2], whole[1::2])

    @property
    def straight(self) -> bool:
        """Whether a woven frame holds source lines one after the other, as a progressive picture does."""
        if self.relation != "half-line":
            return False
        lines = [np.argmax(part[self.inner(k)], axis=1) for k, part in enumerate(self.truth)]
        chosen = all(
            np.abs(part[self.inner(k)]).max(axis=1).min() > 0.99 for k, part in enumerate(self.truth)
        )
        return chosen and all(bool(np.all(np.diff(own) == 2)) for own in lines)

    def inner(self, field: int, border: int = 4) -> Array:
        """Return which lines of a field are picture and do not see the source's border lines."""
        weights = np.abs(self.truth[field]) > 1e-3
        touched = weights[:, :border].any(axis=1) | weights[:, -border:].any(axis=1)
        edge = np.arange(len(weights))
        inside = (edge >= border) & (edge < len(weights) - border)
        return np.asarray(weights.any(axis=1) & ~touched & inside)

    def apply(self, picture: np.ndarray) -> Array:
        """Return the output frame (lines, samples, 3) float32 of a still picture of any usual type."""
        if picture.dtype != np.float32:
            picture = picture.astype(np.float32) / np.iinfo(picture.dtype).max
        planes = [picture[..., 0]]
        if not np.array_equal(picture[..., 0], picture[..., 1]):
            planes = [picture[..., c] for c in range(3)]
        done = [self._plane(np.ascontiguousarray(plane)) for plane in planes]
        return np.stack(done * (3 // len(done)), axis=2)

    def _plane(self, plane: Array) -> Array:
        work = cv2.pow(plane, GAMMA) if self.light else plane
        for step in self.steps:
            work = step.run(np.ascontiguousarray(work))
            if self.bits8 and not self.light:
                work = np.floor(255 * np.clip(work, 0, 1) + np.float32(0.5)) / np.float32(255)
        work = np.clip(work, 0, 1)
        return cv2.pow(work, 1 / GAMMA) if self.light else work


def random_box(seed: int, kind: str | None = None, light: bool | None = None) -> Box:
    """Return the box of a seed: its kind from the round unless given, in light for one in four."""
    rng = np.random.RandomState(seed)
    kind = kind or ROUND[seed % len(ROUND)]
    draw, modes = DRAWS[kind]
    place = random_geometry(rng, modes)
    steps, stages, relation, known = draw(place, rng)
    fields = 1 if relation == "progressive" else 2
    if any(place.bars):
        steps = [*steps, use.black_bars(fields * place.bars[0], fields * place.bars[1])]
    by_light = bool(rng.uniform() < 0.25) if light is None else light
    by_light = by_light and not any("FFmpeg" in step.name for step in steps)
    return Box(kind, place, tuple(steps), stages, relation, by_light, bool(rng.uniform() < 0.5), known)


def foreign_box(seed: int) -> Box:
    """Return a box whose kernel no dictionary of usual methods holds."""
    return random_box(seed, "foreign")
