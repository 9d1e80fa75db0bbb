"""The page through NiceGUI's in-process user: no browser, no socket."""

from __future__ import annotations

import asyncio
import shutil
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from nicegui.testing import user_simulation

from tickwright.workbench.page import Page
from tickwright.workbench.session import Session

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"


@pytest.fixture(name="folder")
def landing(tmp_path, monkeypatch):
    monkeypatch.setenv("TICKWRIGHT_STATE", str(tmp_path / "state"))
    folder = tmp_path / "landing"
    folder.mkdir()
    for name in ("flat-loop-6.toml", "latch.toml"):
        shutil.copy(EXAMPLES / name, folder)
    return folder


@asynccontextmanager
async def at_work(target):
    """A user with the page of a workbench open, and its session."""
    session = Session.open(target)
    try:
        async with user_simulation(root=lambda: Page(session)) as user:
            await user.open("/")
            yield user, session
    finally:
        session.document.close()


def visit(target, story):
    """Run a story (an async function of the user and the session) on the page of a workbench."""

    async def whole():
        async with at_work(target) as (user, session):
            await story(user, session)

    asyncio.run(whole())


def test_the_page_shows_what_is_open(folder):
    async def story(user, session):
        await user.should_see("flat-loop-6.toml")
        await user.should_see("saved in its file")
        user.find(marker="part-comparator").click()
        await user.should_see("comparator east")

    visit(folder / "flat-loop-6.toml", story)


def test_another_plan_is_opened_and_a_bad_one_refused(folder):
    (folder / "bad.toml").write_text("format = 3", encoding="utf-8")

    async def story(user, session):
        user.find("Files").click()
        await user.should_see("latch.toml")
        user.find(marker="open-bad.toml").click()
        await user.should_see("The format is 3")
        assert session.document.path.name == "flat-loop-6.toml"
        user.find(marker="open-latch.toml").click()
        assert session.document.path.name == "latch.toml"

    visit(folder / "flat-loop-6.toml", story)
