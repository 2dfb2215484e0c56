"""Each kind of stage gives the picture it gave when its golden was accepted (regression, never reference)."""

from __future__ import annotations

from itertools import islice
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from scalesim.chain import Chain
from scalesim.core.landed import landed
from scalesim.core.picture import Picture, still_stream
from scalesim.core.raster import TOP_FIRST, Raster
from scalesim.errors import ParameterError
from scalesim.schema import from_keys
from scalesim.stages import STAGES

FOLDER = Path(__file__).parent / "golden"
LINES, SAMPLES = 48, 64

CHAINS = {  # kinds whose example does not suit a picture of 48 lines: the source's lines, and the stage
    "line-drop": (72, "line-drop lines=48 phase=1/3"),
    "line-average": (72, "line-average lines=48 phase=1/4"),
    "resample": (72, "resample lines=48 kernel=cubic encoding=light"),
    "line-repeat": (24, "line-repeat times=2"),
    "keep-field": (96, "interlace, keep-field parity=bottom"),
    "field-only": (96, "interlace, field-only pair=up"),
    "deinterlace": (48, "interlace, deinterlace how=bob"),
    "position": (48, "position lines=1.5 samples=-2.25"),
    "size": (48, "size height=80 width=90 anchor=bottom-left"),
    "flicker-filter": (48, "flicker-filter taps=-1/2/6/2/-1"),
    "fit": (48, "fit how=crop"),
}
PANNED = {"slip": (1, 8)}
"""Kinds that show on what moves: (output picture to keep, samples the source pans by each picture)."""
POWER = {"resample", "field-only", "deinterlace"}
"""Kinds whose golden went through light: one code of tolerance."""


def test_picture() -> None:
    """The picture the goldens are of never changes (RandomState's stream is promised by NumPy)."""
    picture = source(LINES)
    assert picture.shape == (48, 64, 3) and picture.dtype == np.float32
    assert float(picture[0, 0, 0]) == pytest.approx(0.0) and picture.min() >= 0 and picture.max() <= 1
    assert int(codes(picture).astype(int).sum()) == 1070894


def source(lines: int) -> NDArray:
    """Return a seeded picture: a slanted edge, thin lines, blocks of colour and a little noise."""
    random = np.random.RandomState(7)
    y, x = np.mgrid[0:lines, 0:SAMPLES].astype(np.float64)
    picture = np.stack([x / SAMPLES, y / lines, 1 - x / SAMPLES], axis=2) * 0.6
    picture[(y * 0.7 + x) > 50] += 0.3
    picture[lines // 3, 8:40] = 1.0
    picture[lines // 2 : lines // 2 + 2, 8:40] = 0.0
    for _ in range(6):
        top, left = random.randint(lines - 8), random.randint(SAMPLES - 10)
        picture[top : top + 7, left : left + 9] = random.uniform(size=3)
    picture += random.uniform(-0.02, 0.02, picture.shape)
    picture[0, 0] = 0.0
    return np.clip(picture, 0, 1).astype(np.float32)


def codes(values: NDArray) -> NDArray:
    """Return 8-bit codes, floor(255 V + 1/2)."""
    return np.floor(np.clip(values, 0, 1) * 255 + 0.5).astype(np.uint8)


def made(kind: str) -> NDArray:
    """Return the 8-bit picture of a kind of stage, as it lands on the screen."""
    chain, before = _chain(kind)
    frame = source(before.frame_lines)
    if kind in PANNED:
        number, by = PANNED[kind]
        panned = (Picture(np.roll(frame, by * k, 1), before, k / before.rate) for k in range(8))
        return codes(next(islice(chain.run(panned), number, None)).values)
    pictures = chain.run_still(before, still_stream(frame, before))
    return codes(landed([p.values for p in pictures], chain.resolve(before).output))


def _chain(kind: str) -> tuple[Chain, Raster]:
    if kind in CHAINS:
        lines, text = CHAINS[kind]
        return Chain(text), Raster(lines, SAMPLES)
    chain = Chain(from_keys(STAGES[kind], STAGES[kind].example))
    for before in (Raster(LINES, SAMPLES), Raster(LINES // 2, SAMPLES, fields=TOP_FIRST)):
        try:
            chain.resolve(before)
        except ParameterError:
            continue
        return chain, before
    pytest.fail(
        f"{kind}: its example does not suit {LINES} lines; add a row to CHAINS of tests/test_golden.py"
    )


def compare(actual: NDArray, golden: NDArray, tolerance: int) -> str:
    """Return what differs in words, or nothing."""
    if actual.shape != golden.shape:
        return f"shape is {actual.shape}, the golden's is {golden.shape}"
    apart = np.abs(actual.astype(int) - golden)
    if apart.max() <= tolerance:
        return ""
    worst = np.unravel_index(apart.argmax(), apart.shape)
    place = f"line {worst[0]}, sample {worst[1]}"
    return f"{np.mean(apart > tolerance):.1%} of codes differ, by {apart.max()} at {place}"


@pytest.mark.parametrize("kind", [kind for kind in STAGES if kind != "measured"])
def test_golden(kind: str, request: pytest.FixtureRequest, tmp_path: Path) -> None:
    path = FOLDER / f"{kind}.png"
    actual = made(kind)
    assert actual.shape == (LINES, SAMPLES, 3), (
        f"{kind}: golden pictures are 64 x 48; change its row in CHAINS"
    )
    if request.config.getoption("--update-golden"):
        Image.fromarray(actual).save(path, optimize=True)
        return
    seen = tmp_path / f"{kind}-actual.png"
    Image.fromarray(actual).save(seen)
    if not path.exists():
        pytest.fail(f"{kind} has no golden; look at {seen}, then accept it with --update-golden")
    with Image.open(path) as image:
        golden = np.asarray(image)
    differs = compare(actual, golden, tolerance=1 if kind in POWER else 0)
    if differs:
        _save_difference(actual, golden, tmp_path / f"{kind}-difference.png")
        pytest.fail(f"{kind}: {differs}; see {tmp_path} and golden/README.md on accepting")


def _save_difference(actual: NDArray, golden: NDArray, path: Path) -> None:
    """Save 128 + difference, four times enlarged in value, so that one code can be seen."""
    if actual.shape == golden.shape:
        shown = np.clip(128 + 4 * (actual.astype(int) - golden), 0, 255).astype(np.uint8)
        Image.fromarray(shown).save(path)


def test_no_golden_without_its_kind() -> None:
    strays = sorted(path.name for path in FOLDER.glob("*.png") if path.stem not in STAGES)
    assert not strays, f"goldens of no stage: {', '.join(strays)}; remove them"


def test_the_comparison_notices() -> None:
    """One code is let through only where a power function is involved; two never; another size never."""
    golden = made("line-drop")
    off = golden.copy()
    off[3, 5, 1] ^= 1
    assert compare(off, golden, 1) == "" and "by 1 at line 3, sample 5" in compare(off, golden, 0)
    off[3, 5, 1] = golden[3, 5, 1] ^ 64
    assert "by 64" in compare(off, golden, 1)
    assert "shape is" in compare(golden[1:], golden, 1)


@pytest.mark.parametrize("kind", [kind for kind in STAGES if kind != "measured"])
def test_every_golden_shows_its_stage(kind: str) -> None:
    """A golden equal to its source would guard nothing, except where the stage leaves values alone."""
    _, before = _chain(kind)
    same = np.array_equal(made(kind), codes(source(before.frame_lines)))
    assert same == (kind in ("overscan", "interlace", "resync")), (
        f"{kind}: its golden {'is' if same else 'is not'} its source"
    )
