"""Order: a latch that starts by a race depends on it, the examples do not."""

from __future__ import annotations

from pathlib import Path

import pytest

from tickwright.plan import load, loads
from tickwright.verify import orders
from tickwright.verify.orders import ORDERS, ORIENTATIONS, order_verdicts

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
# Two torches, each of which keeps the other dark. Both are lit at the start, and whichever is told first goes out. A
# press puts the first torch out, if it is the lit one.
RACE = """format = "tickwright plan 1"
legend = {"#" = "block", t = "torch on=west", w = "wire", b = "short-button"}
layer = [{rows = "######\\n#....#\\n######"}, {rows = "#tw#tw\\nw....w\\nwwwwww"}, {rows = "b"}]
triggers = {press = [0, 0, 2]}
outputs = {second = [4, 0, 1]}
"""


def test_a_race_at_the_start_is_found_with_its_first_difference():
    (verdict,) = order_verdicts(loads(RACE))
    assert verdict.sensitive
    canonical = verdict.partings[0].canonical_answer
    assert {parting.answer.kind for parting in verdict.partings} == {"none", "latched"} - {canonical.kind}
    reversed_ = next(parting for parting in verdict.partings if parting.variant == "reversed")
    # The second torch lights 4 steps after a press where the first was lit; or it was lit all along. So they differ in
    # the step of the press.
    assert (reversed_.output, reversed_.step) == ("second", 0)
    assert {reversed_.canonical_value, reversed_.value} == {0, 15}


def test_answers_of_one_kind_that_differ_in_their_hold_are_a_difference(monkeypatch):
    """The hold as it is read is one step longer in the second variant alone."""
    plan = load(EXAMPLES / "pulse-shortener.toml")
    right, calls = orders._answer, []

    def answer(seen, output, minimum):
        calls.append(output)
        found = right(seen, output, minimum)
        later = len(calls) > len(plan.outputs) and len(calls) <= 2 * len(plan.outputs)
        return found._replace(hold_steps=(found.hold_steps or 0) + later)

    monkeypatch.setattr(orders, "_answer", answer)
    (verdict,) = order_verdicts(plan)
    assert [(one.variant, one.output) for one in verdict.partings] == [("reversed", name) for name in plan.outputs]


def test_every_order_and_orientation_is_tried():
    (verdict,) = order_verdicts(loads(RACE))
    assert len(ORDERS) == 10
    assert len(ORIENTATIONS) == 7
    assert len(verdict.variants) == 17
    assert len(set(verdict.variants)) == 17
    assert verdict.as_data()["variants"][10:12] == ["turned by 90 degrees", "turned by 180 degrees"]


@pytest.mark.parametrize("name", ["flat-loop-4", "stacked-loop-3", "taps", "latch", "pulse-shortener"])
def test_examples_are_not_sensitive(name):
    assert not any(verdict.sensitive for verdict in order_verdicts(load(EXAMPLES / f"{name}.toml")))


def test_the_minimum_trigger_may_be_compared_too():
    (verdict,) = order_verdicts(load(EXAMPLES / "taps.toml"), minimum_trigger=True)
    assert not verdict.sensitive
