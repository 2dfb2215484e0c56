"""What the surfaces of `deepvault_corridor` are made of.

Textures are periodic pulses averaged in closed form over the sample's footprint, so that they fade to
their mean far away instead of sparkling. Each surface returns, for the chosen samples, albedo (3, n),
emission (3, n) and gloss (n,), all light; planes of one colour each are several times quicker than triples.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.demo.deepvault_corridor.cast import (
    BAY,
    CEILING,
    FLOOR,
    FOCUS,
    INNER,
    LAMPS,
    LEFT,
    NORMALS,
    RED,
    RIB,
    TANGENTS,
    TEAL,
    Hits,
)
from scalesim.draw import letters as pixelfont
from scalesim.draw.shapes import Plane
from scalesim.draw.texture import cloudy, lattice


def _tint(base: tuple[float, float, float], level: NDArray[np.floating]) -> Plane:
    return np.asarray(np.array(base, np.float32)[:, None] * level, np.float32)


def _blend(albedo: Plane, tone: tuple[float, float, float], share: NDArray[np.floating]) -> None:
    for plane, level in zip(albedo, tone, strict=True):
        plane += share * (np.float32(level) - plane)


def pulses(u: NDArray[np.floating], period: float, width: float, foot: NDArray[np.floating] | float) -> Plane:
    """Return the mean over [u - foot/2, u + foot/2] of pulses 1 on [0, width) of every period, else 0."""
    size = np.maximum(foot, np.float32(1e-5))

    def integral(t: NDArray[np.floating]) -> Plane:
        turns = np.floor(t / np.float32(period))
        return np.asarray(
            turns * np.float32(width) + np.minimum(t - turns * np.float32(period), np.float32(width))
        )

    return np.asarray((integral(u + size / 2) - integral(u - size / 2)) / size, np.float32)


def within(u: NDArray[np.floating], low: float, high: float, foot: NDArray[np.floating] | float) -> Plane:
    """Return the share of [u - foot/2, u + foot/2] lying in [low, high]."""
    size = np.maximum(foot, np.float32(1e-5))
    part = np.minimum(u + size / 2, np.float32(high)) - np.maximum(u - size / 2, np.float32(low))
    return np.asarray(np.clip(part / size, 0, 1), np.float32)


def _pick(h: Hits, chosen: NDArray[np.intp]) -> tuple[Plane, Plane, Plane, Plane, Plane, NDArray[np.intp]]:
    x, y, z, across, along = (plane.ravel()[chosen] for plane in (h.x, h.y, h.z, h.across, h.along))
    return x, y, z, across, along, h.face.ravel()[chosen]


def _floor(h: Hits, chosen: NDArray[np.intp]) -> tuple[Plane, Plane, Plane]:
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
    albedo *= 1 - 0.35 * wet * (1 - grate)
    return albedo, emission, (0.25 + 0.75 * wet) * (1 - 0.8 * grate)


_SIGN = pixelfont.text_mask("SILL 9", scale=1)


def _wall(h: Hits, chosen: NDArray[np.intp]) -> tuple[Plane, Plane, Plane]:
    x, y, z, fy, fz, face = _pick(h, chosen)
    bay, inside = np.floor(z / BAY).astype(np.int64), np.mod(z, np.float32(BAY)) - np.float32(RIB)
    level = np.where(y < 1.06, 0, np.where(y < 2.1, 1, 2)).astype(np.int64)
    half = (inside > 1.29).astype(np.int64)
    tone = lattice(bay * 2 + half, level + 7 * face, 3)
    albedo = _tint((0.27, 0.33, 0.35), 0.7 + 0.5 * tone)
    _blend(albedo, (0.33, 0.25, 0.18), ((level == 2) & (tone > 0.5)) * np.float32(0.7))
    u, v = np.mod(inside, np.float32(1.29)), y - np.choose(level, (0.3, 1.06, 2.1)).astype(np.float32)
    tall = np.choose(level, (0.76, 1.04, 0.6)).astype(np.float32)
    gap = np.maximum(
        np.maximum(within(u, -1, 0.022, fz), within(u, 1.268, 2, fz)),
        np.maximum(within(v, -1, 0.018, fy), within(v - tall, -0.018, 1, fy)),
    )
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
    # Drips of rust and damp under the seams.
    drip = np.clip((cloudy(z * 7, y * 0.8 + 3, 41, 2) - 0.52) * 3, 0, 1) * np.clip(tall - v, 0, 1)
    _blend(albedo, (0.13, 0.09, 0.06), drip * 0.55)
    glow = (
        (level == 1)
        * within(v, 0.72, 0.76, fy)
        * pulses(u - 0.3, 0.22, 0.1, fz)
        * ((tone > 0.72) & ~named)
        * within(u, 0.3, 1.0, fz)
    )
    return (
        albedo,
        _tint((0.1, 1.0, 0.7), np.asarray(glow, np.float32) * 1.2),
        np.full(x.shape, 0.15, np.float32),
    )


def _stencil(albedo: Plane, z: Plane, y: Plane, face: NDArray[np.intp]) -> None:
    """Paint the sector's name on the left wall, one font dot being 5.5 cm."""
    col = np.floor((z - 4.02) / 0.055).astype(np.int64)
    row = np.floor((1.96 - y) / 0.055).astype(np.int64)
    ok = (face == LEFT) & (col >= 0) & (col < _SIGN.shape[1]) & (row >= 0) & (row < _SIGN.shape[0])
    ink = np.zeros(z.shape, np.float32)
    ink[ok] = _SIGN[row[ok], col[ok]]
    _blend(albedo, (0.62, 0.60, 0.52), ink * 0.8)


