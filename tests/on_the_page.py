"""The page through NiceGUI's in-process user: no browser, no socket. What is waited for is a state, never a time."""

from __future__ import annotations

import asyncio
import time
from contextlib import asynccontextmanager

from nicegui import app
from nicegui.testing import user_simulation

from tickwright.workbench.page import Page
from tickwright.workbench.routes import add_page
from tickwright.workbench.session import Session

PATIENCE_SECONDS = 300.0  # CI has few cores


@asynccontextmanager
async def at_work(target):
    """A user with the page of a workbench open, and its session."""
    session = Session.open(target)
    async with user_simulation() as user:
        add_page(app, lambda: Page(session))
        try:
            await user.open("/")
            reading = asyncio.create_task(acknowledge(user))
            yield user, session
            reading.cancel()
        finally:
            session.close()


async def acknowledge(user):
    """What a page in a browser does all the time, and the in-process user does not: say what it has read."""
    while True:
        user.client.outbox.prune_history(user.client.outbox.next_message_id)
        await asyncio.sleep(0.5)


def visit(target, story):
    """Run a story (an async function of the user and the session) on the page of a workbench."""

    async def whole():
        failed = None
        async with at_work(target) as (user, session):
            try:
                await story(user, session)
            except BaseException as error:  # noqa: BLE001 - NiceGUI would not shut down, and the next test hang
                failed = error
        if failed is not None:
            raise failed

    asyncio.run(whole())


async def eventually(there):
    """Wait until something holds; what workers do takes its time."""
    until = time.monotonic() + PATIENCE_SECONDS
    while not there():
        assert time.monotonic() < until, "it did not come about"
        await asyncio.sleep(0.02)


async def sees(user, text=None, **more):
    """Wait until the user sees something."""
    await user.should_see(text, **more, retries=int(PATIENCE_SECONDS * 10))
