"""The ray caster of `deepvault_corridor`: an eight-sided corridor with ribs, pipes, lamps and a round door.

World axes in metres: x to the right, y up from the floor, z forward from the eye. Every sample of the
frame casts one ray (dx, dy, 1); planes parallel to z are met at z = (offset - n.o) / (n.d). Textures are
periodic pulses averaged in closed form over the sample's footprint, so that they fade to their mean far
away instead of sparkling. Light is summed as light and turned into code values at the end.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.demo import pixelfont
from scalesim.demo.shapes import Plane, cloudy, lattice

FOCUS = 1180.0  # samples per unit of slope
MIDDLE = (1000.0, 512.0)  # the vanishing point: sample, line
EYE = (-0.22, 1.62)
BAY, RIB, DOOR = 3.0, 0.42, 16.4  # metres: rib spacing, rib depth, place of the door
WIDE, HIGH = 2.3, 3.3
RIGHT, LEFT, CEILING, FLOOR = 0, 1, 2, 3

_R = 0.5**0.5
_NORMALS = np.array(
    [(1, 0), (-1, 0), (0, 1), (0, -1), (_R, _R), (-_R, _R), (_R, -_R), (-_R, -_R)], np.float32
)
_OUTER = np.array([WIDE, WIDE, HIGH, 0, _R * 4.85, _R * 4.85, _R * 1.98, _R * 1.98], np.float32)
_INNER = (_OUTER - np.array([0.3, 0.3, 0.3, 0, 0.26, 0.26, 0.12, 0.12], np.float32)).astype(np.float32)
_TANGENTS = np.array([(0, 1), (0, 1), (1, 0), (1, 0), (_R, -_R), (_R, _R), (_R, _R), (_R, -_R)], np.float32)

AMBER, COLD, TEAL, RED = (1.0, 0.62, 0.28), (0.55, 0.85, 1.0), (0.1, 0.85, 0.75), (1.0, 0.16, 0.08)
LAMPS = (  # z of the middle, colour, strength; the third is failing
    (1.6, COLD, 0.7), (4.7, AMBER, 2.4), (7.7, COLD, 0.25), (10.7, AMBER, 2.6), (13.8, COLD, 1.3)
)
PIPES = ((-1.62, 2.62, 0.13), (-1.84, 2.3, 0.085), (1.72, 2.55, 0.15))


def project(x: float, y: float, z: float) -> tuple[float, float]:
    """Return the canvas point (sample, line) of a world point in front of the eye."""
    return MIDDLE[0] + FOCUS * (x - EYE[0]) / z, MIDDLE[1] - FOCUS * (y - EYE[1]) / z


def pulses(u: Plane, period: float, width: float, foot: Plane | float) -> Plane:
    """Return the mean over [u - foot/2, u + foot/2] of pulses 1 on [0, width) of every period, else 0."""
    size = np.maximum(foot, np.float32(1e-5))

    def integral(t: Plane) -> Plane:
        turns = np.floor(t / np.float32(period))
        return np.asarray(turns * np.float32(width) + np.minimum(t - turns * np.float32(period), np.float32(width)))

    return np.asarray((integral(u + size / 2) - integral(u - size / 2)) / size, np.float32)


def within(u: Plane, low: float, high: float, foot: Plane | float) -> Plane:
    """Return the share of [u - foot/2, u + foot/2] lying in [low, high]."""
    size = np.maximum(foot, np.float32(1e-5))
    part = np.minimum(u + size / 2, np.float32(high)) - np.maximum(u - size / 2, np.float32(low))
    return np.asarray(np.clip(part / size, 0, 1), np.float32)


@dataclass
class Hits:
    """What the rays of a strip of lines meet; every field is (lines, samples) float32 unless stated."""

    dx: Plane
    dy: Plane
    x: Plane
    y: Plane
    z: Plane
    face: NDArray[np.intp]
    kind: NDArray[np.int8]  # 0 outer wall, 1 inner side of a rib, 2 front of a rib, 3 door, 4 pipe
    nx: Plane
    ny: Plane
    nz: Plane
    across: Plane  # footprint of a sample across the corridor, metres
    along: Plane  # footprint along z, metres


def render(lines: int, samples: int, *, strip: int = 15) -> Plane:
    """Return the corridor as float32 (lines, samples, 3) code values; strips of lines keep memory small."""
    out = np.empty((lines, samples, 3), np.float32)
    for top in range(0, lines, strip):
        rows = np.arange(top, min(top + strip, lines), dtype=np.float32)[:, None] + np.float32(0.5)
        cols = np.arange(samples, dtype=np.float32)[None] + np.float32(0.5)
        dx = (cols - np.float32(MIDDLE[0])) / np.float32(FOCUS) + 0 * rows
        dy = (np.float32(MIDDLE[1]) - rows) / np.float32(FOCUS) + 0 * cols
        hits = _cast(dx, dy)
        out[top : top + len(rows)] = _develop(_shade(hits))
    return out


def _nearest(dx: Plane, dy: Plane, offsets: Plane) -> tuple[Plane, NDArray[np.intp]]:
    best = np.full(dx.shape, 1e6, np.float32)
    face = np.zeros(dx.shape, np.intp)
    for k, (nx, ny) in enumerate(_NORMALS):
        toward = dx * nx + dy * ny
        room = np.float32(offsets[k] - nx * EYE[0] - ny * EYE[1])
        z = np.where(toward > 1e-6, room / np.maximum(toward, np.float32(1e-6)), np.float32(1e6))
        closer = z < best
        best = np.where(closer, z, best)
        face[closer] = k
    return best, face


def _cast(dx: Plane, dy: Plane) -> Hits:
    z_outer, face = _nearest(dx, dy, _OUTER)
    z_inner, face_inner = _nearest(dx, dy, _INNER)
    phase = np.mod(z_inner, np.float32(BAY))
    front = z_inner - phase + np.float32(BAY)
    side = phase < RIB
    ahead = ~side & (front < z_outer)
    z = np.where(side, z_inner, np.where(ahead, front, z_outer))
    kind = np.where(side, 1, np.where(ahead, 2, 0)).astype(np.int8)
    face = np.where(side, face_inner, face)
    kind[z > DOOR] = 3
    z = np.minimum(z, np.float32(DOOR))
    flat = kind >= 2
    nx, ny = (np.where(flat, np.float32(0), -_NORMALS[face, k]) for k in (0, 1))
    room = (_OUTER - _NORMALS @ np.array(EYE, np.float32))[face]
    hits = Hits(dx, dy, EYE[0] + dx * z, EYE[1] + dy * z, z, face, kind, nx, ny, -flat.astype(np.float32), z, z)
    _meet_pipes(hits)
    hits.across = hits.z / np.float32(FOCUS)
    hits.along = np.where(hits.kind < 2, hits.z * hits.z / (room * np.float32(FOCUS)), hits.across)
    return hits


def _meet_pipes(h: Hits) -> None:
    slope = h.dx**2 + h.dy**2
    for cx, cy, radius in PIPES:
        half = h.dx * np.float32(EYE[0] - cx) + h.dy * np.float32(EYE[1] - cy)
        rest = half * half - slope * np.float32((EYE[0] - cx) ** 2 + (EYE[1] - cy) ** 2 - radius * radius)
        z = (-half - np.sqrt(np.maximum(rest, 0))) / slope
        met = (rest > 0) & (z > 0) & (z < h.z)
        h.z = np.where(met, z, h.z)
        h.kind[met] = 4
        h.x, h.y = np.where(met, EYE[0] + h.dx * h.z, h.x), np.where(met, EYE[1] + h.dy * h.z, h.y)
        h.nx = np.where(met, (h.x - np.float32(cx)) / np.float32(radius), h.nx)
        h.ny = np.where(met, (h.y - np.float32(cy)) / np.float32(radius), h.ny)
        h.nz = np.where(met, np.float32(0), h.nz)


# --- surfaces: each returns albedo (n, 3), emission (n, 3), gloss (n,) for the chosen samples -------


def _pick(h: Hits, chosen: NDArray[np.bool_]) -> tuple[Plane, Plane, Plane, Plane, Plane, NDArray[np.intp]]:
    return h.x[chosen], h.y[chosen], h.z[chosen], h.across[chosen], h.along[chosen], h.face[chosen]


def _tint(base: tuple[float, float, float], level: Plane) -> Plane:
    return np.asarray(base, np.float32) * level[..., None]


def _blend(albedo: Plane, tone: tuple[float, float, float], share: Plane) -> None:
    albedo += share[..., None] * (np.asarray(tone, np.float32) - albedo)


def _floor(h: Hits, chosen: NDArray[np.bool_]) -> tuple[Plane, Plane, Plane]:
    x, _, z, fx, fz, _ = _pick(h, chosen)
    tile = lattice(np.floor(x / 0.575).astype(np.int64), np.floor(z / 0.6).astype(np.int64), 5)
    albedo = _tint((0.20, 0.23, 0.25), 0.75 + 0.5 * tile)
    grout = np.maximum(pulses(x + 0.008, 0.575, 0.022, fx), pulses(z + 0.01, 0.6, 0.022, fz))
    _blend(albedo, (0.03, 0.035, 0.04), grout * 0.9)
    stud = pulses(x + 0.03, 0.115, 0.035, fx) * pulses(z + 0.02, 0.1, 0.03, fz)
    plate = within(np.abs(x), 1.3, 1.72, fx)
    _blend(albedo, (0.42, 0.42, 0.40), stud * plate * 0.8)
    chevron = pulses(z + np.abs(x) * 1.2, 0.5, 0.25, fz + fx)
    edge = within(np.abs(x), 1.14, 1.27, fx)
    _blend(albedo, (0.75, 0.48, 0.07), edge * chevron)
    _blend(albedo, (0.03, 0.03, 0.03), edge * (1 - chevron))
    # The grate down the middle, lit from the channel below.
    grate = within(np.abs(x), 0.0, 0.46, fx)
    bars = np.maximum(pulses(z, 0.1, 0.045, fz), pulses(x + 0.01, 0.23, 0.03, fx))
    _blend(albedo, (0.03, 0.05, 0.05), grate * (1 - bars))
    _blend(albedo, (0.34, 0.36, 0.36), grate * bars)
    _blend(albedo, (0.40, 0.36, 0.30), within(np.abs(x), 0.46, 0.52, fx))
    wave = 0.35 + 0.65 * cloudy(x * 0.9, z * 0.7, 11, 2)
    emission = _tint((0.03, 0.55, 0.42), grate * (1 - bars) * wave * 0.5)
    wet = np.clip((cloudy(x * 1.1 + 7, z * 0.55, 23, 3) - 0.45) * 5, 0, 1)
    sill = np.mod(z, np.float32(BAY)) < RIB
    _blend(albedo, (0.30, 0.25, 0.19), sill * (1 - grate) * 0.8)
    albedo *= (1 - 0.35 * wet * (1 - grate))[..., None]
    return albedo, emission, (0.25 + 0.75 * wet) * (1 - 0.8 * grate)


_SIGN = pixelfont.text_mask("SILL 9", scale=1)


def _wall(h: Hits, chosen: NDArray[np.bool_]) -> tuple[Plane, Plane, Plane]:
    x, y, z, fy, fz, face = _pick(h, chosen)
    bay, inside = np.floor(z / BAY).astype(np.int64), np.mod(z, np.float32(BAY)) - np.float32(RIB)
    level = np.where(y < 1.06, 0, np.where(y < 2.1, 1, 2)).astype(np.int64)
    half = (inside > 1.29).astype(np.int64)
    tone = lattice(bay * 2 + half, level + 7 * face, 3)
    albedo = _tint((0.27, 0.33, 0.35), 0.7 + 0.5 * tone)
    _blend(albedo, (0.33, 0.25, 0.18), ((level == 2) & (tone > 0.5)) * np.float32(0.7))
    u, v = np.mod(inside, np.float32(1.29)), y - np.choose(level, (0.3, 1.06, 2.1)).astype(np.float32)
    tall = np.choose(level, (0.76, 1.04, 0.6)).astype(np.float32)
    gap = np.maximum(np.maximum(within(u, -1, 0.022, fz), within(u, 1.268, 2, fz)),
                     np.maximum(within(v, -1, 0.018, fy), within(v - tall, -0.018, 1, fy)))
    lip = np.maximum(within(v - tall, -0.045, -0.018, fy), within(u, 0.022, 0.045, fz))
    _blend(albedo, (0.55, 0.58, 0.56), lip * (1 - gap) * 0.7)
    _blend(albedo, (0.02, 0.025, 0.03), gap)
    for du, dv in ((0.1, 0.1), (1.19, 0.1), (0.1, -0.1), (1.19, -0.1)):
        away = np.hypot(u - np.float32(du), v - (np.float32(dv) if dv > 0 else tall + np.float32(dv)))
        bolt = np.clip((0.028 - away) / np.maximum(fz, fy) + 0.5, 0, 1)
        _blend(albedo, (0.5, 0.48, 0.42), np.asarray(bolt, np.float32))
    named = (face == LEFT) & (bay == 1) & (level == 1)
    # Louvres in some low panels, ribbed plating in some high ones.
    louvre = ((level == 0) & (tone > 0.3)) * within(u, 0.2, 1.09, fz) * within(v, 0.16, 0.6, fy)
    _blend(albedo, (0.02, 0.03, 0.03), louvre * pulses(v, 0.055, 0.028, fy))
    ribs = ((level == 1) & (tone < 0.45) & ~named) * within(u, 0.18, 1.11, fz) * within(v, 0.5, 0.92, fy)
    _blend(albedo, (0.10, 0.13, 0.14), ribs * pulses(u, 0.062, 0.03, fz))
    stripe = (level == 1) * within(v, 0.2, 0.29, fy)
    _blend(albedo, (0.78, 0.34, 0.05), stripe * 0.9)
    _blend(albedo, (0.72, 0.70, 0.62), (level == 1) * within(v, 0.315, 0.335, fy) * 0.9)
    _stencil(albedo, z, y, face)
    glow = (level == 1) * within(v, 0.72, 0.76, fy) * pulses(u - 0.3, 0.22, 0.1, fz) * ((tone > 0.72) & ~named) * within(u, 0.3, 1.0, fz)
    return albedo, _tint((0.1, 1.0, 0.7), np.asarray(glow, np.float32) * 1.2), np.full(x.shape, 0.15, np.float32)


def _stencil(albedo: Plane, z: Plane, y: Plane, face: NDArray[np.intp]) -> None:
    """Paint the sector's name on the left wall, one font dot being 5.5 cm."""
    col = np.floor((z - 3.97) / 0.055).astype(np.int64)
    row = np.floor((1.96 - y) / 0.055).astype(np.int64)
    ok = (face == LEFT) & (col >= 0) & (col < _SIGN.shape[1]) & (row >= 0) & (row < _SIGN.shape[0])
    ink = np.zeros(z.shape, np.float32)
    ink[ok] = _SIGN[row[ok], col[ok]]
    _blend(albedo, (0.62, 0.60, 0.52), ink * 0.8)