def _chamfer(h: Hits, chosen: NDArray[np.intp]) -> tuple[Plane, Plane, Plane]:
    x, y, z, fs, fz, face = _pick(h, chosen)
    s = x * TANGENTS[face, 0] + y * TANGENTS[face, 1]
    low = y < 1.0
    albedo = _tint(
        (0.24, 0.26, 0.26), 0.8 + 0.4 * lattice(np.floor(z / 0.5).astype(np.int64), face.astype(np.int64), 9)
    )
    _blend(albedo, (0.03, 0.03, 0.035), pulses(z, 0.5, 0.02, fz) * 0.9)
    _blend(albedo, (0.06, 0.065, 0.07), low * pulses(z + 0.04, 0.083, 0.04, fz))
    _blend(albedo, (0.45, 0.40, 0.32), ~low * pulses(s + 0.03, 0.3, 0.025, fs) * 0.7)
    bolt = pulses(z - 0.06, 0.25, 0.04, fz) * pulses(s + 0.12, 0.3, 0.04, fs)
    _blend(albedo, (0.5, 0.45, 0.36), ~low * bolt)
    return albedo, np.zeros_like(albedo), np.full(x.shape, 0.2, np.float32)


def _ceiling(h: Hits, chosen: NDArray[np.intp]) -> tuple[Plane, Plane, Plane]:
    x, _, z, fx, fz, _ = _pick(h, chosen)
    albedo = _tint(
        (0.15, 0.17, 0.19),
        0.8 + 0.3 * lattice(np.floor(z / 0.75).astype(np.int64), np.floor(x / 0.8).astype(np.int64), 8),
    )
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


def _rib(h: Hits, chosen: NDArray[np.intp]) -> tuple[Plane, Plane, Plane]:
    x, y, z, fs, fz, face = _pick(h, chosen)
    phase = np.mod(z, np.float32(BAY))
    s = x * TANGENTS[face, 0] + y * TANGENTS[face, 1]
    albedo = _tint(
        (0.36, 0.29, 0.21), 0.85 + 0.3 * lattice(np.floor(z / BAY).astype(np.int64), face.astype(np.int64), 2)
    )
    _blend(
        albedo,
        (0.62, 0.52, 0.38),
        np.maximum(within(phase, 0, 0.022, fz), within(phase, RIB - 0.022, RIB, fz)),
    )
    _blend(albedo, (0.05, 0.045, 0.04), within(phase, 0.15, 0.27, fz))
    bolt = pulses(s + 0.02, 0.24, 0.04, fs) * np.maximum(
        within(phase, 0.06, 0.1, fz), within(phase, 0.32, 0.36, fz)
    )
    _blend(albedo, (0.08, 0.07, 0.06), bolt * 0.8)
    tube = within(phase, 0.18, 0.24, fz) * (y > 0.5) * (1 - pulses(s, 0.62, 0.05, fs))
    return albedo, _tint(TEAL, np.asarray(tube, np.float32) * 2.2), np.full(x.shape, 0.35, np.float32)


