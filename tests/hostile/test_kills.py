"""Commands stopped at random moments, at their very start, twice in a row; and several at once.

SCALESIM_KILLS sets how many random moments the long test takes (200).
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from earlier import is_posix, only_when_asked, whole

import scalesim

pytestmark = pytest.mark.skipif(not is_posix(), reason="sends POSIX signals")

HERE = Path(__file__).parent
DEFAULT_S = 15
CHART = ["chart", "levels", "--mode", "240p60", "--seconds", "0.1"]

AT_IMPORT = """
import os, signal, sys

from scalesim import interrupt

awaited, signals = sys.argv[1], sys.argv[2].split(",")
del sys.argv[1:3]


class Finder:
    def find_spec(self, name, *_):
        if name == awaited:
            for each in signals:
                os.kill(os.getpid(), getattr(signal, each))


sys.meta_path.insert(0, Finder())
interrupt.install()
from scalesim.__main__ import main

sys.exit(main())
"""
"""A program that is sent signals when a module is about to be loaded."""


def environment() -> dict[str, str]:
    """Return an environment in which the package and the helpers of these tests are found."""
    places = [str(HERE), str(Path(scalesim.__file__).parents[1]), os.environ.get("PYTHONPATH", "")]
    return {**os.environ, "PYTHONPATH": os.pathsep.join(places)}


def start(*words: str, cwd: Path) -> subprocess.Popen[str]:
    """Start a command as a process of its own."""
    return subprocess.Popen(
        [sys.executable, "-m", "scalesim", *words],
        cwd=cwd,
        env=environment(),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def kill_loop(tmp_path: Path, seconds: float, most: int, seed: int) -> None:
    """Stop commands at random moments until the time or the number is reached, and report counts."""
    script = [sys.executable, HERE / "killed.py", tmp_path / "disk", str(seconds), str(most), str(seed)]
    done = subprocess.run(script, env=environment(), capture_output=True, text=True, timeout=seconds + 600)
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    print(f"stopped {found['stopped']} times: {found['ended']}")
    assert found["wrong"] == []
    assert found["stopped"] >= min(most, 1)


@pytest.mark.slow
def test_stopped_at_random_moments(tmp_path: Path) -> None:
    """A few seconds of it in every run of the tests."""
    kill_loop(tmp_path, DEFAULT_S, 1000, seed=1)


@pytest.mark.slow
def test_stopped_at_many_random_moments(tmp_path: Path, request: pytest.FixtureRequest) -> None:
    """As many as asked for."""
    only_when_asked(request)
    kill_loop(tmp_path, 3600, int(os.environ.get("SCALESIM_KILLS", "200")), seed=2)


@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM"])
@pytest.mark.parametrize("share", [0.1, 0.3, 0.6, 0.9])
def test_stopped_while_it_is_loading(tmp_path: Path, name: str, share: float) -> None:
    """One line and nothing left once signals are answered, which is loaded first; before, Python answers.

    On a machine that is busy now and idle then the command may be over when the signal comes: all is there.
    """
    number = getattr(signal, name)
    begun = time.monotonic()
    start("--version", cwd=tmp_path).communicate(timeout=300)
    lasting = time.monotonic() - begun
    process = start(*CHART, "--out", "out", cwd=tmp_path)
    time.sleep(share * lasting)
    process.send_signal(number)
    said, err = process.communicate(timeout=300)
    if (tmp_path / "out").exists():
        assert whole(tmp_path / "out") == "chart"
        return
    assert list(tmp_path.iterdir()) == [] and said == ""
    assert f"{os.sep}cli{os.sep}" not in err, "a traceback through the program"
    if "Traceback" not in err and process.returncode != -number:
        assert (process.returncode, err) == (128 + number, "scalesim: interrupted; nothing was written\n")


def test_loading_answers_from_its_first_line(tmp_path: Path) -> None:
    """A signal sent as soon as the program answers signals, in the midst of its imports."""
    for module in ("scalesim.cli.main", "rich_click", "scalesim.cli.chart", "numpy", "scalesim.io.folder"):
        command = [sys.executable, "-c", AT_IMPORT, module, "SIGINT", *CHART, "--out", "out"]
        done = subprocess.run(command, cwd=tmp_path, env=environment(), capture_output=True, text=True)
        assert (done.returncode, done.stderr) == (130, "scalesim: interrupted; nothing was written\n"), module
        assert list(tmp_path.iterdir()) == []


SECOND_AFTER_THE_LINE = """
import os, signal
from scalesim import interrupt
interrupt.install()
write = os.write
def followed(*told):
    write(*told)
    os.write = write
    signal.raise_signal(signal.SIGTERM)
