"""Mutated files of every kind: each is read, or refused with one line; never a fault, a hang or 2 GB.

About 30 s by default. ``SCALESIM_FUZZ=10000`` gives the number of mutated files of each kind instead; with
``-s`` the counts are printed. Mutations: bits turned, bytes replaced, parts cut out, doubled or zeroed, the
end missing.
"""

from __future__ import annotations

import contextlib
import json
import os
import random
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from picture_files import save_each_kind

import scalesim as ss
from scalesim.core.operator_file import OperatorFile
from scalesim.errors import ScalesimError
from scalesim.io.clips.write import write_clip
from scalesim.io.documents import read_chain_file, read_toml_text
from scalesim.io.notes import note_beside, read_study
from scalesim.io.saved import read_saved
from scalesim.tube.display import Display

ASKED = int(os.environ.get("SCALESIM_FUZZ", "0"))
SLOWEST_S = 20.0
MOST_BYTES = 2 * 10**9
COUNTED: Counter[str] = Counter()
"""How many mutated files were read, and how many refused."""


@pytest.fixture(scope="module", autouse=True)
def counts() -> Iterator[None]:
    """Print the counts at the end, and hold the memory that all of it took at most below the limit."""
    before = peak_bytes(anew=True)
    yield
    print(f"\nmutated files: {dict(COUNTED)}, peak {(peak_bytes() - before) / 1e6:.0f} MB more than before")
    assert peak_bytes() - before < MOST_BYTES


CHAIN = """name = "a"
[[stage]]
kind = "line-drop"
lines = 24
phase = 0.5
[[dial]]
key = "line-drop.phase"
first = 0
last = 1
step = 0.25
"""
DISPLAY = """name = "study"
diagonal_mm = 500
aspect = "4:3"
tv_lines = 400
beam_width = 0.7
"""
NOTE = """box = "grey"
date = 2024-03-05
minutes_on = 30.5
source_mode = "custom"
[dials]
sharpness = 2
"""
STUDY = """frames = ["a.png"]
by = ["line_doubling"]
crop = [1, 2, 8, 8]
[[chain]]
name = "x"
text = "line-drop lines=24"
"""
FIELD = {"parity": 0, "landing": "0", "phase": 0.0, "rows": [[0, [0.5, 0.5]], [2, [0.5, 0.5]]]}
OPERATOR = json.dumps(
    {
        "scalesim_operator": 1,
        "lines_in": 4,
        "fields_in": 1,
        "encoding": "code",
        "step": 2,
        "fields": [FIELD],
    }
)


def mutated(data: bytes, dice: random.Random) -> bytes:
    """Return the bytes with one to four damages."""
    held = bytearray(data)
    for _ in range(dice.randint(1, 4)):
        at = dice.randrange(len(held) or 1)
        size = dice.choice((1, 2, 4, 16, 64))
        kind = dice.randrange(6)
        if kind == 0 and held:
            held[at] ^= 1 << dice.randrange(8)
        elif kind == 1:
            held[at : at + size] = dice.randbytes(min(size, 4))
        elif kind == 2:
            del held[at : at + size]
        elif kind == 3:
            held[at:at] = held[at : at + size]
        elif kind == 4:
            held[at : at + size] = dice.choice((b"\0", b"\xff", b"9", b"-", b"[")) * size
        else:
            del held[at:]
    return bytes(held)


def mutations(data: bytes, seed: int, count: int) -> Any:
    """Yield mutated files: `ASKED` of them, or `count`, the same on every machine."""
    dice = random.Random(seed)
    for _ in range(ASKED or count):
        yield mutated(data, dice)


def tried(read: Callable[[], object], what: str) -> None:
    """Read; an error must be ours and one line, and nothing may take long."""
    begin = time.process_time()
    try:
        read()
        COUNTED["read"] += 1
    except ScalesimError as error:
        COUNTED["refused"] += 1
        assert "\n" not in str(error) and str(error), what
    assert time.process_time() - begin < SLOWEST_S, what


def all_of(clip: ss.Clip) -> None:
    if not clip.is_still:
        for picture in clip.pictures():
            assert np.isfinite(picture.values).all()


@pytest.mark.filterwarnings("ignore")
def test_mutated_pictures(tmp_path: Path) -> None:
    (tmp_path / "whole").mkdir()
    files = save_each_kind(tmp_path / "whole")
    assert {path.suffix for path in files} == {".png", ".jpg", ".webp", ".bmp", ".tif"}
    for seed, path in enumerate(files):
        place = tmp_path / path.name
        for number, data in enumerate(mutations(path.read_bytes(), seed, 40)):
            place.write_bytes(data)
            tried(lambda place=place: ss.read(place), f"{path.name} {number}")


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("ending", [".mkv", ".mp4", ".apng", ".webp"])
def test_mutated_clips(tmp_path: Path, ending: str) -> None:
    """A mutated head may state any size; decoders must not make room for it (the peak is looked at last)."""
    noise = np.random.RandomState(2).randint(0, 256, (6, 48, 64, 3)).astype(np.uint8)
    whole = tmp_path / f"whole{ending}"
    write_clip(whole, iter(noise), Fraction(60))
    place = tmp_path / f"a{ending}"
    for number, data in enumerate(mutations(whole.read_bytes(), 7, 40)):
        place.write_bytes(data)
        tried(lambda: all_of(ss.read(place)), f"{ending} {number}")


