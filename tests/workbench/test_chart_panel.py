"""The chart's panel through NiceGUI's in-process user: claims typed and taken out, edges moved, one undo each."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from on_the_page import eventually, sees, visit
from tickwright import load, loads
from tickwright.plan import dumps
from tickwright.rules import load_rules
from tickwright.workbench import work
from tickwright.workbench.changes import change_between
from tickwright.workbench.laying import name_cell

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
pytestmark = pytest.mark.timeout(1200)


@pytest.fixture(name="plan")
def gate_and_bell(tmp_path, monkeypatch):
    monkeypatch.setenv("TICKWRIGHT_STATE", str(tmp_path / "state"))
    return Path(shutil.copy(EXAMPLES / "gate-and-bell.toml", tmp_path))


def test_claims_are_typed_judged_and_taken_out(plan):
    async def story(user, session):
        before = session.document.plan
        user.find(marker="tab-designs").click()
        user.find(marker="tab-chart").click()
        await sees(user, "All 2 claims are kept.")
        user.find(marker="claim-add").type("bell: level at least 16").trigger("keydown.enter")
        await sees(user, 'At character 22: "16" cannot stand here')
        assert session.document.plan == before
        user.find(marker="claim-add").clear().type("bell: never on").trigger("keydown.enter")
        await sees(user, "2 of 3 claims kept.")
        await sees(user, "on from 0.5 s to 0.8 s")
        assert session.document.undo() == "add a claim of bell"
        session.tell("plan")
        await sees(user, "All 2 claims are kept.")
        user.find("Take out").click()
        await eventually(lambda: len(session.document.plan.charts[0].shows) == 1)
        assert session.document.undo() == "take a claim out"
        assert session.document.plan == before

    visit(plan, story)


def test_a_plan_without_a_chart_gets_one(plan):
    bare = replace(load(plan), charts=())
    plan.write_text(dumps(bare), encoding="utf-8")

    async def story(user, session):
        user.find(marker="tab-designs").click()
        user.find(marker="tab-chart").click()
        await sees(user, "The plan claims nothing yet.")
        user.find("Write what it does now").click()
        await sees(user, "All 2 claims are kept.")
        assert session.document.plan.charts[0].name == "now"
        assert session.document.undo() == "write what it does"

    visit(plan, story)


def test_the_picture_says_where_its_edges_lie(plan):
    found = work.chart(lambda _: False, load(plan), load_rules("standard"), "the bell follows the gate")
    edge = next(edge for edge in found["edges"] if (edge["claim"], edge["side"]) == (0, "end"))
    # 1.9 s after the press of 65 steps; the picture is 860 wide with 150 before the axis and 24 after it.
    assert (edge["step"], edge["least"], edge["most"]) == (38, 11, None)
    assert found["zero"] == 150
    assert found["light"] != found["dark"]
    assert [verdict.passed for verdict in found["verdicts"]] == [True, True]


def test_history_knows_charts_machines_and_what_an_output_shows():
    plan = load(EXAMPLES / "toggle.toml")
    other = replace(plan, charts=(), machines=())
    change = change_between("forget", plan, other)
    assert change.on(plan) == other
    assert change.reversed().on(other) == plan


def test_a_new_name_is_taken_over_by_the_charts():
    plan = load(EXAMPLES / "gate-and-bell.toml")
    gate, press = plan.outputs["gate"], plan.triggers["press"]
    renamed = name_cell(name_cell(plan, "outputs", "barrier", gate), "triggers", "knock", press)
    assert renamed.charts[0].shows[0].startswith("barrier: on from knock + 0.5 s")
    assert "from barrier on" in renamed.charts[0].shows[1]
    assert renamed.part_outputs == {"barrier"}
    assert loads(dumps(renamed)).charts == renamed.charts
