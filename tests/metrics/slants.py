"""Pictures of slanted edges and circles rendered from their equations, and of steps at known places."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[Any]
LOW, HIGH = 0.2, 0.8


def colour(luma: Array) -> Array:
    """Return (lines, samples, 3) float32 of a grey picture."""
    return np.repeat(np.asarray(luma, dtype=np.float32)[:, :, None], 3, axis=2)


def slanted(slope: float, lines: int = 720, samples: int = 1280, *, antialias: bool = True) -> Array:
    """Return one edge of `slope` lines per sample through the centre, lighter below.

    With antialiasing each value is the share of the line below the edge at the sample's middle; without, the
    line is light when its centre is.
    """
    course = lines / 2 + slope * (np.arange(samples) + 0.5 - samples / 2)
    below = np.arange(lines)[:, None] + 0.5 - course
    share = np.clip(below + 0.5, 0, 1) if antialias else (below > 0).astype(float)
    return colour(LOW + (HIGH - LOW) * share)


def lines_scene(seed: int = 0, *, antialias: bool = False) -> Array:
    """Return six panels, 200 samples wide, each with one straight edge of slope 0.03..1 either way."""
    random = np.random.RandomState(seed)
    parts = []
    for _ in range(6):
        slope = float(random.choice([-1, 1]) * 10 ** random.uniform(np.log10(0.032), -0.02))
        part = slanted(slope, samples=200, antialias=antialias)
        parts.append(np.roll(part, int(random.randint(-90, 90)), axis=0))
    return np.concatenate(parts, axis=1)


def circles_scene() -> Array:
    """Return light discs of radius 60, 150 and 240 source lines on a dark ground, without antialiasing."""
    y, x = np.arange(720)[:, None] + 0.5, np.arange(1280)[None] + 0.5
    inside = np.zeros((720, 1280), dtype=bool)
    for across, down, radius in ((200, 200, 60), (600, 300, 240), (1050, 360, 150), (300, 560, 90)):
        inside |= (x - across) ** 2 + (y - down) ** 2 < radius**2
    return colour(np.where(inside, HIGH, LOW))


def steps(size: int = 720, across: int = 480, *, vertical: bool = False, seed: int = 0) -> Array:
    """Return a picture that steps between two levels every 45 to 60 lines (or samples)."""
    edges = np.cumsum(np.random.RandomState(seed).randint(45, 61, size // 45))
    edges = edges[edges < size - 30]
    profile = np.where(np.searchsorted(edges, np.arange(size), side="right") % 2, HIGH, LOW)
    return colour(np.tile(profile, (across, 1)) if vertical else np.repeat(profile[:, None], across, axis=1))
