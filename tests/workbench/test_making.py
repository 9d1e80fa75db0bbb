"""Plans from claims and from netlists, through NiceGUI's in-process user and the worker of long jobs."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from on_the_page import eventually, sees, visit
from tickwright import check_charts, load
from tickwright.errors import TickwrightError
from tickwright.workbench.making import compose_brief

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
pytestmark = pytest.mark.timeout(1200)
NOT = ".model no\n.inputs a\n.outputs y\n.names a y\n0 1\n.end"


@pytest.fixture(name="plan")
def gate_and_bell(tmp_path, monkeypatch):
    monkeypatch.setenv("TICKWRIGHT_STATE", str(tmp_path / "state"))
    return Path(shutil.copy(EXAMPLES / "gate-and-bell.toml", tmp_path))


def test_claims_are_composed_and_opened_on_the_bench(plan):
    async def story(user, session):
        user.find(marker="tab-designs").click()
        user.find(marker="tab-compose").click()
        user.find(marker="brief-fill").click()
        await sees(user, "Its triggers, outputs and claims are taken")
        user.find(marker="brief-outputs").clear().type("lamp lamp")
        user.find(marker="brief-claims").clear().type("lamp: on form press")
        user.find("Compose it").click()
        await sees(user, 'what may stand here is "from" or "while"')
        user.find(marker="brief-claims").clear().type("lamp: on from press + 0.4 s for 2 s")
        user.find("Compose it").click()
        await sees(user, "The promise is kept.")
        await sees(user, "✓ lamp: on from press + 0.4 s for 2 s")
        user.find(marker="made-open").click()
        await eventually(lambda: session.document.path.name == "composed.toml")
        made = load(session.document.path)
        (verdict,) = check_charts(made)
        assert verdict.passed

    visit(plan, story)


def test_a_netlist_is_placed_by_the_worker_that_may_start_processes(plan):
    async def story(user, session):
        made = await session.worker("long").do("place", None, NOT, None, (3, 2, 2), 0, 1.0)
        assert made.lines[0].text.startswith("Placed: ")
        assert made.lines[1].text == "Played against the netlist: 2 changes (all cases), none wrong."
        user.find(marker="tab-designs").click()
        user.find(marker="tab-place").click()
        user.find(marker="netlist-file").type("../other.blif")
        user.find("Place it").click()
        await sees(user, "leads out of the opened folder")

    visit(plan, story)


def test_what_cannot_be_composed_says_what_to_write_instead():
    text = """format = "tickwright brief 1"
    inputs = {press = {part = "short-button"}}
    outputs = {lamp = {drives = "lamp"}}
    chart = [{shows = ["lamp: on from press + 1 s for 1.05 s"]}]"""
    made = compose_brief(lambda _: False, text, ".", 0, 1.0)
    assert made.plan is None
    assert made.lines[0].text == "It cannot be composed."
    # 1.05 s are 21 steps, which is no whole number of ticks of 2 steps: 1 s and 1.1 s are the nearest that are.
    assert any("for 1 s" in line.text or "for 1.1 s" in line.text for line in made.lines)
    with pytest.raises(TickwrightError, match="brief begins with format"):
        compose_brief(lambda _: False, "", ".", 0, 1.0)
