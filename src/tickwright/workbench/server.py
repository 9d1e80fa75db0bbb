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
    app.on_startup(lambda: background_tasks.create(_warm(session), name="warm"))
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
            loop="asyncio",  # another one takes longer to load than it saves
            ws_max_size=MOST_BODY_BYTES,
        )
    finally:  # Ctrl-C leaves by an exception
        lost = session.close()
        if lost:
            sys.stderr.write(f"{lost}\n")


OLD = "pydantic.v1"  # of an older version; whoever looks for it takes that it is not there
ASKING = ("aiohttp", "requests", "tornado", "websocket")  # what would ask other servers, or serve in another way


@contextmanager
def _quick_loading() -> Iterator[None]:
    """Load NiceGUI in half of the time: collect no garbage meanwhile, and leave out what asks other servers."""
    sys.modules.setdefault(OLD, None)  # type: ignore[arg-type]  # for good: it is looked for later, too
    left_out = [name for name in ASKING if name not in sys.modules]
    for name in left_out:
        sys.modules[name] = None  # type: ignore[assignment]  # not to be found: its users take that
    try:
        with collection_paused():
            yield
    finally:
        for name in left_out:
            del sys.modules[name]


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


async def _warm(session: Session) -> None:
    """Get ready for what is asked next, once the first page has had time to load: workers, and the other rooms."""
    from tickwright.workbench.late import load_all

    await session.warm()
    await asyncio.get_running_loop().run_in_executor(None, load_all)


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
