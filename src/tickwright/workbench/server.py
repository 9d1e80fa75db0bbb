"""The server: NiceGUI behind the guard, on loopback, until Ctrl-C."""

from __future__ import annotations

import asyncio
import errno
import socket
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tickwright.errors import UsageError
from tickwright.extras import need_extra
from tickwright.memory import collection_paused
from tickwright.workbench.guard import MOST_BODY_BYTES, Guard
from tickwright.workbench.session import Session
from tickwright.workbench.unreadable import tell_briefly

HOST = "127.0.0.1"
FIRST_PORT = 8137
TRIED_PORTS = 20
RECONNECT_SECONDS = 30.0  # a busy machine may leave the page without an answer for so long before it loads anew


def serve(target: Path, port: int | None = None, browser: bool = True) -> None:
    """Open a plan or a folder in the workbench and serve its page until Ctrl-C.

    Without `port` the first free one from 8137 on is taken. Raises TickwrightError if the plan cannot be opened or the
    port is taken.
    """
    need_extra("workbench")
    port = _free_port(port)
    session = Session.open(target)
    with _quick_loading():
        from nicegui import app, background_tasks, ui

        from tickwright.workbench.page import Page
        from tickwright.workbench.routes import add_page, add_routes

    app.add_middleware(Guard, port=port)
    add_routes(app, session)
    add_page(app, lambda: Page(session))
    tell_briefly()
    app.on_startup(lambda: background_tasks.create(_announce(port), name="announce"))
    app.on_startup(lambda: background_tasks.create(session.warm(), name="warm"))
    try:
        ui.run(
            host=HOST,
            port=port,
            title="Tickwright workbench",
            favicon=ICON,
            dark=None,
            language="en-US",
            reload=False,
            show=browser,
            show_welcome_message=False,
            tailwind=False,
            reconnect_timeout=RECONNECT_SECONDS,
            gzip_middleware_factory=None,
            ws_max_size=MOST_BODY_BYTES,
        )
    finally:  # Ctrl-C leaves by an exception
        lost = session.close()
        if lost:
            sys.stderr.write(f"{lost}\n")


@contextmanager
def _quick_loading() -> Iterator[None]:
    """Load NiceGUI in two thirds of the time: collect no garbage meanwhile, and leave out what asks other servers."""
    asking = "aiohttp"
    left_out = asking not in sys.modules
    if left_out:
        sys.modules[asking] = None  # type: ignore[assignment]  # not to be found: its users take that
    try:
        with collection_paused():
            yield
    finally:
        if left_out:
            del sys.modules[asking]


async def _announce(port: int) -> None:
    """Say where the page is, once it can be fetched there."""
    while True:
        try:
            _, writer = await asyncio.open_connection(HOST, port)
        except OSError:
            await asyncio.sleep(0.01)
            continue
        writer.close()
        sys.stderr.write(f"The workbench is at http://{HOST}:{port}/ (Ctrl-C ends it)\n")
        return


ICON = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 16 16"><rect width="16" height="16" rx="3" fill="#6a2bd9"/>'
    '<path d="M2 11h3V5h4v6h5" fill="none" stroke="#fff" stroke-width="1.6"/></svg>'
)


def _free_port(wanted: int | None) -> int:
    """The wanted port if it is free, or the first that is."""
    ports = [wanted] if wanted is not None else range(FIRST_PORT, FIRST_PORT + TRIED_PORTS)
    for port in ports:
        with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as trial:
            trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                trial.bind((HOST, port))
            except OSError as error:
                if error.errno in (errno.EADDRINUSE, errno.EACCES):
                    continue
                raise
            return port
    which = f"Port {wanted} is" if wanted is not None else f"The ports {ports[0]} to {ports[-1]} are"
    raise UsageError(f"{which} taken or not allowed: give another one with --port.")
