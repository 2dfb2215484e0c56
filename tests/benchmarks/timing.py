"""Timing as ratios to a reference in the same run, printed as a table and kept under outputs/."""

from __future__ import annotations

import platform
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import scipy
import skimage

OUTPUT = Path(__file__).parents[2] / "outputs" / "benchmarks"


def best_ms(call: Callable[[], object], repeats: int = 9) -> float:
    """Return the shortest of several runs in ms: the one other work on the machine disturbed least."""
    call()
    found = []
    for _ in range(repeats):
        begin = time.perf_counter()
        call()
        found.append(1e3 * (time.perf_counter() - begin))
    return min(found)


def report(name: str, rows: list[tuple[str, float, float, str]]) -> None:
    """Print and keep (what, measured, reference, limit) rows with their ratios."""
    head = (
        f"{name}: Python {platform.python_version()}, NumPy {np.__version__}, SciPy {scipy.__version__}, "
        f"scikit-image {skimage.__version__}, {platform.machine()}"
    )
    lines = [head, f"{'what':<58}{'measured':>10}{'reference':>11}{'ratio':>8}  limit"]
    lines += [
        f"{what:<58}{got:>10.1f}{ref:>11.1f}{got / ref:>8.2f}  {limit}" for what, got, ref, limit in rows
    ]
    text = "\n".join(lines)
    print("\n" + text)
    OUTPUT.mkdir(parents=True, exist_ok=True)
    (OUTPUT / f"{name}.txt").write_text(text + "\n", encoding="utf-8")


def plot(name: str, title: str, rows: list[tuple[str, float, float, str]]) -> None:
    """Draw the ratios of rows as points on a logarithmic axis, the reference at 1, under outputs/."""
    import matplotlib.pyplot as plt

    figure, axes = plt.subplots(figsize=(8, 1 + 0.35 * len(rows)), layout="constrained")
    places = range(len(rows))
    axes.scatter([got / ref for _, got, ref, _ in rows], places, color="#0072b2", zorder=2)
    axes.axvline(1, color="#888888", linewidth=1)
    axes.set(xscale="log", xlabel="measured over reference", title=title)
    axes.set_yticks(list(places), [what for what, *_ in rows])
    axes.invert_yaxis()
    axes.grid(axis="x", alpha=0.3)
    figure.savefig(OUTPUT / f"{name}.png", dpi=120)
    plt.close(figure)
