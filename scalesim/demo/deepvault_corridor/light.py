"""The light of `deepvault_corridor`: lamps, highlights, the wet floor's mirror, fog.

Light is summed as light, in three planes (3, lines, samples); `render` turns it into code values at the end.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.demo.deepvault_corridor.cast import (
    BAY,
    DOOR,
    FLOOR,
    FOCUS,
    HIGH,
    LAMPS,
    MIDDLE,
    NORMALS,
    OUTER,
    RIB,
    TEAL,
    Hits,
    cast,
)
from scalesim.demo.deepvault_corridor.surfaces import look, within
from scalesim.draw.shapes import Plane
from scalesim.draw.texture import cloudy


def render(lines: int, samples: int, *, strip: int = 15) -> Plane:
    """Return the corridor as float32 (lines, samples, 3) code values; strips of lines keep memory small."""
    out = np.empty((lines, samples, 3), np.float32)
    depth = np.empty((lines, samples), np.float32)
    for top in range(0, lines, strip):
        rows = np.arange(top, min(top + strip, lines), dtype=np.float32)[:, None] + np.float32(0.5)
        cols = np.arange(samples, dtype=np.float32)[None] + np.float32(0.5)
        dx = (cols - np.float32(MIDDLE[0])) / np.float32(FOCUS) + 0 * rows
        dy = (np.float32(MIDDLE[1]) - rows) / np.float32(FOCUS) + 0 * cols
        hits = cast(dx, dy)
        out[top : top + len(rows)] = np.moveaxis(_develop(_shade(hits)), 0, 2)
        depth[top : top + len(rows)] = hits.z
    _smooth_edges(out, depth)
    return out


def _smooth_edges(values: Plane, depth: Plane) -> None:
    """Average 3 x 3 samples (1 2 1 by 1 2 1) where the depth jumps: one ray a sample leaves steps there."""
    edge = np.zeros(depth.shape, np.bool_)
    for axis in (0, 1):
        near, far = (depth[1:], depth[:-1]) if axis == 0 else (depth[:, 1:], depth[:, :-1])
        jump = np.abs(near - far) > 0.04 * np.minimum(near, far)
        for part in (edge[1:], edge[:-1]) if axis == 0 else (edge[:, 1:], edge[:, :-1]):
            part |= jump
    edge[[0, -1]] = edge[:, [0, -1]] = False
    rows, cols = np.nonzero(edge)
    total: Plane = np.zeros((rows.size, 3), np.float32)
    for down in (-1, 0, 1):
        for across in (-1, 0, 1):
            weight = np.float32((2 - abs(down)) * (2 - abs(across)) / 16)
            total += weight * values[rows + down, cols + across]
    values[rows, cols] = total


def _shade(h: Hits) -> Plane:
    """Return the light arriving from every sample, float32 (3, lines, samples), 1 near white."""
    albedo, emission, gloss = look(h)
    out = albedo * _lamplight(h, gloss) + emission
    if h.on_floor.any():
        out[:, h.on_floor] += _mirror(h, h.on_floor, gloss[h.on_floor])
    return _fog(h, out)


def _add(light: Plane, tone: tuple[float, float, float], level: NDArray[np.floating]) -> None:
    for plane, share in zip(light, tone, strict=True):
        plane += level * np.float32(share)


def _lamplight(h: Hits, gloss: Plane) -> Plane:
    sky = _open(h)
    total: Plane = np.zeros((3, *h.z.shape), np.float32)
    _add(total, (0.35, 0.75, 1.0), 0.02 + 0.03 * sky)
    # The direction of the ray mirrored in the surface, for the highlights.
    into = 2 * (h.dx * h.nx + h.dy * h.ny + h.nz)
    mx, my, mz = h.dx - into * h.nx, h.dy - into * h.ny, 1 - into * h.nz
    size = np.float32(1) / (h.dx**2 + h.dy**2 + 1)
    sums: dict[tuple[float, float, float], Plane | int] = {}
    for middle, tone, strength in LAMPS:
        lx, ly, lz = -h.x, np.float32(HIGH - 0.25) - h.y, np.float32(middle) - h.z
        near = 1 / (lx * lx + ly * ly + lz * lz + np.float32(0.25))
        facing = np.maximum((lx * h.nx + ly * h.ny + lz * h.nz) * np.sqrt(near), 0) + np.float32(0.03)
        shine = np.maximum(lx * mx + ly * my + lz * mz, 0) ** 2 * near * size
        for _ in range(3):  # to the eighth power
            shine = shine * shine
        shine = gloss * shine
        sums[tone] = sums.get(tone, 0) + (facing + 2 * shine) * near * np.float32(2.0 * strength)
    for tone, level in sums.items():
        _add(total, tone, level * sky)
    # The tubes of the ribs light what is next to them; the channel lights the lower walls.
    beside = np.abs(np.mod(h.z + np.float32(BAY / 2 - 0.21), np.float32(BAY)) - np.float32(BAY / 2))
    _add(total, TEAL, 0.42 * np.exp(-beside * 3.2) * (h.kind != 3) * sky)
    _add(total, (0.1, 1.0, 0.6), 0.30 * np.exp(-h.y * 2.2 - np.abs(h.x) * 0.7))
    # The eye's own lamp, brightest ahead.
    ahead = np.float32(0.55) / (1 + 0.2 * h.z * h.z) / (1 + 5 * (h.dx**2 + h.dy**2))
    _add(total, (1.0, 0.9, 0.75), ahead)
    return total


def _open(h: Hits) -> Plane:
    """Return how open a point is to the corridor, 0..1: dark in corners and behind ribs."""
    shut = np.ones(h.z.shape, np.float32)
    for k, (nx, ny) in enumerate(NORMALS[:4]):
        room = np.maximum(OUTER[k] - h.x * nx - h.y * ny, 0)
        shut *= np.where(h.face == k, np.float32(1), 1 - np.float32(0.55) * np.exp(-room * np.float32(4)))
    phase = np.mod(h.z, np.float32(BAY))
    near = np.minimum(np.abs(phase - np.float32(RIB)), np.float32(BAY) - phase)
    return np.where((h.kind == 0) & (h.face != FLOOR), shut * (1 - np.float32(0.5) * np.exp(-near * 7)), shut)


def _mirror(h: Hits, chosen: NDArray[np.bool_], gloss: Plane) -> Plane:
    """Return the lamps and the door seen in the wet floor."""
    dx, dy, x, z = h.dx[chosen], h.dy[chosen], h.x[chosen], h.z[chosen]
    steep = np.maximum(-dy, np.float32(1e-4))
    ripple = (cloudy(x * 5, z * 3, 31, 2) - np.float32(0.5)) * np.float32(0.16)
    go = np.float32(HIGH) / steep
    out: Plane = np.zeros((3, *x.shape), np.float32)
    low = np.maximum(1 - steep * 1.6, 0)
    sheen = gloss * (np.float32(0.10) + np.float32(1.3) * low * low * low)
    over = x + dx * go + ripple
    for middle, tone, strength in LAMPS:
        # The roughness of the floor widens what is mirrored, along z far more than across.
        hit = within(over, -0.36, 0.36, 0.3 + 0.06 * go) * within(
            z + go + ripple * 4, middle - 0.75, middle + 0.75, 0.3 + 0.35 * go
        )
        _add(out, tone, sheen * hit * np.float32(strength * 2.6))
    rise = steep * (np.float32(DOOR) - z)
    door = within(np.hypot(x + dx * (np.float32(DOOR) - z), (rise - 1.62) * 0.6), 0, 0.9, 0.9)
    _add(out, (0.15, 1.0, 0.45), sheen * door * np.float32(0.5))
    wall = np.exp(-np.abs(np.abs(over) - 2.0) * 1.5) * np.float32(0.10)
    _add(out, TEAL, sheen * wall)
    return out


def _fog(h: Hits, light: Plane) -> Plane:
    """Dim the light with distance and fill in the colour of the air: blue near, the lamps' amber far."""
    clear = np.exp(-np.maximum(h.z - 1.0, 0) * np.float32(0.045))
    share = np.square(np.clip(h.z / np.float32(DOOR), 0, 1))
    light *= clear
    _add(light, (0.0192, 0.08, 0.112), (1 - clear) * (1 - share))
    _add(light, (0.176, 0.12, 0.064), (1 - clear) * share)
    return light


def _develop(light: Plane) -> Plane:
    """Return code values: a soft shoulder, then a power between 1/2.4 and 1 that keeps the shadows deep."""
    exposed = 1 - np.exp(light * np.float32(-1.9))
    return np.asarray(exposed ** np.float32(1 / 1.65), np.float32)
