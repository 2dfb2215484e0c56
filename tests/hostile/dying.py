"""A run that dies at its n-th action on the disk, for every n (or every STEP-th).

What is left is looked at, then recovered.

    python dying.py FOLDER WAY SIGNAL STEP      prints {"actions": n, "stopped": m, "wrong": [...]}

WAY: fresh (nothing there yet), exchange (an earlier result, one step), renames (an earlier result, two).
Actions are Python's audit events of the file system (PEP 578), so no moment between two is left out.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import sys
from pathlib import Path

from earlier import whole, write_result

from scalesim import interrupt
from scalesim.errors import WriteError
from scalesim.io.folder import output_folder
from scalesim.io.output import swap

ACTIONS = {
    *("open", "os.rename", "os.mkdir", "os.rmdir", "os.remove", "os.scandir", "os.listdir"),
    *("shutil.rmtree", "ctypes.dlopen", "ctypes.dlsym"),
}


def die_at(action: int, number: int, way: str, out: Path) -> None:
    """Replace a result and send this process a signal before the n-th action on the disk."""
    interrupt.install()
    interrupt.from_now_on_disk()
    if way == "renames":
        swap.exchange = lambda *_: False
    done = 0

    def watch(event: str, _: object) -> None:
        nonlocal done
        if event in ACTIONS:
            done += 1
            if done == action:
                os.kill(os.getpid(), number)

    sys.addaudithook(watch)
    code = 0
    try:
        with output_folder(out, force=True) as partial:
            write_result(partial, "new")
    except interrupt.Interrupted as stop:
        code = stop.code
    os._exit(code if done >= action else 99)


def one(folder: Path, action: int, number: int, way: str) -> tuple[int, list[str]]:
    """Return how a run ended that was stopped at an action, and what is wrong then and after recovery."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    out = folder / "out"
    if way != "fresh":
        with output_folder(out) as partial:
            write_result(partial, "old")
    child = os.fork()
    if child == 0:
        die_at(action, number, way, out)
    code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    wrong = []
    left = sorted(path.name for path in folder.iterdir())
    at_its_place = whole(out)
    if number == signal.SIGKILL:
        places = [out, *folder.glob("*/old"), *folder.glob("*/new")]
        if way != "fresh" and not any(whole(place) for place in places):
            wrong.append("neither the old nor the new result is whole")
        if way == "exchange" and not at_its_place:
            wrong.append("nothing whole is at its place")
    elif left not in (["out"], []) or (left == [] and way != "fresh"):
        wrong.append(f"left: {left}")
    if number != signal.SIGKILL and code not in (0, 99, 128 + number):
        wrong.append(f"ended with {code}")
    try:
        with output_folder(folder / "next") as partial:
            write_result(partial, "next")
    except WriteError as error:
        wrong.append(f"the next run: {error}")
    recovered = sorted(path.name for path in folder.iterdir())
    expected = {("next", "out")} | ({("next",)} if way == "fresh" else set())
    if tuple(recovered) not in expected:
        wrong.append(f"after the next run: {recovered}")
    if "out" in recovered and not whole(out):
        wrong.append("out is not whole after the next run")
    return code, [f"{way} {signal.Signals(number).name} at {action}: {text}" for text in wrong]


def main() -> None:
    """Stop a run at every action in turn."""
    folder, way, number = Path(sys.argv[1]), sys.argv[2], int(getattr(signal, sys.argv[3]))
    wrong: list[str] = []
    action = stopped = 0
    while action < 2000:
        action += int(sys.argv[4])
        code, found = one(folder, action, number, way)
        wrong += found
        if code == 99:
            break
        stopped += 1
    print(json.dumps({"actions": action, "stopped": stopped, "wrong": wrong}))


if __name__ == "__main__":
    main()
