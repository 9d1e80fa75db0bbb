"""The guard: what a browser may ask of the workbench, and what it is told to keep to. One small file, no page in it.

A page of another site can make the browser of this machine call a server on loopback: by name, if that name is made to
lead here (DNS rebinding), or straight. So a request must name this server as its Host; one that a page makes must come
from a page of this server (Origin, and Sec-Fetch-Site where the browser sends it); a WebSocket always comes from one.
Bodies have a limit. Answers tell the browser to load nothing from anywhere else and to show the page in no frame.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

LOOPBACK = ("127.0.0.1", "localhost", "[::1]")
MOST_BODY_BYTES = 8_000_000
TOO_LARGE = (
    f"What was sent has more than {MOST_BODY_BYTES:,} bytes, the most that is taken here. "
    "Put a larger plan file into the folder and open it there."
)
POLICY = (
    "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval'; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data: blob:; font-src 'self' data:; connect-src 'self'; media-src 'self' blob:; "
    "worker-src 'self' blob:; object-src 'none'; base-uri 'self'; form-action 'self'; frame-src 'self' blob:; "
    "frame-ancestors 'self'"
)
HEADERS = (
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
)


class TooLarge(Exception):
    """A body that goes on past the limit."""


class Guard:
    """ASGI middleware around the whole application, WebSockets included. `port` is the one the server listens on."""

    def __init__(self, app: App, port: int) -> None:
        self.app = app
        self.hosts = frozenset(f"{name}:{port}" for name in LOOPBACK)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on what is allowed, refuse the rest."""
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        refused = self._refusal(scope)
        if refused is not None:
            await _refuse(scope, send, *refused)
            return
        if scope["type"] == "websocket":
            await self.app(scope, receive, send)
            return
        started = False

        async def answer(message: Message) -> None:
            nonlocal started
            if message["type"] == "http.response.start":
                started = True
                message = {**message, "headers": [*message.get("headers", ()), *HEADERS]}
            await send(message)

        try:
            await self.app(scope, _limited(receive), answer)
        except TooLarge:
            if not started:
                await _refuse(scope, send, 413, TOO_LARGE)

    def _refusal(self, scope: Scope) -> tuple[int, str] | None:
        """Why a request is not answered, as status and message; None if it is."""
        given = [(name.decode("latin-1").lower(), value.decode("latin-1")) for name, value in scope["headers"]]
        headers = dict(given)
        if [name for name, _ in given].count("host") != 1 or headers["host"].lower() not in self.hosts:
            return 403, "The Host is not that of this workbench: open it by the address it printed."
        origin = headers.get("origin")
        if origin is not None and origin.lower() not in {f"http://{host}" for host in self.hosts}:
            return 403, "The call comes from a page of another site."
        if scope["type"] == "websocket":
            return (403, "A WebSocket without an Origin.") if origin is None else None
        safe = scope["method"] in ("GET", "HEAD")
        site = headers.get("sec-fetch-site", "same-origin")
        opened = safe and headers.get("sec-fetch-mode") == "navigate" and headers.get("sec-fetch-dest") == "document"
        if site not in ("same-origin", "none") and not opened:
            return 403, "The call comes from a page of another site."
        if not safe and origin is None:
            return 403, "A call that changes something must say its Origin."
        length = headers.get("content-length", "0")
        if not length.isdigit() or int(length) > MOST_BODY_BYTES:
            return 413, TOO_LARGE
        return None


def _limited(receive: Receive) -> Receive:
    """The same, but raises TooLarge once more than the limit has come."""
    seen = 0

    async def limited() -> Message:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b""))
        if seen > MOST_BODY_BYTES:
            raise TooLarge
        return message

    return limited


async def _refuse(scope: Scope, send: Send, status: int, message: str) -> None:
    if scope["type"] == "websocket":
        await send({"type": "websocket.close", "code": 1008, "reason": message})
        return
    headers = [(b"content-type", b"text/plain; charset=utf-8"), *HEADERS]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": message.encode()})
