"""The questions about a build, through NiceGUI's in-process user; a planted mistake is found by the job behind it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from on_the_page import eventually, sees, visit
from tickwright import loads
from tickwright.diagnosis import Conversation
from tickwright.errors import UsageError
from tickwright.kinds import parse_part
from tickwright.rules import load_rules
from tickwright.workbench.asking import ask

SHORT = """format = "tickwright plan 1"
title = "Ferry bell"
legend = {"#" = "block", b = "short-button", r = "repeater east", L = "lamp"}
layer = [{rows = "###"}, {rows = "brL"}]
triggers = {press = [0, 0, 1]}
outputs = {lamp = [2, 0, 1]}
"""
pytestmark = pytest.mark.timeout(600)


def test_a_question_is_asked_left_open_and_taken_back(tmp_path, monkeypatch):
    monkeypatch.setenv("TICKWRIGHT_STATE", str(tmp_path / "state"))
    plan = tmp_path / "bell.toml"
    plan.write_text(SHORT)

    async def story(user, session):
        user.find(marker="tab-ask").click()
        await eventually(lambda: _seen(user, "Begin"))
        user.find(marker="ask-begin").click()
        await sees(user, "Likeliest so far")
        user.find("Don't know").click()
        await sees(user, "Answered so far: 1")
        user.find(marker="ask-back").click()
        await eventually(lambda: not _seen(user, "Answered so far"))

    visit(plan, story)


def _seen(user, text):
    try:
        return bool(user.find(text).elements)
    except AssertionError:
        return False


def test_the_job_goes_on_where_it_was_and_a_bad_answer_leaves_it():
    plan, rules = loads(SHORT), load_rules("standard")
    told = []

    def tell(said):
        told.append(said)
        return False

    built = replace(plan, cells={**plan.cells, (1, 0, 1): parse_part("repeater east delay=3")})
    first = ask(tell, plan, rules, ())
    assert any("builds" in said for said in told)
    assert (first.picture is not None) == (first.kind == "lit")
    with pytest.raises(UsageError, match="neither"):
        ask(tell, plan, rules, ("neither of them",))
    answers = []
    now = first
    for _ in range(6):
        if now.kind == "mended":
            break
        answers.append(_answered(now, plan, built))
        now = ask(tell, plan, rules, answers)
    assert now.kind == "mended"
    assert now.round.leading[0].mistakes[0].text == "the repeater at (1, 0, 1) has 3 ticks instead of 1 tick"
    straight = Conversation(plan, rules)
    for answer in answers:
        straight.answer(answer)
    assert straight.round == now.round
    assert ask(tell, plan, rules, [*answers, "yes"]).over


def _answered(now, plan, built):
    """What a builder of `built` answers: only what stands where is known, the rest is left open."""
    question = now.round.question
    if now.kind == "stands":
        cell = tuple(int(part) for part in question.split("(")[1].split(")")[0].split(","))
        return str(built.cells.get(cell, "nothing"))
    if now.kind == "row":
        return "1,0,1 repeater east delay=3" if "1: repeater" in question else "yes"
    return "don't know"