def _chamfer(h: Hits, chosen: NDArray[np.bool_]) -> tuple[Plane, Plane, Plane]:
    x, y, z, fs, fz, face = _pick(h, chosen)
    s = x * _TANGENTS[face, 0] + y * _TANGENTS[face, 1]
    low = y < 1.0
    albedo = _tint((0.24, 0.26, 0.26), 0.8 + 0.4 * lattice(np.floor(z / 0.5).astype(np.int64), face.astype(np.int64), 9))
    _blend(albedo, (0.03, 0.03, 0.035), pulses(z, 0.5, 0.02, fz) * 0.9)
    _blend(albedo, (0.06, 0.065, 0.07), low * pulses(z + 0.04, 0.083, 0.04, fz))
    _blend(albedo, (0.45, 0.40, 0.32), ~low * pulses(s + 0.03, 0.3, 0.025, fs) * 0.7)
    bolt = pulses(z - 0.06, 0.25, 0.04, fz) * pulses(s + 0.12, 0.3, 0.04, fs)
    _blend(albedo, (0.5, 0.45, 0.36), ~low * bolt)
    return albedo, np.zeros_like(albedo), np.full(x.shape, 0.2, np.float32)


def _ceiling(h: Hits, chosen: NDArray[np.bool_]) -> tuple[Plane, Plane, Plane]:
    x, _, z, fx, fz, _ = _pick(h, chosen)
    albedo = _tint((0.15, 0.17, 0.19), 0.8 + 0.3 * lattice(np.floor(z / 0.75).astype(np.int64), np.floor(x / 0.8).astype(np.int64), 8))
    _blend(albedo, (0.02, 0.02, 0.03), pulses(z, 0.75, 0.02, fz) * 0.8)
    for cable in (-0.98, -0.9, -0.8, 0.86, 0.95):
        _blend(albedo, (0.05, 0.05, 0.07), within(x, cable, cable + 0.05, fx))
        _blend(albedo, (0.30, 0.26, 0.20), within(x, cable + 0.012, cable + 0.022, fx))
    emission = np.zeros_like(albedo)
    frame = within(np.abs(x), 0, 0.44, fx)
    for middle, tone, strength in LAMPS:
        lit = within(np.abs(x), 0, 0.36, fx) * within(z, middle - 0.75, middle + 0.75, fz)
        _blend(albedo, (0.08, 0.08, 0.08), frame * within(z, middle - 0.85, middle + 0.85, fz))
        slats = 1 - 0.75 * pulses(z - np.float32(middle - 0.75), 0.3, 0.04, fz)
        emission += _tint(tone, lit * slats * np.float32(strength * 3.2))
    return albedo, emission, np.full(x.shape, 0.1, np.float32)


