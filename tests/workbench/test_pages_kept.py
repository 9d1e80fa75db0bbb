"""What the page says of work that is not kept, and that no plan breaks it, whatever its rules."""

from __future__ import annotations

import errno
import json
import shutil
import time
from dataclasses import replace
from pathlib import Path

import pytest
from nicegui import Client
from nicegui.elements.mixins.value_element import ValueElement

from on_the_page import eventually, sees, visit
from tickwright import load
from tickwright.errors import UsageError
from tickwright.kinds import parse_part
from tickwright.plan import lay, repeat, save
from tickwright.workbench import journal
from tickwright.workbench.cells import View, rules_of
from tickwright.workbench.elements import Board, Drop, Scatter, Timeline
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


def put_block(session, cell=(0, 5, 1)):
    session.change("place", lambda plan: lay(plan, {cell: parse_part("block")}))


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
        assert hears.bench.view._plan != session.document.plan
        hears._begin_hearing()
        assert hears.bench.view._plan == session.document.plan
        assert len(session.listeners) == 1
        client.delete()
        assert session.listeners == []

    visit(folder / "flat-loop-6.toml", story)


def waiting(client):
    """How much waits to be sent to a page."""
    return len(client.outbox.updates), len(client.outbox.messages)


def test_nothing_is_built_for_stuck_pages_until_they_acknowledge(folder, monkeypatch):
    built = []
    patch = View.patch
    monkeypatch.setattr(View, "patch", lambda view, *given: built.append(view) or patch(view, *given))

    async def story(user, session):
        stuck = []
        for _ in range(4):
            stuck.append(user.client)
            await user.open("/")
        await eventually(lambda: len(session.listeners) == 5)
        await eventually(lambda: not session.judging.known.busy and not any(sum(waiting(client)) for client in stuck))
        pages = {page.client: page for page in (listener.__self__ for listener in session.listeners)}
        for client in stuck:
            client.outbox.message_history.appendleft((-1, time.time() - 20, (client.id, "update", {})))
        built.clear()
        before = [waiting(client) for client in stuck]
        put_block(session)
        assert built == [pages[user.client].bench.view]
        assert [waiting(client) for client in stuck] == before
        first = stuck[0].outbox
        first.prune_history(first.next_message_id)
        await eventually(lambda: pages[stuck[0]].bench.view._plan == session.document.plan)
        assert len(built) == 2
        put_block(session, (0, 6, 1))
        with stuck[1]:  # an edit of its own: it is at work, whatever it has not acknowledged
            session.tell("plan")
        assert pages[stuck[1]].bench.view._plan == session.document.plan
        assert pages[stuck[2]].bench.view._plan != session.document.plan

    visit(folder / "flat-loop-6.toml", story)


BAD = [
    [],
    ["null"],
    ["3"],
    ['"x"'],
    ["[]"],
    ["{}"],
    ["{}", "{}"],
    ['{"cell": 3, "step": "1", "op": "place"}'],
    ['{"cell": [1, 2], "step": "1", "op": "undo"}'],
    ['{"cell": ["a", "b", "c"], "step": "1", "op": "place"}'],
    ['{"cell": [1.5, 2, 3], "step": "x", "acts": 3, "number": "x", "allow": 3, "text": 3, "what": [3], "name": 3}'],
]


def test_messages_with_wrong_arguments_change_nothing_and_leave_one_line(folder, caplog):
    async def story(user, session):
        page = session.listeners[0].__self__
        page.bench._show_space("solid")
        before = session.document.plan, page.cell, page.box, page.bench.watch.lanes, session.script
        ours = (Board, Timeline, Drop, Scatter, type(page.bench.solid))
        heard = 0
        caplog.clear()
        for element in [one for one in user.client.elements.values() if isinstance(one, ours)]:
            for listener in [one for one in element._event_listeners.values() if one.type != "ready"]:
                for args in BAD:
                    heard += 1
                    user.client.handle_event({"id": element.id, "listener_id": listener.id, "args": list(args)})
                    assert len(caplog.records) == heard, (listener.type, args)
        assert heard >= 11 * len(BAD)
        assert (session.document.plan, page.cell, page.box, page.bench.watch.lanes, session.script) == before
        said = [record.getMessage() for record in caplog.records]
        assert all(line.isprintable() and line.endswith(" and was left out.") for line in said)
        assert not [record for record in caplog.records if record.exc_info]
        good = next(one for one in page.board._event_listeners.values() if one.type == "cursor")
        args = [json.dumps({"cell": [2, 1, 1], "box": [[0, 0, 0], [2, 1, 1]]})]
        user.client.handle_event({"id": page.board.id, "listener_id": good.id, "args": args})
        assert (page.cell, page.box) == ((2, 1, 1), ((0, 0, 0), (2, 1, 1)))

    visit(folder / "flat-loop-6.toml", story)


def test_opening_a_plan_of_300_parts_and_169_pairs_costs_little_more_than_a_small_one(folder):
    """Of the server's own time: what is measured is measured by others. Nothing is built for each of the pairs."""
    one = load(folder / "flat-loop-6.toml")
    many = repeat(replace(one, expectations=(), charts=()), "y", 13, one.size[1] + 2)
    outputs = {name: cell for name, cell in many.outputs.items() if name.startswith("lamp")}
    many = replace(many, outputs=outputs)
    assert (len(many.cells), len(many.triggers), len(many.outputs)) == (312, 13, 13)
    save(many, folder / "many.toml")
    used = {}

    async def story(user, session):
        for name in ("latch", "many", "latch", "many"):
            await eventually(lambda: session.judging.known.answers or session.judging.known.trouble)
            began = time.process_time()
            session.switch(folder / f"{name}.toml")
            await eventually(lambda: session.judging.known.answers)
            used[name] = min(used.get(name, 1e9), time.process_time() - began)
            assert (len(session.judging.known.answers) == 169) == (name == "many")
        elements = len(user.client.elements)
        assert elements < 900, elements

    visit(folder / "flat-loop-6.toml", story)
    assert used["many"] < 12 * used["latch"] + 0.1, used


ODD_VALUES = ["null", "3", '"x"', "true", "[]", "[1]", "{}", '{"value": -1}', '{"value": "x"}', "99999"]


def test_values_of_another_form_leave_no_traceback(folder, caplog):
    async def story(user, session):
        before = session.document.plan
        for room in ("Designs", "Sheet", "Bench"):
            user.find(room).click()
        caplog.clear()
        sent = 0
        for element in [one for one in user.client.elements.values() if isinstance(one, ValueElement)]:
            for listener in [one for one in element._event_listeners.values() if one.type.startswith("update:")]:
                for text in ODD_VALUES:
                    sent += 1
                    user.client.handle_event({"id": element.id, "listener_id": listener.id, "args": [text]})
        assert sent > 5 * len(ODD_VALUES)
        assert session.document.plan == before
        assert not [record for record in caplog.records if record.exc_info]
        assert any("of another form" in record.getMessage() for record in caplog.records)

    visit(folder / "flat-loop-6.toml", story)
