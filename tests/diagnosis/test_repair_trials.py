"""A repair counts as verified only if its finding is gone, no other came, and no output went dark."""

from __future__ import annotations

from tickwright import measure
from tickwright.diagnosis.diagnosing import _gathered, _Trial, diagnose
from tickwright.diagnosis.evidence import Evidence
from tickwright.findings import Edit, Finding, Repair
from tickwright.plan import apply_edits, loads
from tickwright.plan.setup import Setup
from tickwright.rules import load_rules

PLAN = loads('''format = "tickwright plan 1"
legend = {"#" = "block", b = "short-button", w = "wire", q = "repeater west", r = "repeater east", L = "lamp"}
layer = [{rows = """
####
#...
#...
"""}, {rows = """
bwqL
w...
L...
"""}]
triggers = {press = [0, 0, 1]}
outputs = {far = [3, 0, 1], near = [0, 2, 1]}''')
TURN = Edit("place", (2, 0, 1), "repeater east")


def trial() -> _Trial:
    evidence = Evidence(Setup(PLAN, load_rules()), None, None)
    suspicions, _ = _gathered(evidence, "pressed", None)
    return _Trial(evidence, "pressed", suspicions)


def finding() -> Finding:
    found = diagnose(PLAN, depth="pressed", repairs=False).findings
    return next(one for one in found if one.code == "output-unreached")


def test_turning_the_repeater_mends_it():
    assert trial().mends(Repair("turn", (TURN,)), finding())


def test_what_leaves_the_finding_mends_nothing():
    assert not trial().mends(Repair("nothing", (Edit("place", (2, 0, 1), "repeater west"),)), finding())


def test_what_changes_nothing_mends_no_finding_that_leaves_all_outputs_lit():
    """A comparator that nothing hears: every output is as lit with it as without it."""
    plan = apply_edits(PLAN, (TURN, Edit("place", (1, 1, 0), "block"), Edit("place", (1, 1, 1), "comparator east")))
    evidence = Evidence(Setup(plan, load_rules()), None, None)
    suspicions, _ = _gathered(evidence, "laid", None)
    unheard = next(one.finding for one in suspicions if one.finding.code == "heard-by-nobody")
    once = _Trial(evidence, "laid", suspicions)
    assert once.mends(Repair("a lamp before it", (Edit("place", (2, 1, 1), "lamp"),)), unheard)
    assert not once.mends(Repair("nothing", (Edit("place", (1, 1, 1), "comparator east"),)), unheard)


def test_what_darkens_another_output_mends_nothing():
    """The same turn, with the wire to the other lamp taken away: refused even if that made no finding of its own."""
    once = trial()
    once.known["output-unreached"] += 1
    once.known["wire-dead-end"] += 9
    darkening = Repair("turn and cut", (TURN, Edit("remove", (0, 1, 1))))
    assert once.mends(Repair("turn", (TURN,)), finding())
    assert not once.mends(darkening, finding())


def test_what_makes_another_output_come_later_mends_nothing():
    """The same turn, with a repeater in the place of the other lamp's wire: both lamps come on, the other one later."""
    later = Edit("place", (0, 1, 1), "repeater south delay=4")
    delays = [measure(apply_edits(PLAN, edits), output="near")[0].delay_steps for edits in ((TURN,), (TURN, later))]
    assert delays == [0, 8]
    assert not trial().mends(Repair("turn and delay", (TURN, later)), finding())