def _rib(h: Hits, chosen: NDArray[np.bool_]) -> tuple[Plane, Plane, Plane]:
    x, y, z, fs, fz, face = _pick(h, chosen)
    phase = np.mod(z, np.float32(BAY))
    s = x * _TANGENTS[face, 0] + y * _TANGENTS[face, 1]
    albedo = _tint((0.36, 0.29, 0.21), 0.85 + 0.3 * lattice(np.floor(z / BAY).astype(np.int64), face.astype(np.int64), 2))
    _blend(albedo, (0.62, 0.52, 0.38), np.maximum(within(phase, 0, 0.022, fz), within(phase, RIB - 0.022, RIB, fz)))
    _blend(albedo, (0.05, 0.045, 0.04), within(phase, 0.15, 0.27, fz))
    bolt = pulses(s + 0.02, 0.24, 0.04, fs) * np.maximum(within(phase, 0.06, 0.1, fz), within(phase, 0.32, 0.36, fz))
    _blend(albedo, (0.08, 0.07, 0.06), bolt * 0.8)
    tube = within(phase, 0.18, 0.24, fz) * (y > 0.5) * (1 - pulses(s, 0.62, 0.05, fs))
    return albedo, _tint(TEAL, np.asarray(tube, np.float32) * 2.2), np.full(x.shape, 0.35, np.float32)


