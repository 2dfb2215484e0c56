"""Same input, same bytes: whole output folders of two processes, and names that every system takes.

The processes differ in the seed of Python's hashes, so that no order of a set can hide. The number of threads
of the linear algebra changes the order of its sums: texts and verdicts stay, figures move by at most `BOUND`.
"""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from scalesim.io.output.names import not_for_windows

BOUND = 1e-6
"""Relative; 1e-7 was the largest seen, in the misfit of a box, whose pictures are in single precision."""

THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
PAIRED = "paired: line-average lines=48, flicker-filter taps=1/2/1, interlace"
BOX = "resample lines=240 kernel=cubic phase=0.25"

JOBS = {
    "predict": ["predict", "a.png", "--chain", PAIRED, "--view", "raster,seen,screen"],
    "compare": ["compare", "a.png", "b.png", "--chain", "drop: line-drop lines=24", "--chain", PAIRED],
    "clips": ["predict", "a.png", "--chain", PAIRED, "--clip", "mp4", "--clip", "mkv", "--seconds", "0.5"],
    "tune": ["tune", "a.png", "--chain", "line-average lines=24", "--vary", "line-average.phase=0:2:0.5"],
    "chart": ["chart", "kernel", "--mode", "480p60", "--seconds", "0.5"],
    "identify": ["identify", "box.png", "--chart", "kernel", "--mode", "480p60"],
    "fields": ["fields", "woven.png"],
}


def frames(folder: Path) -> None:
    """Write two frames of blocks, lines and slants."""
    dice = np.random.RandomState(4)
    for name in ("a", "b"):
        codes = dice.randint(0, 256, (24, 32, 3)).astype(np.uint8).repeat(4, axis=0).repeat(4, axis=1)
        codes[40:42, 10:100] = 250
        Image.fromarray(codes).save(folder / f"{name}.png")
    Image.fromarray(np.tile(codes, (5, 2, 1))).save(folder / "tall.png")


def run(folder: Path, words: list[str], out: str, *, seed: int, threads: int) -> None:
    """Run the program in a folder, the result in `out` there."""
    path = os.pathsep.join(os.path.abspath(part) for part in sys.path if part)
    more = {"PYTHONPATH": path, "PYTHONHASHSEED": str(seed), **dict.fromkeys(THREADS, str(threads))}
    asked = [sys.executable, "-m", "scalesim", *words, "--out", out]
    done = subprocess.run(asked, cwd=folder, env={**os.environ, **more}, capture_output=True, timeout=200)
    assert done.returncode in (0, 1), done.stderr


def digests(folder: Path) -> dict[str, str]:
    """Return place -> digest of every file."""
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def unlike(one: Any, other: Any, place: str = "") -> list[str]:
    """Return where two documents differ by more than the bound."""
    if isinstance(one, dict) and isinstance(other, dict) and set(one) == set(other):
        return [at for key in one for at in unlike(one[key], other[key], f"{place}/{key}")]
    if isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        pairs = enumerate(zip(one, other, strict=True))
        return [at for k, (a, b) in pairs for at in unlike(a, b, f"{place}/{k}")]
    if isinstance(one, float) and isinstance(other, float):
        return (
            [] if abs(one - other) <= BOUND * max(abs(one), abs(other), 1) else [f"{place}: {one}, {other}"]
        )
    return [] if one == other else [f"{place}: {one}, {other}"]


def told(folder: Path) -> Any:
    """Return the document without what follows from the other files' bytes."""
    found = json.loads((folder / "result.json").read_text(encoding="utf-8"))
    return {key: value for key, value in found.items() if key not in ("own_sha256", "written_files")}


def check_names(folder: Path) -> None:
    """Every name in a result can be unpacked on every system: none reserved, none equal but for its case."""
    places = [path.relative_to(folder) for path in folder.rglob("*")]
    assert not [place for place in places if not_for_windows(place.name)]
    assert len({str(place).lower() for place in places}) == len(places)


def check(folder: Path, words: list[str]) -> None:
    run(folder, words, "one", seed=1, threads=1)
    run(folder, words, "two", seed=2, threads=1)
    assert digests(folder / "one") == digests(folder / "two")
    check_names(folder / "one")
    run(folder, words, "more", seed=1, threads=2)
    assert unlike(told(folder / "one"), told(folder / "more")) == []
    pages = [(folder / name / "index.html").read_text(encoding="utf-8") for name in ("one", "more")]
    assert pages[0] == pages[1]  # figures are printed far coarser than the bound


@pytest.mark.slow
@pytest.mark.parametrize("job", JOBS)
def test_same_bytes(tmp_path: Path, job: str) -> None:
    frames(tmp_path)
    if job == "identify":
        run(tmp_path, ["chart", "kernel", "--mode", "480p60"], "chart", seed=1, threads=1)
        run(
            tmp_path,
            ["predict", "chart/chart.png", "--mode", "480p60", "--chain", BOX],
            "p",
            seed=1,
            threads=1,
        )
        (tmp_path / "p" / "raster.png").rename(tmp_path / "box.png")
    if job == "fields":
        run(tmp_path, ["predict", "tall.png", "--chain", "interlace"], "p", seed=1, threads=1)
        (tmp_path / "p" / "woven.png").rename(tmp_path / "woven.png")
    check(tmp_path, JOBS[job])


def test_a_difference_is_found(tmp_path: Path) -> None:
    """What these tests rest on can fail."""
    assert unlike({"a": [1.0, "x"]}, {"a": [1.0 + 1e-3, "y"]}) == ["/a/0: 1.0, 1.001", "/a/1: x, y"]
    assert unlike({"a": 1.0}, {"a": 1.0 + 1e-12}) == [] != unlike({"a": 1.0}, {"b": 1.0})
    if os.name == "nt":
        pytest.skip("no file can be named as a device")
    (tmp_path / "Aux.png").touch()
    with pytest.raises(AssertionError):
        check_names(tmp_path)
    before = digests(tmp_path)
    (tmp_path / "Aux.png").write_text("x")
    assert digests(tmp_path) != before
