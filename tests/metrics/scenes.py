"""Constructed scenes whose outlines are known, and what their split and loss must be.

Nothing here uses the package's own builders or finders: the weights of a chain's lines are written
out as closed forms, and the truth is reckoned outline by outline in plain loops from those weights.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from math import ceil
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.affine import Affine
from scalesim.core.geometry import Geometry
from scalesim.core.raster import PROGRESSIVE, TOP_FIRST, Field, Raster, Window
from scalesim.metrics._base import Evidence
from scalesim.metrics.outlines.floor import Floor

Array = NDArray[Any]


@dataclass(frozen=True)
class Outline:
    """Lines first .. first + rows - 1, samples left .. right - 1, `contrast` above its background."""

    first: int
    rows: int
    left: int
    right: int
    contrast: float


@dataclass(frozen=True, eq=False)
class Scene:
    """A source luma and the outlines in it."""

    luma: Array
    outlines: tuple[Outline, ...]


# weights of a chain's lines: (lines out, lines in), step and phase in input lines, edges at integers


def box(lines_in: int, lines_out: int, step: float, phase: float = 0.0) -> Array:
    """Share of the span [r step + phase, (r + 1) step + phase) that each input line covers."""
    low = (np.arange(lines_out) * step + phase)[:, None]
    line = np.arange(lines_in)[None]
    return np.clip(np.minimum(line + 1, low + step) - np.maximum(line, low), 0, None) / step


def triangle(
    lines_in: int, lines_out: int, step: float, phase: float = 0.0, width: float | None = None
) -> Array:
    """1 - |distance| / width from the span's middle, normalised; `width` is the step by default."""
    middle = ((np.arange(lines_out) + 0.5) * step + phase)[:, None]
    weights = np.clip(1 - np.abs(np.arange(lines_in)[None] + 0.5 - middle) / (width or step), 0, None)
    return weights / np.maximum(weights.sum(axis=1, keepdims=True), 1e-12)


def two_tap(lines_in: int, lines_out: int, step: float, phase: float = 0.0) -> Array:
    """Straight line between the two input lines nearest to the span's middle."""
    return triangle(lines_in, lines_out, step, phase, width=1.0)


def drop(lines_in: int, lines_out: int, step: float, phase: float = 0.0) -> Array:
    """The input line that holds the span's first point."""
    weights = np.zeros((lines_out, lines_in))
    chosen = np.floor(np.arange(lines_out) * step + phase + 1e-9).astype(int)
    inside = (chosen >= 0) & (chosen < lines_in)
    weights[np.flatnonzero(inside), chosen[inside]] = 1
    return weights


def box_then_drop(lines_in: int, lines_out: int, step: float, phase: float = 0.0) -> Array:
    """Box to twice the lines, then every other one of them."""
    return box(lines_in, 2 * lines_out, step / 2, phase)[::2]


# scenes


@lru_cache(maxsize=96)
def outline_scene(
    rows: int,
    ratio: float,
    seed: int = 0,
    *,
    residue: int | None = None,
    lines: int = 720,
    samples: int = 640,
    texture: float = 4 / 255,
) -> Scene:
    """Return dark and light outlines `rows` thick on greys with a smooth texture.

    Four columns of them, some ten output lines apart, with a step of the grey in between. With
    `residue` each sits that many lines below a multiple of twice the ratio, so that all are cut
    alike; without, on random lines.
    """
    random = np.random.RandomState(seed)
    luma = np.where(np.arange(samples) < samples // 2, 0.4, 0.55) + texture * smooth_texture(
        lines, samples, seed
    )
    outlines = []
    for column in range(4):
        left, right = column * samples // 4 + 16, (column + 1) * samples // 4 - 16
        place = float(4 * ratio)
        while place < lines - 8 * ratio:
            first = int(place) + random.randint(0, round(2 * ratio))
            if residue is not None:
                first = round(round(place / (2 * ratio)) * 2 * ratio) + residue
            contrast = float(random.choice([-1, 1]) * random.uniform(0.16, 0.26))
            outlines.append(Outline(first, rows, left, right, contrast))
            luma[first : first + rows, left:right] += contrast
            luma[round(first + 5 * ratio) :, left:right] += 0.12 if len(outlines) % 2 else -0.12
            place += 10 * ratio
    return Scene(luma.astype(np.float32), tuple(outlines))