def _rib_front(h: Hits, chosen: NDArray[np.bool_]) -> tuple[Plane, Plane, Plane]:
    x, y, z, fs, _, face = _pick(h, chosen)
    depth = np.max([x * n[0] + y * n[1] - d for n, d in zip(_NORMALS, _INNER, strict=True) if n[1] != -1], axis=0)
    s = x * _TANGENTS[face, 0] + y * _TANGENTS[face, 1]
    albedo = _tint((0.30, 0.25, 0.19), np.full(x.shape, 1.0, np.float32))
    _blend(albedo, (0.75, 0.62, 0.44), within(depth, -1, 0.022, fs))
    _blend(albedo, (0.07, 0.06, 0.05), within(depth, 0.05, 0.062, fs))
    hole = pulses(s + 0.05, 0.3, 0.1, fs) * within(depth, 0.11, 0.2, fs)
    _blend(albedo, (0.03, 0.03, 0.035), hole)
    stripes = pulses(s + depth, 0.16, 0.08, fs) * within(depth, 0.07, 1, fs) * (y < 1.0) * (np.abs(y - 0.55) < 0.35)
    _blend(albedo, (0.72, 0.46, 0.06), np.asarray(stripes, np.float32) * 0.9)
    return albedo, np.zeros_like(albedo), np.full(x.shape, 0.3, np.float32)


