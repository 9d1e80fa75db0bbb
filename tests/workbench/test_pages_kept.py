"""What the page says of work that is not kept, and that no plan breaks it, whatever its rules."""

from __future__ import annotations

import errno
import shutil
from pathlib import Path

import pytest
from nicegui import Client

from on_the_page import eventually, sees, visit
from tickwright import load
from tickwright.errors import UsageError
from tickwright.kinds import parse_part
from tickwright.plan import lay
from tickwright.workbench import journal
from tickwright.workbench.cells import rules_of
from tickwright.workbench.routes import _dropped
from tickwright.workbench.session import Session

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
pytestmark = pytest.mark.timeout(1200)


@pytest.fixture(name="folder")
def landing(tmp_path, monkeypatch):
    monkeypatch.setenv("TICKWRIGHT_STATE", str(tmp_path / "state"))
    folder = tmp_path / "landing"
    folder.mkdir()
    for name in ("flat-loop-6.toml", "latch.toml"):
        shutil.copy(EXAMPLES / name, folder)
    return folder


def full(out, data):
    raise OSError(errno.ENOSPC, "No space left on device")


def put_block(session):
    session.change("place", lambda plan: lay(plan, {(0, 5, 1): parse_part("block")}))


def test_what_cannot_be_kept_is_said_until_it_is_kept(folder):
    async def story(user, session):
        await sees(user, "saved in its file")
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(journal, "_write_all", full)
            put_block(session)
            await sees(user, "not kept: disk full")
            await sees(user, "Your changes are on this page only")
            with pytest.raises(UsageError, match=r"flat-loop-6\.toml are not kept \(disk full\): make room"):
                session.switch(folder / "latch.toml")
        await sees(user, "kept here, not yet in its file")
        assert session.document.not_kept == ""

    visit(folder / "flat-loop-6.toml", story)


def test_work_that_was_never_kept_is_written_beside_the_plan_at_the_end(folder, monkeypatch):
    session = Session.open(folder / "flat-loop-6.toml")
    monkeypatch.setattr(journal, "_write_all", full)
    put_block(session)
    plan = session.document.plan
    rescued = folder / "flat-loop-6-rescued.toml"
    assert session.close() == (
        f"The last changes of {folder / 'flat-loop-6.toml'} could not be kept (disk full): they are in {rescued}."
    )
    assert load(rescued).cells == plan.cells


@pytest.mark.parametrize(
    "rules", ["/etc/passwd", "../outside.toml", "long.toml", "chain-0.toml", "deep.toml", "none.toml", "latch.toml"]
)
def test_a_plan_whose_rules_cannot_be_read_breaks_no_page(folder, rules):
    (folder.parent / "outside.toml").write_text('based_on = "standard"\n[lamp]\nsecret = 1\n', encoding="utf-8")
    (folder / "long.toml").write_text(f'based_on = "standard"\n[lamp]\noff_delay = {"9" * 5000}\n', encoding="utf-8")
    (folder / "deep.toml").write_text(f"x = {'[' * 5000}{']' * 5000}", encoding="utf-8")
    for number in range(1200 if rules.startswith("chain") else 0):
        (folder / f"chain-{number}.toml").write_text(f'based_on = "chain-{number + 1}.toml"\n', encoding="utf-8")
    text = (folder / "latch.toml").read_text(encoding="utf-8")
    plan = text.replace('format = "tickwright plan 1"', f'format = "tickwright plan 1"\nrules = "{rules}"')
    assert plan != text

    async def story(user, session):
        assert _dropped(session, "odd", plan.encode()) == "Opened as odd.toml."
        assert (await user.http_client.get("/")).status_code == 200
        trouble = rules_of(session.document)[1]
        assert trouble
        assert trouble.isprintable()
        assert "secret" not in trouble
        assert "root:" not in trouble
        put_block(session)
        assert (await user.http_client.get("/")).status_code == 200

    visit(folder / "flat-loop-6.toml", story)


def test_unknown_addresses_are_not_found_and_build_nothing(folder):
    async def story(user, session):
        before = len(Client.instances)
        for address in ("/nothing", "/bench", "/bench/other", "/index.html", "/_nicegui/none", "/%2e%2e/etc/passwd"):
            answer = await user.http_client.get(address)
            assert (answer.status_code, answer.headers["content-type"]) == (404, "text/plain; charset=utf-8"), address
            assert answer.text.endswith("the workbench is at /")
        assert len(Client.instances) == before

    visit(folder / "flat-loop-6.toml", story)


def test_a_page_hears_while_its_socket_is_there(folder):
    async def story(user, session):
        await eventually(lambda: len(session.listeners) == 1)
        assert (await user.http_client.get("/")).status_code == 200  # built, but no socket comes
        assert len(session.listeners) == 1
        client = user.client
        hears = session.listeners[0].__self__
        hears._stop_hearing()
        put_block(session)
        assert session.listeners == []
        assert hears.view._plan != session.document.plan
        hears._begin_hearing()
        assert hears.view._plan == session.document.plan
        assert len(session.listeners) == 1
        client.delete()
        assert session.listeners == []

    visit(folder / "flat-loop-6.toml", story)
