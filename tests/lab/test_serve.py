"""The command: an address on loopback, a clean end, and one line for what cannot be."""

from __future__ import annotations

import asyncio
import os
import re
import signal
import socket
import subprocess
import sys
import urllib.error
import urllib.request
import webbrowser
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
import served

from scalesim.cli.main import main
from scalesim.lab import serve


def begun(folder: Path, *words: str) -> tuple[subprocess.Popen[str], str]:
    """Start a lab; return it and its address."""
    path = os.pathsep.join(os.path.abspath(part) for part in sys.path if part)
    environment = {**os.environ, "PYTHONPATH": path, "PYTHONUNBUFFERED": "1"}
    lab = subprocess.Popen(
        [sys.executable, "-m", "scalesim", "lab", "--no-browser", *words],
        cwd=folder,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert lab.stdout is not None
    told = lab.stdout.readline()
    found = re.search(r"http://127\.0\.0\.1:\d+/", told)
    assert found, told + (lab.stderr.read() if lab.stderr else "")
    return lab, found.group()


@pytest.mark.skipif(os.name != "posix", reason="signals are sent as on POSIX")
@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM", "SIGHUP"])
def test_it_serves_and_ends_cleanly(tmp_path: Path, name: str) -> None:
    if signal.getsignal(signal.Signals[name]) is signal.SIG_IGN:
        pytest.skip(f"{name} is ignored here, as under nohup, and stays so")
    served.picture_file(tmp_path)
    lab, address = begun(tmp_path, "a.png", "--chain", "x: line-drop lines=24")
    try:
        page = urllib.request.urlopen(address, timeout=60).read().decode()
        assert "lab-token" in page
        events = urllib.request.urlopen(f"{address}api/events", timeout=60)
        assert b"alive" in events.readline()
        lab.send_signal(signal.Signals[name])  # with a page open, whose events would go on for ever
        out, error = lab.communicate(timeout=60)
    finally:
        lab.kill()
    assert lab.returncode == 0 and error == "" and "Nothing was exported" in out
    with pytest.raises(urllib.error.URLError):
        urllib.request.urlopen(address, timeout=2)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.png"]


@pytest.mark.skipif(os.name != "posix", reason="reads the addresses as Linux tells them")
def test_it_listens_on_loopback_alone(tmp_path: Path) -> None:
    lab, address = begun(tmp_path)
    try:
        port = int(address.rsplit(":", 1)[1].strip("/"))
        with socket.socket() as other:
            other.settimeout(2)
            own = socket.gethostbyname(socket.gethostname())
            if own.startswith("127."):
                pytest.skip("this machine has no other address")
            assert other.connect_ex((own, port)) != 0
    finally:
        lab.terminate()
        lab.communicate(timeout=60)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--watch", "nope"], "is no folder"),
        (["--chain", "line-dorp"], "did you mean 'line-drop'"),
        (["--chain", "nope.toml"], "nope.toml"),
        (["nope.png"], "nope.png"),
        (["--port", "70000"], "70000"),
        (["--port", "PORT"], "leave --port out"),
    ],
)
def test_what_it_cannot_start_with(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    words: list[str],
    said: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        assert main(["lab", "--no-browser", *(port if word == "PORT" else word for word in words)]) == 2
    error = capsys.readouterr().err
    assert said in error and error.count("\n") == 1


@pytest.mark.parametrize("answer", [False, webbrowser.Error("none"), True])
def test_without_a_browser_the_address_is_enough(
    monkeypatch: pytest.MonkeyPatch, answer: bool | Exception
) -> None:
    def opened(_: str) -> bool:
        if isinstance(answer, Exception):
            raise answer
        return answer

    monkeypatch.setattr(webbrowser, "open_new_tab", opened)
    told: list[str] = []
    serve._open("http://127.0.0.1:1/", told.append)
    assert ("No browser could be opened" in "".join(told)) is (answer is not True)


def test_an_interrupt_while_frames_are_read_is_an_ordinary_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("scalesim.lab.begin.bench_of", interrupted)
    assert main(["lab", "--no-browser"]) == 0
    assert "Nothing was exported" in capsys.readouterr().out


def test_answers_do_not_wait_for_receipts() -> None:
    """Nagle's delay is off: else an answer's second part waits 40 ms for a receipt (RFC 1122, 4.2.3.4)."""

    async def off() -> int:
        found: asyncio.Queue[int] = asyncio.Queue()

        async def took(_reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
            taken = writer.get_extra_info("socket")
            found.put_nowait(taken.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY))
            writer.close()

        listening = serve.bound(0)
        server = await asyncio.start_server(took, sock=listening)
        _, writer = await asyncio.open_connection(*listening.getsockname())
        try:
            return await asyncio.wait_for(found.get(), 60)
        finally:
            writer.close()
            server.close()

    with ThreadPoolExecutor(1) as aside:  # a browser of another test may loop in this one
        assert aside.submit(lambda: asyncio.run(off())).result(120) != 0
