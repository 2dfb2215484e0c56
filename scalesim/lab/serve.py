"""Running the lab: a server on this machine's loopback address, until Ctrl-C."""

from __future__ import annotations

import signal
import socket
import threading
import webbrowser
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

from scalesim.errors import WriteError
from scalesim.interrupt import NAMES
from scalesim.lab.app import make_app
from scalesim.lab.bench import Bench

LOOPBACK = "127.0.0.1"
ENDING = tuple(signal.Signals[name] for name in NAMES if hasattr(signal, name))
"""All that ask for the end: a terminal that is closed (SIGHUP) and Ctrl-Break too."""


def bound(port: int) -> socket.socket:
    """Return a socket that listens on loopback; port 0 takes a free one.

    Raises: WriteError when the port is in use
    """
    # named TCP, or asyncio leaves Nagle's delay on: an answer's second part then waits 40 ms for a receipt
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    # Windows would let another program listen there too, elsewhere a port that was just left is not free yet
    alone = getattr(socket, "SO_EXCLUSIVEADDRUSE", socket.SO_REUSEADDR)
    listening.setsockopt(socket.SOL_SOCKET, alone, 1)
    try:
        listening.bind((LOOPBACK, port))
    except OSError as error:
        listening.close()
        raise WriteError(
            f"port {port}: cannot be used ({error.strerror or error}); leave --port out for a free one"
        ) from None
    listening.listen(64)
    return listening


def serve(bench: Bench, listening: socket.socket, *, browser: bool, told: Callable[[str], None]) -> None:
    """Serve the lab until it is interrupted.

    Parameters:
        browser : open the page in the user's browser
        told : called with a sentence: where it is served; that no browser could be opened
    """
    from uvicorn import Config, Server

    class Quiet(Server):
        """A server whose end by Ctrl-C is an ordinary end: it does not send the signal on."""

        def handle_exit(self, sig: int, frame: FrameType | None) -> None:
            bench.ending.set()
            super().handle_exit(sig, frame)

        @contextmanager
        def capture_signals(self) -> Iterator[None]:
            heard = [n for n in ENDING if signal.getsignal(n) not in (None, signal.SIG_IGN)]
            before = {number: signal.signal(number, self.handle_exit) for number in heard}
            try:
                yield
            finally:
                for number, answer in before.items():
                    signal.signal(number, answer)

    port = listening.getsockname()[1]
    address = f"http://{LOOPBACK}:{port}/"
    config = Config(
        make_app(bench, port),
        log_level="critical",
        access_log=False,
        lifespan="off",
        server_header=False,
        timeout_graceful_shutdown=1,
        h11_max_incomplete_event_size=64 * 1024,
    )
    server = Quiet(config)
    threading.Thread(target=bench.start, daemon=True).start()
    told(f"The lab is at {address} (Ctrl-C ends it)")
    if browser:
        # it listens already: a browser that is quicker than the server waits for its answer
        threading.Thread(target=_open, args=[address, told], daemon=True).start()
    server.run(sockets=[listening])


def _open(address: str, told: Callable[[str], None]) -> None:
    """Open the page in the user's browser; say when there is none."""
    try:
        opened = webbrowser.open_new_tab(address)
    except (webbrowser.Error, OSError):
        opened = False
    if not opened:
        told("No browser could be opened: open this address in one yourself, on this machine.")
