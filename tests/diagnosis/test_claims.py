"""Claims in a diagnosis: a failed one is a finding with its chart, what was wanted and what was seen."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from charts.landing import LAMP, chart
from tickwright import diagnose, load, loads
from tickwright.errors import PlanError
from tickwright.plan import apply_edits

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"


def test_a_failed_claim_names_chart_wanted_seen_and_where():
    # By hand: two repeaters of 2 ticks: on at step 8, for 20 steps of the button and 4 of the lamp. The claim wants 10.
    plan = loads(LAMP + chart(["lamp: on from press + 10 steps for 24 steps"], name="gangway"))
    (finding,) = diagnose(plan).findings
    assert finding.code == "claim-not-kept"
    assert finding.message.startswith(
        'In chart "gangway" the claim "lamp: on from press + 10 steps for 24 steps" is not kept: '
    )
    assert finding.message.endswith("Wanted 0.5 s to 1.7 s; seen 0.4 s to 1.6 s.")
    assert finding.cells == (plan.outputs["lamp"],)
    assert finding.steps == (8,)
    assert finding.repair is not None
    assert finding.repair.verified
    mended = apply_edits(plan, finding.repair.edits)
    assert diagnose(mended).findings == ()


def test_kept_claims_and_other_triggers_are_no_finding():
    kept = LAMP + chart(["lamp: on from press + 8 steps for 24 steps"])
    assert diagnose(loads(kept)).findings == ()
    failed = LAMP + chart(["lamp: never on"])
    assert [one.code for one in diagnose(loads(failed), trigger="press", repairs=False).findings] == ["claim-not-kept"]
    two = failed.replace("press = [0, 0, 1]", "press = [0, 0, 1]\nother = [0, 0, 1]")
    by_one = loads(two.replace('name = "it"', 'name = "it"\nhand = ["0: press"]'))
    assert diagnose(by_one, trigger="other").findings == ()


def test_a_claim_that_follows_says_so_and_a_policy_is_at_its_trigger():
    text = LAMP.replace("lamp = [3, 0, 1]", "lamp = [3, 0, 1]\nbell = [2, 0, 1]")
    spans = ["lamp: on from press + 9 steps for 24 steps", "bell: 1 pulse of 2 s from lamp on"]
    claims = [*spans, "press: ignored until press + 1.4 s"]  # a press then makes the lamp go off later
    plan = loads(text + chart(claims))
    found = diagnose(plan, repairs=False).findings
    cells = {one.cells[0]: one.message for one in found}
    assert '"bell: 1 pulse of 2 s from lamp on", which follows lamp, is not kept' in cells[plan.outputs["bell"]]
    assert plan.triggers["press"] in cells


def test_a_chart_that_cannot_be_judged_is_told_and_one_that_cannot_be_read_is_an_error():
    early = loads(LAMP + chart(["lamp: on from press - 1 s for 24 steps"]))
    (finding,) = diagnose(early, repairs=False).findings
    assert 'The chart "it" cannot be judged.' in finding.message
    assert "before time 0" in finding.message
    with pytest.raises(PlanError, match="In the claim of chart"):
        diagnose(loads(LAMP + chart(["lamp: on for ever"])))


def test_a_claim_that_is_not_kept_stands_after_what_may_be_its_cause():
    plan = load(EXAMPLES / "flat-loop-4.toml")
    gap = replace(plan, cells={cell: part for cell, part in plan.cells.items() if cell != (5, 0, 1)}, source=None)
    for repairs in (True, False):
        codes = [finding.code for finding in diagnose(gap, repairs=repairs).findings]
        assert codes[0] == "ring-not-closed"
        assert set(codes[1:]) == {"claim-not-kept"}