def _door(h: Hits, chosen: NDArray[np.bool_]) -> tuple[Plane, Plane, Plane]:
    x, y, _, f, _, _ = _pick(h, chosen)
    v = y - np.float32(1.62)
    r, turn = np.hypot(x, v), np.arctan2(v, x) / np.float32(2 * np.pi)
    albedo = _tint((0.20, 0.21, 0.22), np.ones(x.shape, np.float32))
    _blend(albedo, (0.05, 0.05, 0.055), np.maximum(pulses(x + 0.01, 0.5, 0.02, f), pulses(y, 0.5, 0.02, f)))
    hazard = pulses(turn * 36 + r * 0.8, 1.0, 0.5, f * 6)
    _blend(albedo, (0.75, 0.48, 0.07), within(r, 1.36, 1.5, f) * hazard)
    _blend(albedo, (0.03, 0.03, 0.03), within(r, 1.36, 1.5, f) * (1 - hazard))
    _blend(albedo, (0.42, 0.34, 0.24), within(r, 0, 1.3, f))
    _blend(albedo, (0.03, 0.03, 0.03), np.maximum(within(r, 1.28, 1.36, f), within(r, 0.86, 0.89, f)))
    _blend(albedo, (0.24, 0.20, 0.16), within(r, 0.89, 1.28, f) * pulses(turn * 12, 1.0, 0.3, f * 3))
    _blend(albedo, (0.62, 0.52, 0.36), within(np.abs(r - 1.08), 0, 0.02, f))
    _blend(albedo, (0.02, 0.02, 0.02), within(np.minimum(np.abs(x), np.abs(v)), 0, 0.05, f) * within(r, 0.5, 0.86, f))
    _blend(albedo, (0.05, 0.06, 0.06), within(r, 0, 0.52, f))
    # The emblem: a seed with two leaves, in light.
    seed = within(np.hypot(x / 0.13, (v + 0.16) / 0.17), 0, 1, f * 6)
    leaf = np.maximum(*(within(np.hypot(x * q - 0.16 - 0.3 * (v - 0.12) * 0, (v - 0.13) * 1.9 - (x * q - 0.16) * 0.9) / 0.15, 0, 1, f * 6)
                        for q in (1, -1)))
    stem = within(np.abs(x), 0, 0.02, f) * within(v, -0.05, 0.14, f)
    ring = within(np.abs(r - 0.46), 0, 0.022, f)
    emission = _tint((0.15, 1.0, 0.45), np.maximum(np.maximum(seed, leaf), np.maximum(stem, ring)) * np.float32(2.6))
    eyes = within(np.hypot(np.abs(x) - 1.75, y - 2.2), 0, 0.1, f)
    return albedo, emission + _tint(RED, eyes * np.float32(5)), np.full(x.shape, 0.3, np.float32)


