"""The geometry of `deepvault_corridor`: an eight-sided corridor with ribs, pipes and a door, cast ray by ray.

World axes in metres: x to the right, y up from the floor, z forward from the eye. Every sample of the
frame casts one ray (dx, dy, 1); planes parallel to z are met at z = (offset - n.o) / (n.d).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.draw.shapes import Plane

FOCUS = 1180.0  # samples per unit of slope
MIDDLE = (1000.0, 512.0)  # the vanishing point: sample, line
EYE = (-0.22, 1.62)
BAY, RIB, DOOR = 3.0, 0.42, 16.4  # metres: rib spacing, rib depth, place of the door
WIDE, HIGH = 2.3, 3.3
RIGHT, LEFT, CEILING, FLOOR = 0, 1, 2, 3

_R = 0.5**0.5
NORMALS = np.array([(1, 0), (-1, 0), (0, 1), (0, -1), (_R, _R), (-_R, _R), (_R, -_R), (-_R, -_R)], np.float32)
OUTER = np.array([WIDE, WIDE, HIGH, 0, _R * 4.85, _R * 4.85, _R * 1.98, _R * 1.98], np.float32)
INNER = (OUTER - np.array([0.3, 0.3, 0.3, 0, 0.26, 0.26, 0.12, 0.12], np.float32)).astype(np.float32)
TANGENTS = np.array([(0, 1), (0, 1), (1, 0), (1, 0), (_R, -_R), (_R, _R), (_R, _R), (_R, -_R)], np.float32)

AMBER, COLD, TEAL, RED = (1.0, 0.62, 0.28), (0.55, 0.85, 1.0), (0.1, 0.85, 0.75), (1.0, 0.16, 0.08)
LAMPS = (  # z of the middle, colour, strength; the third is failing
    (1.6, COLD, 0.7),
    (4.7, AMBER, 2.4),
    (7.7, COLD, 0.25),
    (10.7, AMBER, 2.6),
    (13.8, COLD, 1.3),
)
PIPES = ((-1.62, 2.62, 0.13), (-1.84, 2.3, 0.085), (1.72, 2.55, 0.15))


def project(x: float, y: float, z: float) -> tuple[float, float]:
    """Return the canvas point (sample, line) of a world point in front of the eye."""
    return MIDDLE[0] + FOCUS * (x - EYE[0]) / z, MIDDLE[1] - FOCUS * (y - EYE[1]) / z


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

    @property
    def on_floor(self) -> NDArray[np.bool_]:
        """Where the floor is met, between the ribs or under them."""
        return np.asarray((self.kind < 2) & (self.face == FLOOR), np.bool_)


def _nearest(dx: Plane, dy: Plane, offsets: Plane) -> tuple[Plane, NDArray[np.intp]]:
    best = np.full(dx.shape, 1e6, np.float32)
    face = np.zeros(dx.shape, np.intp)
    for k, (nx, ny) in enumerate(NORMALS):
        toward = dx * nx + dy * ny
        room = np.float32(offsets[k] - nx * EYE[0] - ny * EYE[1])
        z = np.where(toward > 1e-6, room / np.maximum(toward, np.float32(1e-6)), np.float32(1e6))
        closer = z < best
        best = np.where(closer, z, best)
        face[closer] = k
    return best, face


def cast(dx: Plane, dy: Plane) -> Hits:
    z_outer, face = _nearest(dx, dy, OUTER)
    z_inner, face_inner = _nearest(dx, dy, INNER)
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
    nx, ny = (np.where(flat, np.float32(0), -NORMALS[face, k]) for k in (0, 1))
    room = (OUTER - NORMALS @ np.array(EYE, np.float32))[face]
    hits = Hits(
        dx, dy, EYE[0] + dx * z, EYE[1] + dy * z, z, face, kind, nx, ny, -flat.astype(np.float32), z, z
    )
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
