"""Firefox driven by its own remote protocol, Marionette, over a socket: no driver program is needed.

Source: Firefox source docs, "Marionette protocol": messages are "length:JSON", a command is
[0, id, name, keys], an answer [1, id, error, result].
"""

from __future__ import annotations

import base64
import json
import shutil
import socket
import subprocess
import time
from pathlib import Path
from typing import Any

PREFERENCES = (
    'user_pref("marionette.port", 0);',
    'user_pref("browser.shell.checkDefaultBrowser", false);',
    'user_pref("datareporting.policy.dataSubmissionEnabled", false);',
    'user_pref("app.update.enabled", false);',
    'user_pref("network.captive-portal-service.enabled", false);',
    'user_pref("network.connectivity-service.enabled", false);',
    'user_pref("browser.startup.page", 0);',
    'user_pref("ui.prefersReducedMotion", 1);',
)

_RUN = """const given = [...arguments], done = given.pop();
(async () => { %s })().then(done, (reason) => done("error: " + reason));"""


def program() -> str | None:
    """Return Firefox's program, None where there is none."""
    return shutil.which("firefox-esr") or shutil.which("firefox")


class Firefox:
    """One window without a screen; `end` closes it."""

    def __init__(self, profile: Path, patience_s: float = 60) -> None:
        (profile / "user.js").write_text("\n".join(PREFERENCES), encoding="utf-8")
        command = [str(program()), "--headless", "--marionette", "--no-remote", "--profile", str(profile)]
        self.process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        told = profile / "MarionetteActivePort"
        end = time.monotonic() + patience_s
        while not (told.exists() and told.read_text().strip()):
            assert self.process.poll() is None and time.monotonic() < end, "Firefox does not start"
            time.sleep(0.1)
        self.socket = socket.create_connection(("127.0.0.1", int(told.read_text())), timeout=patience_s)
        self.number = 0
        self._message()
        self.ask("WebDriver:NewSession", capabilities={"alwaysMatch": {"acceptInsecureCerts": False}})
        self.ask("WebDriver:SetTimeouts", script=int(1000 * patience_s), pageLoad=int(1000 * patience_s))

    def _message(self) -> Any:
        size = b""
        while not size.endswith(b":"):
            size += self.socket.recv(1)
        content = b""
        while len(content) < int(size[:-1]):
            content += self.socket.recv(65536)
        return json.loads(content)

    def ask(self, name: str, **keys: Any) -> Any:
        """Send a command; return its result."""
        self.number += 1
        text = json.dumps([0, self.number, name, keys]).encode()
        self.socket.sendall(b"%d:%b" % (len(text), text))
        _, _, error, found = self._message()
        assert error is None, error["message"]
        return found

    def open(self, address: str) -> None:
        """Go to an address."""
        self.ask("WebDriver:Navigate", url=address)

    def run(self, script: str, *given: Any) -> Any:
        """Run the body of an asynchronous function in the page; return what it returns."""
        keys = {"script": _RUN % script, "args": list(given), "newSandbox": False}
        found = self.ask("WebDriver:ExecuteAsyncScript", **keys)["value"]
        assert not str(found).startswith("error: "), found
        return found

    def wait(self, condition: str, what: str, patience_s: float = 60) -> Any:
        """Wait until an expression is true in the page; return it."""
        end = time.monotonic() + patience_s
        while not (found := self.run(f"return {condition};")):
            assert time.monotonic() < end, f"{what} does not come"
            time.sleep(0.2)
        return found

    def element(self, selector: str) -> str:
        """Return the reference of an element."""
        found = self.ask("WebDriver:FindElement", using="css selector", value=selector)["value"]
        return str(next(iter(found.values())))

    def press(self, selector: str, keys: str) -> None:
        """Type into an element as a keyboard does."""
        self.ask("WebDriver:ElementSendKeys", id=self.element(selector), text=keys)

    def click(self, selector: str) -> None:
        """Click an element as a mouse does."""
        self.ask("WebDriver:ElementClick", id=self.element(selector))

    def screenshot(self, path: Path) -> None:
        """Keep what is seen."""
        path.write_bytes(base64.b64decode(self.ask("WebDriver:TakeScreenshot", full=False)["value"]))

    def end(self) -> None:
        """Close it."""
        self.socket.close()
        self.process.terminate()
        self.process.wait(30)
