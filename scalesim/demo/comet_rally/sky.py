"""The sky of `comet_rally`: dusk, stars, a ringed moon and the comet."""

from __future__ import annotations

from functools import cache

import numpy as np

from scalesim.draw import painting, shapes, texture
from scalesim.draw.shapes import Plane, colour

LINES, SAMPLES = 1080, 1920


@cache
def still() -> Plane:
    """Return what never moves: the sky, its ringed moon and the comet."""
    ys = (np.arange(LINES, dtype=np.float32) + 0.5)[:, None]
    xs = (np.arange(SAMPLES, dtype=np.float32) + 0.5)[None]
    stops = (
        (0, "1d1a4a"),
        (150, "35286e"),
        (300, "74408c"),
        (420, "c25a86"),
        (510, "f58a6a"),
        (570, "ffbf72"),
        (600, "ffe2a0"),
        (1080, "ffe2a0"),
    )
    at, tones = [s[0] for s in stops], np.array([colour(s[1]) for s in stops])
    sky = np.stack([np.interp(ys[:, 0], at, tones[:, c]) for c in range(3)], axis=1)[:, None].astype(
        np.float32
    )
    target = np.repeat(sky, SAMPLES, axis=1)
    _stars(target)
    _moon(target)
    _comet(target)
    # Long bars of cloud, lit from below by the sun under the horizon.
    bars = texture.cloudy(xs / 520 + ys[:600] / 300, ys[:600] / 46, 5, 3)
    share = np.clip((bars - 0.52) * 5, 0, 1) * np.clip((ys[:600] - 120) / 300, 0, 0.85)
    lit = np.array(colour("ff9a7a"), np.float32) * np.clip(ys[:600, :, None] / 600, 0.3, 1) + np.array(
        (0.1, 0.05, 0.16), np.float32
    )
    target[:600] += share[..., None] * (lit - target[:600])
    painting.glow(target, 1500, 610, 520, colour("ffb050"), 0.55)
    painting.paint(target, shapes.circle(1500, 596, 70), colour("fff6d0"))
    return target


def _stars(target: Plane) -> None:
    random = np.random.RandomState(7)
    for _ in range(260):
        y, x, level = int(random.rand() ** 1.6 * 380), random.randint(SAMPLES), random.uniform(0.3, 1.0)
        target[y, x] += np.float32(level * (1 - y / 420))
        if level > 0.93:
            painting.glow(target, x + 0.5, y + 0.5, 9, (0.8, 0.8, 1.0), 0.8)
            target[y, max(x - 5, 0) : x + 6] += np.float32(0.3)
            target[max(y - 5, 0) : y + 6, x] += np.float32(0.3)


def _moon(target: Plane) -> None:
    x, y, r = 400, 262, 138
    ring = shapes.without(shapes.ellipse(x, y, 262, 52, turn=-16), shapes.ellipse(x, y, 190, 34, turn=-16))
    gap = shapes.without(shapes.ellipse(x, y, 230, 44.5, turn=-16), shapes.ellipse(x, y, 224, 43, turn=-16))
    painting.glow(target, x, y, 330, colour("b070c0"), 0.35)
    painting.paint(target, ring, colour("e8a8c0"), opacity=0.55)
    ball = shapes.circle(x, y, r)
    painting.paint(
        target, ball, texture.radial_gradient(x + 78, y + 84, 226, colour("ffdcb4"), colour("3c2868"))
    )
    for k, (dy, high, tone) in enumerate(
        ((-70, 12, "8a559a"), (-34, 18, "a8689c"), (8, 14, "d58fa0"), (48, 20, "e8a890"), (92, 10, "f4c0a0"))
    ):
        painting.paint(
            target,
            shapes.ellipse(x + 8 * k, y + dy, 190, high, turn=-16),
            colour(tone),
            clip=ball,
            opacity=0.28,
        )
    for part, tone, share in ((ring, "ffd2c8", 0.85), (gap, "6a3f8e", 0.8)):
        painting.paint(
            target,
            part,
            colour(tone),
            clip=shapes.polygon(
                [(x - 300, y + 86), (x + 300, y - 86), (x + 300, y + 160), (x - 300, y + 160)]
            ),
            opacity=share,
        )


def _comet(target: Plane) -> None:
    """Add the comet: two tails fading along their length, thin streaks in them, a bright head."""
    hx, hy = 1246.0, 236.0
    ys = (np.arange(440, dtype=np.float32) + 0.5)[:, None]
    xs = (np.arange(520, SAMPLES, dtype=np.float32) + 0.5)[None]
    for turn, long, wide, tone, strength in (
        (-2.62, 900.0, 60.0, "9fd8ff", 0.75),
        (-2.82, 640.0, 86.0, "ffc8e0", 0.5),
    ):
        c, s = float(np.cos(turn)), float(np.sin(turn))
        along = ((xs - hx) * c + (ys - hy) * s) / np.float32(long)
        across = (ys - hy) * c - (xs - hx) * s
        spread = np.float32(5) + np.float32(wide) * np.maximum(along, 0)
        body = (
            np.exp(-((across / spread) ** 2))
            * np.clip(1 - along, 0, 1) ** 1.6
            * np.clip(along * 40 + 0.5, 0, 1)
        )
        streaks = 0.65 + 0.5 * texture.value_noise(across / spread * 5 + 40, along * 1.5 + 9, 3)
        target[:440, 520:] += (body * streaks * np.float32(strength))[..., None] * np.array(
            colour(tone), np.float32
        )
    painting.glow(target, hx, hy, 120, colour("cfeaff"), 0.8)
    painting.paint(target, shapes.circle(hx, hy, 9), (1.0, 1.0, 1.0))
