"""Messages over the limit, and such as no page sends, over a real socket: no traceback, and the workbench goes on."""

from __future__ import annotations

import asyncio
import logging
import urllib.request
from contextlib import suppress

import pytest
import websockets

from at_the_bench import Bench
from tickwright.workbench.guard import MOST_BODY_BYTES
from tickwright.workbench.unreadable import Brief

MESSAGES = [
    "x" * (MOST_BODY_BYTES + 1),
    "",
    "zzz",
    "42[",
    '42["event"]',
    '42["event",{}]',
    '42["ack",{}]',
    '42["ack",7]',
    '42["handshake",{}]',
    '42["javascript_response",{}]',
    '42["log",{}]',
    '451-["x"]',
    "9",
    b"\x00\xff",
]
pytestmark = pytest.mark.timeout(1200)  # on a busy machine


async def send_all(address):
    origin = address.rstrip("/")
    for message in MESSAGES:
        where = f"ws://{origin.removeprefix('http://')}/_nicegui_ws/socket.io/?EIO=4&transport=websocket"
        async with websockets.connect(where, origin=origin, max_size=None) as socket:
            await socket.recv()
            await socket.send("40")
            await socket.recv()
            with suppress(websockets.ConnectionClosed):
                await socket.send(message)
                await socket.send('42["log",{}]')  # answered by nothing; the close below comes after it
                await socket.ping()


def test_messages_that_no_page_sends_leave_no_traceback(tmp_path):
    bench = Bench(tmp_path, tmp_path / "state")
    asyncio.run(send_all(bench.address))
    with urllib.request.urlopen(bench.address) as answer:
        assert answer.status == 200
    bench.end()  # which looks for a traceback
    said = [line for line in bench.said if "could not be read" in line]
    assert said
    assert {line.removeprefix("ERROR:").lstrip() for line in said} <= {
        f"A message to the workbench could not be read ({error}) and was left out.\n"
        for error in ("KeyError", "TypeError", "ValueError", "IndexError", "JSONDecodeError", "AttributeError")
    }


def test_an_error_of_our_own_is_told_in_full():
    try:
        raise KeyError("ours")
    except KeyError as error:
        record = logging.LogRecord(
            "asyncio", logging.ERROR, "", 1, "failed", (), (KeyError, error, error.__traceback__)
        )
    assert Brief().filter(record)
    assert (record.msg, record.exc_info is not None) == ("failed", True)