def _pipe(h: Hits, chosen: NDArray[np.bool_]) -> tuple[Plane, Plane, Plane]:
    x, _, z, _, _, _ = _pick(h, chosen)
    foot = z * z / np.float32(FOCUS)
    red = x < -1.7
    albedo = _tint((0.38, 0.30, 0.20), np.ones(x.shape, np.float32))
    albedo[red] = (0.34, 0.07, 0.05)
    _blend(albedo, (0.12, 0.10, 0.09), pulses(z, 1.0, 0.16, foot))
    _blend(albedo, (0.55, 0.46, 0.33), pulses(z + 0.03, 1.0, 0.03, foot) + pulses(z - 0.16, 1.0, 0.03, foot))
    _blend(albedo, (0.70, 0.66, 0.55), pulses(z - 0.5, 1.5, 0.08, foot) * 0.8)
    return albedo, np.zeros_like(albedo), np.full(x.shape, 0.6, np.float32)


# --- light ----------------------------------------------------------------------------------------


def _shade(h: Hits) -> Plane:
    """Return the light arriving from every sample, float32 (lines, samples, 3), 1 near white."""
    albedo, emission = np.zeros((*h.z.shape, 3), np.float32), np.zeros((*h.z.shape, 3), np.float32)
    gloss = np.zeros(h.z.shape, np.float32)
    on_floor = (h.kind < 2) & (h.face == FLOOR)
    plain = (h.kind == 0) & ~on_floor
    for chosen, surface in (
        (on_floor, _floor),
        (plain & (h.face == CEILING), _ceiling),
        (plain & (h.face < CEILING), _wall),
        (plain & (h.face > FLOOR), _chamfer),
        ((h.kind == 1) & ~on_floor, _rib),
        (h.kind == 2, _rib_front),
        (h.kind == 3, _door),
        (h.kind == 4, _pipe),
    ):
        if chosen.any():
            albedo[chosen], emission[chosen], gloss[chosen] = surface(h, chosen)
    light = _lamplight(h, gloss)
    out = albedo * light + emission
    if on_floor.any():
        out[on_floor] += _mirror(h, on_floor, gloss[on_floor])
    return _fog(h, out)