def peak_bytes(anew: bool = False) -> float:
    """Return the most memory that this process has held; on Linux since it was last asked `anew`."""
    try:
        if anew:
            Path("/proc/self/clear_refs").write_text("5")
        told = Path("/proc/self/status").read_text()
        return 1024 * float(told.partition("VmHWM:")[2].split()[0])
    except (OSError, IndexError):  # no Linux
        pass
    try:
        import resource
    except ImportError:  # Windows
        return 0
    unit = 1 if sys.platform == "darwin" else 1024
    return float(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit)


def use_chain(path: Path) -> None:
    chain = read_chain_file(path)
    chain.to_toml()
    assert ss.Chain(str(chain)) == chain
    chain.resolve(ss.Raster(48, 64))


def use_note(path: Path) -> None:
    json.dumps(note_beside(path.with_suffix(".png")), allow_nan=False)


def use_display(path: Path) -> None:
    Display.from_toml(read_toml_text(path, "display"))


def use_operator(path: Path) -> None:
    OperatorFile.from_json(path.read_text(encoding="utf-8"), name="a").operator()


READERS: dict[str, tuple[str, str, Callable[[Path], object]]] = {
    "chain": ("a.toml", CHAIN, use_chain),
    "display": ("a.toml", DISPLAY, use_display),
    "note": ("a.toml", NOTE, use_note),
    "study": ("a.toml", STUDY, read_study),
    "operator": (
        "a.json",
        OPERATOR,
        lambda path: ss.Chain(f"measured file='{path}'").resolve(ss.Raster(4, 64)),
    ),
}


@pytest.mark.parametrize("kind", READERS)
def test_mutated_texts(tmp_path: Path, kind: str) -> None:
    name, text, use = READERS[kind]
    use_whole = tmp_path / name
    use_whole.write_text(text, encoding="utf-8")
    use(use_whole)  # whole, it is read
    for number, data in enumerate(mutations(text.encode(), 11, 400)):
        place = tmp_path / f"{number % 50}-{name}"
        place.write_bytes(data)
        tried(lambda place=place: use(place), f"{kind} {number}: {data!r}")


def test_mutated_chain_texts() -> None:
    text = b"a: line-average lines=480, flicker-filter taps=1/2/1, line-drop lines=240 phase=1"
    for number, data in enumerate(mutations(text, 13, 1500)):
        mutant = data.decode("utf-8", "surrogateescape")
        tried(lambda mutant=mutant: str(ss.Chain(mutant)), f"{number}: {mutant!r}")


def test_mutated_result_folders(tmp_path: Path) -> None:
    frame = np.linspace(0, 1, 48 * 64 * 3, dtype=np.float32).reshape(48, 64, 3)
    ss.save(ss.predict(frame, "line-drop lines=24"), tmp_path / "r")
    files = [tmp_path / "r" / name for name in ("result.json", "answer.json", "raster.png")]

    def use() -> None:
        found = read_saved(tmp_path / "r")
        assert found.pictures is not None
        assert list(found.parts()) is not None
        found.sentences()

    use()
    for path in files:
        whole = path.read_bytes()
        for number, data in enumerate(mutations(whole, 17, 60)):
            path.write_bytes(data)
            tried(use, f"{path.name} {number}")
        path.write_bytes(whole)


def test_mutated_files_on_the_command_line(tmp_path: Path) -> None:
    """What a terminal sees of one: a line, exit code 2 or 0, and nothing of the libraries'."""
    (tmp_path / "whole").mkdir()
    for seed, path in enumerate(save_each_kind(tmp_path / "whole")[::4]):
        data = next(iter(mutations(path.read_bytes(), 100 + seed, 1)))
        place = tmp_path / path.name
        place.write_bytes(data)
        words = [sys.executable, "-m", "scalesim", "predict", str(place), "--chain", "line-drop lines=7"]
        done = subprocess.run([*words, "--out", str(tmp_path / "o")], capture_output=True, timeout=60)
        said = done.stderr.decode("utf-8", "replace")  # in the encoding of the system
        assert done.returncode in (0, 2) and "Traceback" not in said and "fault of the program" not in said
        assert all(line.startswith(("scalesim: ", "note: ")) for line in said.splitlines()), said
        with contextlib.suppress(FileNotFoundError):
            import shutil

            shutil.rmtree(tmp_path / "o")
