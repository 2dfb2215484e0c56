"""Registration reads the same with every kernel and number of threads of the linear algebra library.

Each kernel runs in a process of its own: OpenBLAS reads OPENBLAS_CORETYPE and OPENBLAS_NUM_THREADS as it
loads (its documentation). Other libraries ignore them; the place is checked all the same.
"""

from __future__ import annotations

import os
import platform
import subprocess
import sys

import numpy as np
import pytest
from box_captures import resized

from scalesim.errors import NotIdentifiable
from scalesim.signal.registration.register import Registration, register

SHORT = (("Nehalem", 1), ("Haswell", 1))
KERNELS = tuple((kind, n) for kind in ("Nehalem", "Sandybridge", "Haswell", "Zen") for n in (1, 2))
SHOWN = """
import sys
sys.path[:0] = sys.argv[1:]
import numpy as np
from test_registration_kernels import bars, at, register
from scalesim.jobs.press.press import calibrate
for down in (2.5, 0.5):
    found = register(at(bars(), down, 0.0), at(bars(), 0.0, 0.0))
    print(240 - found.lines(240), 360 - found.samples(360), found.error_lines)
before, after = (np.repeat(at(bars(), down, 0.0)[..., None], 3, axis=2) for down in (0.0, 2.5))
press = calibrate(before, after, 1).total
print(press.lines, press.samples, press.lines_error)
"""


def bars(seed: int = 3) -> np.ndarray:
    """Return a flat ground with a dozen thin bars, 480 x 720 codes: few tones, few ends along the lines."""
    random = np.random.RandomState(seed)
    small = np.full((80, 120), 200.0)
    for top in range(4, 76, 6):
        left = random.randint(0, 40)
        small[top, left : left + 70] = random.randint(0, 60)
    return np.kron(small, np.ones((6, 6)))


def stripes(seed: int = 3) -> np.ndarray:
    """Return stripes of 480 x 720 codes that say nothing of the place along them."""
    return np.kron(np.random.RandomState(seed).randint(30, 220, (80, 1)), np.ones((6, 720))).astype(float)


def at(art: np.ndarray, down: float, right: float, noise: float = 0.0, seed: int = 0) -> np.ndarray:
    """Return art moved by Pillow's fractional resize, its border repeated, in whole codes as 0..1."""
    wide = np.pad(art, 12, mode="edge")[..., None]
    moved = resized(wide, len(wide), (1.0, -down), "triangle", 0)
    codes = resized(moved, wide.shape[1], (1.0, -right), "triangle", 1)[12:-12, 12:-12, 0]
    codes = codes + np.random.RandomState(seed).standard_normal(codes.shape) * noise
    return (np.clip(np.floor(codes + 0.5), 0, 255) / 255).astype(np.float32)


def read(kind: str, threads: int) -> np.ndarray:
    """Return lines, samples and stated error of two moves and of a press as a fresh process reads them."""
    settings = {"OPENBLAS_CORETYPE": kind} if platform.machine().lower() in ("x86_64", "amd64") else {}
    settings |= {name: str(threads) for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS")}
    here = os.path.dirname(__file__)
    done = subprocess.run(
        [sys.executable, "-c", SHOWN, here, os.path.dirname(here)],
        env=os.environ | settings,
        capture_output=True,
        text=True,
        check=True,
    )
    return np.array([[float(v) for v in row.split()] for row in done.stdout.splitlines()])


def check_kernels(kernels: tuple[tuple[str, int], ...]) -> None:
    told = np.array([read(*kernel) for kernel in kernels])
    assert np.ptp(told, axis=0).max() < 1e-3
    assert np.all(np.abs(told[0, :, 0] - (2.5, 0.5, 2.5)) < 3 * told[0, :, 2])
    assert np.all(np.abs(told[0, :, 1]) < 0.05)


@pytest.mark.slow
def test_two_kernels_read_the_same() -> None:
    check_kernels(SHORT)


@pytest.mark.slow
def test_every_kernel_reads_the_same() -> None:
    check_kernels(KERNELS)


def ratios(found: Registration, down: float, right: float) -> tuple[float, float]:
    """Return what both places miss over their stated errors."""
    return (
        (240 - found.lines(240) - down) / found.error_lines,
        (360 - found.samples(360) - right) / found.error_samples,
    )


@pytest.mark.slow
def test_stated_errors_cover_random_moves_of_bars() -> None:
    """Noise 0 to 3 codes in both captures: no miss of four errors, their rms below 2."""
    missed = []
    for seed in range(12):
        down, right = np.random.RandomState(seed).uniform(-4, 4, 2)
        noise = seed % 4
        before = at(bars(seed), 0.0, 0.0, noise, seed)
        found = register(at(bars(seed), down, right, noise, seed + 100), before)
        missed.append(ratios(found, down, right))
    assert np.abs(missed).max() < 4
    assert np.sqrt(np.mean(np.square(missed), axis=0)).max() < 2


@pytest.mark.parametrize("noise", [0.0, 2.0])
def test_stripes_cannot_tell_the_place_along_them(noise: float) -> None:
    """Noise is no detail: its slopes in one capture are not those in the other."""
    shown = (at(stripes(), down, 0.0, noise, seed) for seed, down in enumerate((1.3, 0.0)))
    with pytest.raises(NotIdentifiable, match="along the lines"):
        register(*shown)


def test_a_single_thin_bar_cannot_tell_moves_from_sizes() -> None:
    """Read as 11 lines off where nothing refuses it; a mirrored one is not told from a moved one either."""
    art = np.full((480, 720), 60.0)
    art[300:312, 90:490] = 190
    with pytest.raises(NotIdentifiable, match=r"cannot be told apart|correlates|along the lines"):
        register(at(art, 1.3, -2.2, 2, 1), at(art, 0.0, 0.0, 2, 2))


def test_scales_are_within_three_stated_errors() -> None:
    """Bars moved along the line: both scales are 1 by construction."""
    for seed in range(3):
        down, right = np.random.RandomState(seed).uniform(-4, 4, 2)
        found = register(at(bars(seed), down, right, seed, seed + 100), at(bars(seed), 0.0, 0.0, seed, seed))
        assert abs(found.lines.scale - 1) < 3 * found.scale_error_lines
        assert abs(found.samples.scale - 1) < 3 * found.scale_error_samples
        assert found.condition < 10