@lru_cache(maxsize=32)
def smooth_texture(lines: int, samples: int, seed: int) -> Array:
    """Return waves in all directions, each at least 40 source lines long, -1..1 at most."""
    random = np.random.RandomState(1000 + seed)
    y, x = np.arange(lines)[:, None], np.arange(samples)[None]
    waves = [
        np.sin(y * random.uniform(-0.15, 0.15) + x * random.uniform(-0.3, 0.3) + random.uniform(0, 6.3))
        for _ in range(5)
    ]
    return np.mean(waves, axis=0)


def pixel_art(seed: int = 0, *, times: int = 3, lines: int = 120, samples: int = 160) -> Array:
    """Return art of blocks with outlines one art line thick, every art line shown `times` times."""
    random = np.random.RandomState(seed)
    art = np.full((lines, samples), 0.5)
    for _ in range(60):
        top, left = random.randint(2, lines - 14), random.randint(0, samples - 30)
        height, width = random.randint(6, 12), random.randint(12, 30)
        art[top : top + height, left : left + width] = random.uniform(0.3, 0.8)
        for edge in (top, top + height - 1):
            art[edge, left : left + width] = random.choice([0.05, 0.95])
    return np.repeat(np.repeat(art, times, axis=0), times, axis=1).astype(np.float32)


# pictures without outlines

