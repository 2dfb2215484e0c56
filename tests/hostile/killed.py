"""Real commands stopped at random moments, each in a fork of this process, which has everything loaded.

    python killed.py FOLDER SECONDS MOST SEED      prints {"stopped": n, "ended": {...}, "wrong": [...]}

It goes on for so many seconds or so many stops. Each time a command, a signal (KILL, TERM, INT, or INT
twice) and a moment of its run are drawn; then the disk and what was said are looked at.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import sys
import time
from collections import Counter
from pathlib import Path

import numpy as np
from earlier import whole
from PIL import Image

from scalesim import interrupt

PREDICT = [
    "predict",
    "in.png",
    "--chain",
    "line-drop lines=120",
    "--view",
    "raster",
    "--metrics",
    "flicker_db",
]
COMMANDS = {
    "predict": [*PREDICT],
    "clip": [*PREDICT, "--clip", "mkv", "--seconds", "0.5"],
    "draw": ["chart", "levels", "--mode", "240p60", "--seconds", "0.1"],
}
SIGNALS = {
    "KILL": [signal.SIGKILL],
    "TERM": [signal.SIGTERM],
    "INT": [signal.SIGINT],
    "INT twice": [signal.SIGINT, signal.SIGINT],
    "INT, then TERM": [signal.SIGINT, signal.SIGTERM],
}
CODES = {signal.SIGKILL: -9, signal.SIGTERM: 143, signal.SIGINT: 130}


def started(words: list[str], said: Path) -> int:
    """Start a command as a process of its own; return its number."""
    ready, tell = os.pipe()
    child = os.fork()
    if child:
        os.close(tell)
        os.read(ready, 1)  # until it answers signals
        os.close(ready)
        return child
    with said.open("wb") as file:
        os.dup2(file.fileno(), 2)
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    from scalesim.__main__ import main

    sys.argv = ["scalesim", *words]
    interrupt.install()
    os.write(tell, b".")
    code = 99
    try:
        code = main()
    except BaseException as error:  # whatever escapes is a fault
        print(f"Traceback: {error!r}", file=sys.stderr)
    finally:
        sys.stderr.flush()
        os._exit(code)


def code_of(child: int) -> int:
    """Wait for a process; return its exit code, minus the signal's number when that ended it."""
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def worked(child: int) -> float:
    """Return how long the processor has worked for a process, in seconds; infinite where nothing tells it."""
    try:
        user, system = Path(f"/proc/{child}/stat").read_bytes().rpartition(b")")[2].split()[11:13]
    except OSError:  # no Linux
        return float("inf")
    return (int(user) + int(system)) / os.sysconf("SC_CLK_TCK")


def stopped(ended: Counter[str]) -> int:
    """Return how many runs did not come to their end."""
    return sum(count for name, count in ended.items() if not name.endswith(" 0"))


def left(folder: Path) -> list[str]:
    """Return what lies in a folder."""
    return sorted(path.name for path in folder.iterdir())


def partials(folder: Path) -> dict[str, int]:
    """Return name -> inode of what lies beside the result; of a run that was killed, something does."""
    return {path.name: path.stat().st_ino for path in folder.iterdir() if path.name not in ("in.png", "out")}


def wrong_after(
    code: int, sent: list[signal.Signals], text: str, folder: Path, before: dict[str, int]
) -> list[str]:
    """Return what is wrong after a run was stopped; `before`: what an earlier one had left."""
    found = []
    if not whole(folder / "out"):
        found.append(f"what is at its place is not whole: {left(folder)}")
    if signal.SIGKILL in sent:
        return found
    if more := partials(folder).items() - before.items():
        found.append(f"left: {sorted(more)}")
    if code not in (0, *(CODES[number] for number in sent)):
        found.append(f"ended with {code}")
    lines = [line for line in text.splitlines() if line and not line.startswith("note: ")]
    if len(lines) != (1 if code else 0) or (code and "interrupted; " not in lines[0]):
        found.append(f"said: {lines}")
    return found


def main() -> None:
    """Stop commands until the time is over."""
    folder, seconds, most, seed = Path(sys.argv[1]), float(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4])
    folder.mkdir()
    os.chdir(folder)
    noise = np.random.default_rng(0).integers(0, 255, (240, 320, 3), np.uint8)
    Image.fromarray(noise).save("in.png")
    lasting, working = {}, {}
    for name, words in COMMANDS.items():  # as they are, and so that everything is loaded
        begun, own = time.monotonic(), os.times()
        child = started([*words, "--out", "out", "--force"], folder.parent / "said")
        assert code_of(child) == 0, (folder.parent / "said").read_text()
        lasting[name] = time.monotonic() - begun
        now = os.times()
        working[name] = now.children_user + now.children_system - own.children_user - own.children_system
    draw = random.Random(seed)
    ended: Counter[str] = Counter()
    wrong: list[str] = []
    until = time.monotonic() + seconds
    while time.monotonic() < until and stopped(ended) < most:
        name, kind = draw.choice(list(COMMANDS)), draw.choice(list(SIGNALS))
        before = partials(folder)
        child = started([*COMMANDS[name], "--out", "out", "--force"], folder.parent / "said")
        moment = draw.uniform(0, lasting[name] * 1.05)
        time.sleep(moment)
        for number in SIGNALS[kind]:
            os.kill(child, number)
            time.sleep(draw.uniform(0, 0.01))
        done = worked(child)
        code = code_of(child)
        if code == 0 and done < 0.2 * working[name]:
            wrong.append(f"{name} {kind} at {moment:.3f} s: was not heard")
        ended[f"{name} {kind} {code}"] += 1
        if code == 0:  # it was over: a machine less busy than at first
            lasting[name] *= 0.8
        text = (folder.parent / "said").read_text("utf-8", "replace")
        found = wrong_after(code, SIGNALS[kind], text, folder, before)
        wrong += [f"{name} {kind} at {moment:.3f} s: {each}" for each in found]
        if not whole(folder / "out"):  # told once, not again at every stop to come
            shutil.rmtree(folder / "out", ignore_errors=True)
            code_of(started([*COMMANDS["draw"], "--out", "out"], folder.parent / "said"))
    child = started([*COMMANDS["draw"], "--out", "out", "--force"], folder.parent / "said")
    if code_of(child) or left(folder) != ["in.png", "out"]:
        wrong.append(f"at the end: {left(folder)}; {(folder.parent / 'said').read_text()}")
    print(json.dumps({"stopped": stopped(ended), "ended": ended, "wrong": wrong}))


if __name__ == "__main__":
    # loaded once, before the forks
    import av  # noqa: F401

    from scalesim.cli import chart, predict  # noqa: F401

    main()