os.write = followed
signal.raise_signal(signal.SIGINT)
"""


def test_a_second_signal_between_the_line_and_the_end() -> None:
    """The first one's line and code stand, and stand once."""
    command = [sys.executable, "-c", SECOND_AFTER_THE_LINE]
    done = subprocess.run(command, env=environment(), capture_output=True, text=True, timeout=60)
    assert (done.returncode, done.stderr) == (130, "scalesim: interrupted; nothing was written\n")


LATE = [pytest.param(name, marks=pytest.mark.slow) for name in ("PIL.Image", "jinja2", "scalesim.page.html")]


@pytest.mark.parametrize("module", ["av", *LATE])
@pytest.mark.parametrize("signals", [["SIGINT"], ["SIGTERM"], ["SIGINT", "SIGINT"], ["SIGTERM", "SIGINT"]])
def test_stopped_once_it_writes(tmp_path: Path, module: str, signals: list[str]) -> None:
    """In the imports that come late, once or twice: one line, nothing left."""
    command = [sys.executable, "-c", AT_IMPORT, module, ",".join(signals), *CHART, "--out", "out"]
    done = subprocess.run(command, cwd=tmp_path, env=environment(), capture_output=True, text=True)
    codes = {128 + getattr(signal, name) for name in signals}
    assert done.returncode in codes, done.stderr
    assert done.stderr == "scalesim: interrupted; nothing was written\n"
    assert list(tmp_path.iterdir()) == []


def test_several_at_once_take_numbers(tmp_path: Path) -> None:
    """With the default name every one gets a folder of its own, and each tells the one it wrote."""
    runs = [start(*CHART, "--json", cwd=tmp_path) for _ in range(4)]
    told = [run.communicate(timeout=240) for run in runs]
    assert [run.returncode for run in runs] == [0] * 4, told
    written = {Path(json.loads(said)["out"]) for said, _ in told}
    base = tmp_path / "outputs" / "chart-levels-240p60"
    assert written == {base, *(base.with_name(f"{base.name}-{n}") for n in (2, 3, 4))}
    assert all(whole(folder) == "chart" for folder in written)
    assert set((tmp_path / "outputs").iterdir()) == written


def test_several_at_once_with_one_name(tmp_path: Path) -> None:
    """One writes; the others are told before any work."""
    runs = [start(*CHART, "--out", "out", cwd=tmp_path) for _ in range(3)]
    told = [run.communicate(timeout=240) for run in runs]
    assert sorted(run.returncode for run in runs) == [0, 2, 2], told
    for run, (_, err) in zip(runs, told, strict=True):
        if run.returncode:
            assert err.count("\n") == 1 and ("another run is writing it" in err or "exists" in err)
    assert [path.name for path in tmp_path.iterdir()] == ["out"] and whole(tmp_path / "out") == "chart"


def test_an_interruption_after_the_end_says_what_is_there(tmp_path: Path) -> None:
    """Not "nothing was written" when the result is in its place."""
    text = (
        "import os, signal, sys\n"
        "from scalesim.cli import build\n"
        "from scalesim.cli import show as shown\n"
        "shown.show_result = lambda *_: os.kill(os.getpid(), signal.SIGINT)\n"
        "from scalesim.__main__ import main\n"
        "sys.exit(main())\n"
    )
    command = [sys.executable, "-c", text, *CHART, "--out", "out"]
    done = subprocess.run(command, cwd=tmp_path, env=environment(), capture_output=True, text=True)
    assert done.returncode == 130
    assert done.stderr.splitlines()[-1] == f"scalesim: interrupted; {tmp_path / 'out'} is complete"
    assert whole(tmp_path / "out") == "chart"