PLAIN = {
    "flat": np.full((720, 640), 0.5),
    "noise": np.random.RandomState(0).normal(0.5, 10 / 255, (720, 640)),
    "vertical stripes": np.tile((np.arange(640) // 7 % 2) * 0.5 + 0.2, (720, 1)),
    "gradient": np.tile(np.linspace(0, 1, 720)[:, None], (1, 640)),
    "thick bars": np.tile((np.arange(720)[:, None] // 60 % 2) * 0.8, (1, 640)),
}


# evidence


def look_of(weights: Array, step: float) -> Affine:
    """Return where the output lines look: step, and the mean offset of their weights' centroids.

    Output line r is centred at r + 1/2, so a centred box of phase p gives offset p; a drop, which
    shows one line of each span, gives that line's middle.
    """
    inner = weights[8:-8]
    centroids = inner @ (np.arange(weights.shape[1]) + 0.5) / inner.sum(axis=1)
    return Affine(step, float(np.mean(centroids - (np.arange(8, len(weights) - 8) + 0.5) * step)))


def noisy(luma: Array, sigma: float, seed: int = 0) -> Array:
    """Return the luma with Gaussian noise of `sigma` code values of 255."""
    return luma + np.random.RandomState(seed).normal(0, sigma / 255, luma.shape)


def evidence(
    source: Array,
    landed: Array,
    *,
    look: Affine | None = None,
    coverage: Array | None = None,
    floor: Floor | None = None,
    fields: tuple[Field, ...] = PROGRESSIVE,
    visible: Window | None = None,
) -> Evidence:
    """Return the evidence of two grey pictures; without `look` the one fills the other's raster."""
    lines, samples = landed.shape
    look = look or Affine(source.shape[0] / lines)
    source_raster = Raster(*source.shape)
    interlaced = fields == TOP_FIRST
    raster = Raster(lines // 2 if interlaced else lines, samples, fields=fields, visible=visible or Window())
    phases = tuple(look.after(raster.picture_of_landed(k).inverse()) for k in range(raster.period))
    geometry = Geometry(
        phases,
        Affine(source.shape[1] / samples),
        phases,
        (0.0, float(source.shape[0])),
        (0.0, float(source.shape[1])),
    )
    pictures = tuple(grey(landed[k::2]) for k in range(2)) if interlaced else (grey(landed),)
    return Evidence(
        grey(source), source_raster, pictures, grey(landed), raster, geometry, coverage, floor=floor
    )


def grey(luma: Array) -> Array:
    """Return (lines, samples, 3) float32."""
    return np.repeat(np.asarray(luma, dtype=np.float32)[:, :, None], 3, axis=2)


# truth


def moved(kernel: Callable[..., Array], ratio: float, lines_in: int = 720) -> tuple[Array, ...]:
    """Return a kernel's weights moved by eighths of an input line, 0 to 7/8."""
    return tuple(kernel(lines_in, round(lines_in / ratio), ratio, k / 8) for k in range(8))


@lru_cache(maxsize=64)
def true_floor(kernel: Callable[..., Array], ratio: float, rows: int) -> float:
    """Return P*: the largest share on N lines of an outline, a kernel moved by eighths of a line."""
    needed, best = lines_needed(rows / ratio), 0.0
    for weights in moved(kernel, ratio):
        for first in range(300, 300 + ceil(8 * ratio)):
            shares = weights[:, first : first + rows].sum(axis=1)
            if shares.sum() > 0.15:
                best = max(best, float(np.convolve(shares, np.ones(needed), "valid").max() / shares.sum()))
    return best


def lines_needed(thickness: float) -> int:
    """Return N = ceil(tau - 0.1), at least 1."""
    return max(1, ceil(thickness - 0.1))


def true_doubling(scene: Scene, weights: Array, ratio: float, floor: float) -> float:
    """Return the mean split by contrast x length, from each outline's weights alone.

    S = 2 tau' (P* - P) / (tau' - N + 1) with tau the outline's rows over the ratio, N = ceil(tau - 0.1),
    tau' = min(tau, N), P the largest share on N adjacent lines, P* the floor. Outlines that left nothing
    are not counted.
    """
    total = weight = 0.0
    for outline in scene.outlines:
        shares = weights[:, outline.first : outline.first + outline.rows].sum(axis=1)
        if shares.sum() > 1e-6:
            amount = abs(outline.contrast) * (outline.right - outline.left)
            total += amount * true_split(shares, outline.rows / ratio, floor)
            weight += amount
    return total / weight


def true_split(shares: Array, thickness: float, floor: float) -> float:
    """Return S of one outline from its exact shares."""
    needed = lines_needed(thickness)
    fits = min(thickness, needed)
    most = float(np.convolve(shares, np.ones(needed), "valid").max() / shares.sum())
    return min(1.0, max(0.0, 2 * fits * (floor - most) / (fits - needed + 1)))


def true_lost(scene: Scene, weights: Array, limit: float = 1e-6) -> float:
    """Return the share of outlines, by contrast x length, with no line above `limit` of the contrast."""
    lost = whole = 0.0
    for outline in scene.outlines:
        shares = weights[:, outline.first : outline.first + outline.rows].sum(axis=1)
        amount = abs(outline.contrast) * (outline.right - outline.left)
        whole += amount
        lost += amount if shares.max() <= limit else 0.0
    return lost / whole


def errors(
    measure: Callable[[Evidence], float],
    kernel: Callable[..., Array],
    rows: int,
    ratio: float,
    *,
    known: bool = False,
) -> Array:
    """Return measured minus true splits of scenes cut at five places, with noise 2 of 255 and texture."""
    found = []
    for k in range(5):
        random = np.random.RandomState(100 + k)
        scene = outline_scene(rows, ratio, k, residue=random.randint(0, int(2 * ratio)))
        phase = 0.0 if kernel is drop else random.uniform(-ratio / 2, ratio / 2)
        weights = kernel(720, round(720 / ratio), ratio, phase)
        if not any(weights[:, o.first : o.first + rows].sum() > 0.05 for o in scene.outlines):
            continue  # a drop took every outline: nothing left to be split
        if not known and kernel is triangle and _like_a_box(scene, weights, ratio, phase):
            continue  # outlines that are all cut so: no picture can tell which kernel did it
        landed = noisy(weights.astype(np.float32) @ scene.luma, 2, k)
        coverage = weights if known else None
        floor = Floor(moved(kernel, ratio)) if known else None
        given = evidence(scene.luma, landed, look=look_of(weights, ratio), coverage=coverage, floor=floor)
        found.append(measure(given) - true_doubling(scene, weights, ratio, true_floor(kernel, ratio, rows)))
    return np.array(found)


def _like_a_box(scene: Scene, weights: Array, ratio: float, phase: float) -> bool:
    """Return whether an average would have made nearly the same picture: within half a code value."""
    apart = (weights - box(720, len(weights), ratio, phase)) @ scene.luma
    return rms(apart[8:-8]) < 0.5 / 255


def rms(values: Array) -> float:
    """Return the root mean square."""
    return float(np.sqrt(np.mean(values**2)))
