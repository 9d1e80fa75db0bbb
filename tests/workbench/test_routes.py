"""What the page fetches, through the whole application with its guard, without a socket."""

from __future__ import annotations

import asyncio
import shutil
from pathlib import Path

import httpx
import pytest
from fastapi import FastAPI

from tickwright.workbench.guard import Guard
from tickwright.workbench.routes import add_routes
from tickwright.workbench.session import MOST_KEPT, Session

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
OURS = "http://127.0.0.1:8137"


@pytest.fixture(name="session")
def opened(tmp_path, monkeypatch):
    monkeypatch.setenv("TICKWRIGHT_STATE", str(tmp_path / "state"))
    folder = tmp_path / "landing"
    folder.mkdir()
    shutil.copy(EXAMPLES / "flat-loop-6.toml", folder)
    session = Session.open(folder / "flat-loop-6.toml")
    yield session
    session.close()


def ask(session, method, path, base=OURS, **more):
    async def asked():
        app = FastAPI()
        add_routes(app, session)
        transport = httpx.ASGITransport(Guard(app, 8137))
        async with httpx.AsyncClient(transport=transport, base_url=base) as client:
            return await client.request(method, path, **more)

    return asyncio.run(asked())


def drop(session, name, data, origin=OURS):
    return ask(session, "POST", "/bench/drop", params={"name": name}, content=data, headers={"origin": origin})


def test_what_is_kept_can_be_fetched_and_the_oldest_goes(session):
    number = session.keep(b"run", "application/octet-stream")
    answer = ask(session, "GET", f"/bench/kept/{number}")
    assert (answer.status_code, answer.content) == (200, b"run")
    assert answer.headers["x-content-type-options"] == "nosniff"
    for _ in range(MOST_KEPT):
        session.keep(b"more", "text/plain")
    assert ask(session, "GET", f"/bench/kept/{number}").status_code == 404
    assert ask(session, "GET", "/bench/kept/../../etc/hosts").status_code == 404


def test_other_hosts_and_sites_get_nothing(session):
    number = session.keep(b"run", "application/octet-stream")
    assert ask(session, "GET", f"/bench/kept/{number}", base="http://landing.example:8137").status_code == 403
    foreign = {"origin": "http://landing.example"}
    assert ask(session, "GET", f"/bench/kept/{number}", headers=foreign).status_code == 403
    answer = drop(session, "taps.toml", (EXAMPLES / "taps.toml").read_bytes(), "http://landing.example")
    assert answer.status_code == 403
    assert not (session.folder.root / "taps.toml").exists()


def test_a_dropped_plan_is_opened_as_a_new_file(session):
    data = (EXAMPLES / "flat-loop-6.toml").read_bytes()
    answer = drop(session, "flat-loop-6.toml", data)
    assert (answer.status_code, answer.text) == (200, "Opened as flat-loop-6-2.toml.")
    assert (session.folder.root / "flat-loop-6-2.toml").read_bytes() == data


@pytest.mark.parametrize(
    ("name", "data", "message"),
    [
        ("bad.toml", b"format = 3", "The format is 3"),
        ("bad.toml", b"\xff\xfe\x00", "not text in UTF-8"),
    ],
)
def test_a_bad_file_gives_a_message_and_loses_nothing(session, name, data, message):
    before = session.document
    answer = drop(session, name, data)
    assert answer.status_code == 400
    assert message in answer.text
    assert session.document is before
    assert [path.name for path in session.folder.root.iterdir()] == ["flat-loop-6.toml"]


def test_a_dropped_name_never_leads_out_of_the_folder(session):
    data = (EXAMPLES / "taps.toml").read_bytes()
    for name in ("../../out.toml", "..\\out.toml", "/etc/out.toml"):
        assert drop(session, name, data).status_code == 200
        assert session.document.path.parent == session.folder.root
    assert drop(session, "", data).status_code == 400 or session.document.path.parent == session.folder.root
    assert drop(session, "a\nb", data).status_code == 400
    assert not (session.folder.root.parent / "out.toml").exists()


def test_a_body_without_end_is_refused(session):
    before = session.document
    answer = drop(session, "large.toml", b"#" * 9_000_000)
    assert answer.status_code == 413
    assert "more than 8,000,000 bytes" in answer.text
    assert session.document is before
    assert [path.name for path in session.folder.root.iterdir()] == ["flat-loop-6.toml"]