def _lamplight(h: Hits, gloss: Plane) -> Plane:
    sky = _open(h)
    total = np.asarray((0.02 + 0.03 * sky)[..., None] * np.array((0.35, 0.75, 1.0), np.float32), np.float32)
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
        shine = gloss * shine**8
        sums[tone] = sums.get(tone, 0) + (facing + 2 * shine) * near * np.float32(2.0 * strength)
    for tone, level in sums.items():
        total += (level * sky)[..., None] * np.asarray(tone, np.float32)
    # The tubes of the ribs light what is next to them; the channel lights the lower walls.
    beside = np.abs(np.mod(h.z + np.float32(BAY / 2 - 0.21), np.float32(BAY)) - np.float32(BAY / 2))
    total += (np.float32(0.42) * np.exp(-beside * 3.2) * (h.kind != 3) * sky)[..., None] * np.asarray(TEAL, np.float32)
    total += (np.float32(0.30) * np.exp(-h.y * 2.2) * np.exp(-np.abs(h.x) * 0.7))[..., None] * np.array((0.1, 1, 0.6), np.float32)
    # The eye's own lamp, brightest ahead.
    ahead = np.float32(0.55) / (1 + 0.2 * h.z * h.z) / (1 + 5 * (h.dx**2 + h.dy**2))
    total += ahead[..., None] * np.array((1, 0.9, 0.75), np.float32)
    return total


def _open(h: Hits) -> Plane:
    """Return how open a point is to the corridor, 0..1: dark in corners and behind ribs."""
    shut = np.ones(h.z.shape, np.float32)
    for k, (nx, ny) in enumerate(_NORMALS[:4]):
        room = np.maximum(_OUTER[k] - h.x * nx - h.y * ny, 0)
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
    out = np.zeros((*x.shape, 3), np.float32)
    sheen = gloss * (np.float32(0.10) + np.float32(1.3) * np.maximum(1 - steep * 1.6, 0) ** 3)
    over = x + dx * go + ripple
    for middle, tone, strength in LAMPS:
        # The roughness of the floor widens what is mirrored, along z far more than across.
        hit = within(over, -0.36, 0.36, 0.3 + 0.06 * go) * within(z + go + ripple * 4, middle - 0.75, middle + 0.75, 0.3 + 0.35 * go)
        out += (sheen * hit * np.float32(strength * 2.6))[..., None] * np.asarray(tone, np.float32)
    rise = steep * (np.float32(DOOR) - z)
    door = within(np.hypot(x + dx * (np.float32(DOOR) - z), (rise - 1.62) * 0.6), 0, 0.9, 0.9)
    out += (sheen * door * np.float32(0.5))[..., None] * np.array((0.15, 1.0, 0.45), np.float32)
    wall = np.exp(-np.abs(np.abs(over) - 2.0) * 1.5) * np.float32(0.10)
    return out + (sheen * wall)[..., None] * np.asarray(TEAL, np.float32)


def _fog(h: Hits, light: Plane) -> Plane:
    clear = np.exp(-np.maximum(h.z - 1.0, 0) * np.float32(0.045))[..., None]
    share = np.clip(h.z / np.float32(DOOR), 0, 1)[..., None] ** 2
    tone = np.array((0.012, 0.05, 0.07), np.float32) * (1 - share) + np.array((0.11, 0.075, 0.04), np.float32) * share
    return np.asarray(light * clear + tone * (1 - clear) * 1.6, np.float32)


def _develop(light: Plane) -> Plane:
    """Return code values: a soft shoulder, then a power between 1/2.4 and 1 that keeps the shadows deep."""
    exposed = 1 - np.exp(light * np.float32(-1.9))
    return np.asarray(exposed ** np.float32(1 / 1.65), np.float32)
