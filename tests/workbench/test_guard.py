"""What the guard refuses: other hosts, other sites, sockets from nowhere, bodies without end."""

from __future__ import annotations

import asyncio

import pytest

from tickwright.workbench.guard import MOST_BODY_BYTES, Guard

OURS = "127.0.0.1:8137"
READ = {"sec-fetch-site": "same-origin", "sec-fetch-mode": "cors", "sec-fetch-dest": "empty"}
OPENED = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate", "sec-fetch-dest": "document"}


def ask(method="GET", host=OURS, chunks=(b"",), kind="http", **headers):
    """Send one request through the guard; its status (of a WebSocket: what became of it) and the answer's headers."""
    sent = []
    given = [(b"host", host.encode())] if host is not None else []
    given += [(name.replace("_", "-").encode(), str(value).encode()) for name, value in headers.items()]
    waiting = [{"type": "http.request", "body": chunk, "more_body": True} for chunk in chunks]

    async def receive():
        return waiting.pop(0)

    async def send(message):
        sent.append(message)

    async def app(scope, receive, send):
        if kind == "websocket":
            await send({"type": "websocket.accept"})
            return
        for _ in chunks:
            await receive()
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": b"fine"})

    scope = {"type": kind, "method": method, "path": "/", "headers": given}
    asyncio.run(Guard(app, 8137)(scope, receive, send))
    return sent[0].get("status", sent[0]["type"]), dict(sent[0].get("headers", ()))


@pytest.mark.parametrize("host", [OURS, "localhost:8137", "[::1]:8137", "LOCALHOST:8137"])
def test_its_own_names_are_answered(host):
    assert ask(host=host)[0] == 200


@pytest.mark.parametrize(
    "host",
    [
        "landing.example",
        "landing.example:8137",
        "127.0.0.1",
        "127.0.0.1:80",
        "127.0.0.1:8137.landing.example",
        "",
        None,
    ],
)
def test_a_name_made_to_lead_here_is_refused(host):
    assert ask(host=host)[0] == 403
    assert ask(host=host, kind="websocket", origin=f"http://{host}")[0] == "websocket.close"


def test_two_hosts_are_refused():
    assert ask(Host="landing.example")[0] == 403


@pytest.mark.parametrize("origin", ["http://landing.example", "https://127.0.0.1:8137", "http://127.0.0.1:80", "null"])
def test_a_call_from_another_site_is_refused(origin):
    assert ask(origin=origin)[0] == 403
    assert ask("POST", origin=origin)[0] == 403
    assert ask(kind="websocket", origin=origin)[0] == "websocket.close"


def test_a_socket_needs_an_origin():
    assert ask(kind="websocket")[0] == "websocket.close"
    assert ask(kind="websocket", origin=f"http://{OURS}")[0] == "websocket.accept"


def test_what_changes_something_needs_an_origin():
    assert ask("POST")[0] == 403
    assert ask("POST", origin=f"http://{OURS}")[0] == 200
    assert ask("DELETE", **READ)[0] == 403


def test_another_site_may_lead_here_but_not_read():
    assert ask(**OPENED)[0] == 200
    assert ask("POST", origin="http://landing.example", **OPENED)[0] == 403
    assert ask(**{**OPENED, "sec-fetch-dest": "iframe"})[0] == 403
    assert ask(**{**READ, "sec-fetch-site": "cross-site"})[0] == 403
    assert ask(**{**READ, "sec-fetch-site": "same-site"})[0] == 403
    assert ask(**READ)[0] == 200


def test_bodies_have_a_limit_said_or_unsaid():
    origin = f"http://{OURS}"
    assert ask("POST", origin=origin, content_length=MOST_BODY_BYTES + 1)[0] == 413
    assert ask("POST", origin=origin, content_length="-1")[0] == 413
    assert ask("POST", origin=origin, chunks=[b"x" * 1_000_000] * 9)[0] == 413
    assert ask("POST", origin=origin, chunks=[b"x" * 1_000_000] * 7)[0] == 200


def test_the_browser_is_told_to_keep_to_this_machine():
    policy = ask()[1][b"content-security-policy"].decode()
    assert "default-src 'self'" in policy
    assert "http" not in policy
    assert "*" not in policy
    refused = ask(host="landing.example")[1]
    assert b"content-security-policy" in refused