def test_a_lost_interruption_is_raised_again(tmp_path: Path) -> None:
    """Some libraries drop any error that passes through them (PyObject_HasAttr of Python's C interface)."""
    text = (
        "import os, signal, sys, time\n"
        "from scalesim.io import picture_store\n"
        "def swallow(*_):\n"
        "    try: os.kill(os.getpid(), signal.SIGTERM)\n"
        "    except BaseException: pass\n"
        "    time.sleep(900)\n"
        "picture_store.PictureStore.__init__ = swallow\n"
        "from scalesim.__main__ import main\n"
        "sys.exit(main())\n"
    )
    command = [sys.executable, "-c", text, *CHART, "--out", "out"]
    done = subprocess.run(
        command, cwd=tmp_path, env=environment(), capture_output=True, text=True, timeout=300
    )
    assert (done.returncode, done.stderr) == (143, "scalesim: interrupted; nothing was written\n")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("ended", ["heed", "no_more"])
def test_what_raises_it_again_is_stopped_before_the_program_ends(ended: str) -> None:
    """Python takes its handlers back at its end: the alarm would then kill a program whose tidying took long.

    It did so on a busy machine: exit code -14, SIGALRM's, in place of 143.
    """
    text = (
        "import signal\n"
        "from scalesim import interrupt\n"
        "interrupt.install(); interrupt.from_now_on_disk(); interrupt.AGAIN_S = 300\n"
        "try: signal.raise_signal(signal.SIGTERM)\n"
        "except interrupt.Interrupted: set_for = signal.getitimer(signal.ITIMER_REAL)[0]\n"
        f"interrupt.{ended}()\n"
        "print(set_for > 0, signal.getitimer(signal.ITIMER_REAL))\n"
    )
    done = subprocess.run([sys.executable, "-c", text], env=environment(), capture_output=True, text=True)
    assert done.stdout == "True (0.0, 0.0)\n", done.stderr


@pytest.mark.parametrize("error", ["ImportError('no')", "OSError(5, 'no')", "SystemExit(1)"])
@pytest.mark.parametrize(("name", "code"), [("SIGINT", 130), ("SIGTERM", 143)])
def test_an_interruption_that_became_another_error(tmp_path: Path, name: str, code: int, error: str) -> None:
    """Imports in C make errors of their own of it: still the signal's exit code, and its one line."""
    text = (
        "import os, signal, sys\n"
        "from scalesim.io import picture_store\n"
        "def change(*_):\n"
        f"    try: os.kill(os.getpid(), signal.{name})\n"
        f"    except BaseException: raise {error}\n"
        "picture_store.PictureStore.__init__ = change\n"
        "from scalesim.__main__ import main\n"
        "sys.exit(main())\n"
    )
    command = [sys.executable, "-c", text, *CHART, "--out", "out"]
    done = subprocess.run(command, cwd=tmp_path, env=environment(), capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (code, "scalesim: interrupted; nothing was written\n")
    assert list(tmp_path.iterdir()) == []


def test_what_is_to_be_ignored_is_ignored() -> None:
    """A shell does so for what it starts with `&`, and `nohup` for SIGHUP."""
    text = "import signal, sys; signal.signal(signal.SIGINT, signal.SIG_IGN)\n"
    text += "from scalesim import interrupt; interrupt.install()\n"
    text += "signal.raise_signal(signal.SIGINT); print('still here')\n"
    done = subprocess.run([sys.executable, "-c", text], env=environment(), capture_output=True, text=True)
    assert done.stdout == "still here\n"