def _rib_front(h: Hits, chosen: NDArray[np.intp]) -> tuple[Plane, Plane, Plane]:
    x, y, _, fs, _, face = _pick(h, chosen)
    depth = np.max(
        [x * n[0] + y * n[1] - d for n, d in zip(NORMALS, INNER, strict=True) if n[1] != -1], axis=0
    )
    s = x * TANGENTS[face, 0] + y * TANGENTS[face, 1]
    albedo = _tint((0.30, 0.25, 0.19), np.full(x.shape, 1.0, np.float32))
    _blend(albedo, (0.75, 0.62, 0.44), within(depth, -1, 0.022, fs))
    _blend(albedo, (0.07, 0.06, 0.05), within(depth, 0.05, 0.062, fs))
    hole = pulses(s + 0.05, 0.3, 0.1, fs) * within(depth, 0.11, 0.2, fs)
    _blend(albedo, (0.03, 0.03, 0.035), hole)
    stripes = (
        pulses(s + depth, 0.16, 0.08, fs) * within(depth, 0.07, 1, fs) * (y < 1.0) * (np.abs(y - 0.55) < 0.35)
    )
    _blend(albedo, (0.72, 0.46, 0.06), np.asarray(stripes, np.float32) * 0.9)
    return albedo, np.zeros_like(albedo), np.full(x.shape, 0.3, np.float32)


def _door(h: Hits, chosen: NDArray[np.intp]) -> tuple[Plane, Plane, Plane]:
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
    _blend(
        albedo,
        (0.02, 0.02, 0.02),
        within(np.minimum(np.abs(x), np.abs(v)), 0, 0.05, f) * within(r, 0.5, 0.86, f),
    )
    _blend(albedo, (0.05, 0.06, 0.06), within(r, 0, 0.52, f))
    # The emblem: a seed with two leaves, in light.
    seed = within(np.hypot(x / 0.13, (v + 0.16) / 0.17), 0, 1, f * 6)
    leaf = np.maximum(
        *(
            within(
                np.hypot(x * q - 0.16 - 0.3 * (v - 0.12) * 0, (v - 0.13) * 1.9 - (x * q - 0.16) * 0.9) / 0.15,
                0,
                1,
                f * 6,
            )
            for q in (1, -1)
        )
    )
    stem = within(np.abs(x), 0, 0.02, f) * within(v, -0.05, 0.14, f)
    ring = within(np.abs(r - 0.46), 0, 0.022, f)
    emission = _tint(
        (0.15, 1.0, 0.45), np.maximum(np.maximum(seed, leaf), np.maximum(stem, ring)) * np.float32(2.6)
    )
    eyes = within(np.hypot(np.abs(x) - 1.75, y - 2.2), 0, 0.1, f)
    return albedo, emission + _tint(RED, eyes * np.float32(5)), np.full(x.shape, 0.3, np.float32)


def _pipe(h: Hits, chosen: NDArray[np.intp]) -> tuple[Plane, Plane, Plane]:
    x, _, z, _, _, _ = _pick(h, chosen)
    foot = z * z / np.float32(FOCUS)  # near enough for a pipe two metres off the axis
    red = x < -1.7
    albedo = _tint((0.38, 0.30, 0.20), np.ones(x.shape, np.float32))
    albedo[:, red] = np.array([[0.34], [0.07], [0.05]], np.float32)
    _blend(albedo, (0.12, 0.10, 0.09), pulses(z, 1.0, 0.16, foot))
    _blend(albedo, (0.55, 0.46, 0.33), pulses(z + 0.03, 1.0, 0.03, foot) + pulses(z - 0.16, 1.0, 0.03, foot))
    _blend(albedo, (0.70, 0.66, 0.55), pulses(z - 0.5, 1.5, 0.08, foot) * 0.8)
    return albedo, np.zeros_like(albedo), np.full(x.shape, 0.6, np.float32)


def look(h: Hits) -> tuple[Plane, Plane, Plane]:
    """Return albedo (3, m, n), emission (3, m, n) and gloss (m, n) of everything the rays meet."""
    albedo, emission = np.zeros((3, h.z.size), np.float32), np.zeros((3, h.z.size), np.float32)
    gloss = np.zeros(h.z.size, np.float32)
    plain = (h.kind == 0) & ~h.on_floor
    for where, surface in (
        (h.on_floor, _floor),
        (plain & (h.face == CEILING), _ceiling),
        (plain & (h.face < CEILING), _wall),
        (plain & (h.face > FLOOR), _chamfer),
        ((h.kind == 1) & ~h.on_floor, _rib),
        (h.kind == 2, _rib_front),
        (h.kind == 3, _door),
        (h.kind == 4, _pipe),
    ):
        chosen = np.flatnonzero(where)
        if chosen.size:
            albedo[:, chosen], emission[:, chosen], gloss[chosen] = surface(h, chosen)
    whole = (3, *h.z.shape)
    return albedo.reshape(whole), emission.reshape(whole), gloss.reshape(h.z.shape)
