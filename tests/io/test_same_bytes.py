"""Equal pictures give equal files, whatever the processors; no source outside: two files are compared."""

from __future__ import annotations

import os
import subprocess
import sys
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from clip_files import moving, woven
from few import few

from scalesim.io.clips.write import write_clip

KINDS = [
    (".mp4", None),
    (".mp4", "top"),
    (".mkv", None),
    (".mkv", "bottom"),
    (".apng", None),
    (".webp", None),
]


@pytest.mark.parametrize("kind", few(KINDS, 3))
def test_a_clip_written_twice(tmp_path: Path, kind: tuple[str, Any]) -> None:
    ending, order = kind
    pictures = [np.repeat(one, 5, axis=0) for one in woven(moving(32, width=640), order)]
    files = [tmp_path / f"{k}{ending}" for k in range(3)]
    for file in files:
        write_clip(file, pictures, Fraction(60), field_order=order)
    first, *others = (file.read_bytes() for file in files)
    assert all(other == first for other in others)


@pytest.mark.parametrize("ending", [".mp4", ".mkv"])
@pytest.mark.skipif(
    not hasattr(os, "sched_setaffinity") or len(os.sched_getaffinity(0)) < 2, reason="needs two processors"
)
def test_a_clip_on_one_processor_and_on_two(tmp_path: Path, ending: str) -> None:
    write = (
        "import os, sys; sys.path[:0] = sys.argv[2:]\n"
        "from fractions import Fraction; from clip_files import moving, woven\n"
        "from scalesim.io.clips.write import write_clip\n"
        "import numpy as np\n"
        "tall = [np.repeat(one, 5, axis=0) for one in woven(moving(32, width=640), 'top')]\n"
        "write_clip(sys.argv[1], tall, Fraction(60), field_order='top')"
    )
    every = sorted(os.sched_getaffinity(0))
    made = []
    for cores in (every[:1], every):
        file = tmp_path / f"{len(cores)}{ending}"
        limit = f"import os; os.sched_setaffinity(0, {cores})\n"
        subprocess.run([sys.executable, "-c", limit + write, str(file), *sys.path], check=True)
        made.append(file.read_bytes())
    assert made[0] == made[1]
