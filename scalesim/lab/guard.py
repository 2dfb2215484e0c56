"""Who may ask: the page that this server gave out, from this machine, and nobody else.

The server listens on loopback, but every page in the user's browser can send requests there. So a foreign
`Host` (a name that was made to point here) and a foreign `Origin` are refused, and what changes or computes
anything carries a token that only the served page knows. Source: OWASP, "Cross-Site Request Forgery
Prevention", and RFC 6454 (the web origin concept).
"""

from __future__ import annotations

import secrets
from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any

Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Message, Receive, Send], Awaitable[None]]

TOKEN = "x-lab-token"
READING = ("GET", "HEAD")
HEADERS = {
    "content-security-policy": "default-src 'self'; img-src 'self' blob: data:; frame-ancestors 'self'; "
    "base-uri 'none'; form-action 'none'",
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
}
RESULT_POLICY = (
    "default-src 'none'; img-src 'self' data: blob:; style-src 'unsafe-inline'; script-src 'self' "
    "'unsafe-inline'; connect-src 'none'; frame-ancestors 'self'; base-uri 'none'; form-action 'none'; "
    "sandbox allow-scripts allow-downloads"
)
"""Of the pages of answers: their script and style lie in them. They are put in an origin of their own, so
that nothing in them can reach the lab."""


class Guard:
    """Middleware that answers 403 to everything but the served page.

    Parameters:
        app : what is guarded; token : that state-changing requests carry
        port : of the server, once it is known
    """

    def __init__(self, app: App, token: str, port: int) -> None:
        self.app, self.token = app, token
        self.hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}

    async def __call__(self, scope: Message, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return
        reason = self._refused(scope)
        if reason:
            await _answer(send, reason)
            return

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                policy = RESULT_POLICY if scope["path"].startswith("/results/") else None
                message["headers"] = [*message.get("headers", []), *_headers(policy)]
            await send(message)

        await self.app(scope, receive, guarded)

    def _refused(self, scope: Message) -> str:
        """Return why a request is refused, "" when it is not."""
        given: dict[str, list[str]] = {}
        for name, value in scope["headers"]:
            given.setdefault(name.decode("latin-1").lower(), []).append(value.decode("latin-1"))
        if len(given.get("host", [])) != 1 or given["host"][0].lower() not in self.hosts:
            return "this server answers to its own address only"
        origins = {f"http://{host}" for host in self.hosts}
        if any(origin.lower() not in origins for origin in given.get("origin", [])):
            return "this page came from elsewhere"
        if given.get("sec-fetch-site", ["same-origin"])[0] not in ("same-origin", "none"):
            return "this page came from elsewhere"
        tokens = given.get(TOKEN, [])
        if scope["method"] not in READING and not (
            len(tokens) == 1 and secrets.compare_digest(tokens[0].encode(), self.token.encode())
        ):
            return "the page is of an earlier run: load it again"
        return ""


def _headers(policy: str | None) -> list[tuple[bytes, bytes]]:
    more = dict(HEADERS)
    if policy:
        more["content-security-policy"] = policy
    return [(name.encode(), value.encode()) for name, value in more.items()]


async def _answer(send: Send, reason: str) -> None:
    body = f'{{"error": "{reason}", "place": null}}'.encode()
    headers = [(b"content-type", b"application/json"), *_headers(None)]
    await send({"type": "http.response.start", "status": 403, "headers": headers})
    await send({"type": "http.response.body", "body": body})
