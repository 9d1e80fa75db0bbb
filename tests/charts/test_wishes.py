"""Three charts of a builder's wishes: written, failed, tuned or repaired, and kept. docs/charts.md tells the story.

By hand: a repeater of D ticks hands a press on 2 D steps later; a lamp goes dark 4 steps after its power; a comparator
takes 2 steps. What stands in the page must be what the commands print.
"""

from __future__ import annotations

from pathlib import Path

from charts.wishes import GATE, LOCK_SHOWS, TOGGLE
from tickwright import check_charts, load, loads, prove_chart
from tickwright.design import tune_to_chart
from tickwright.plan import dumps

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "docs" / "charts.md").read_text(encoding="utf-8")


def told(text: str) -> bool:
    """Whether the page says this, however its lines are broken."""
    return " ".join(text.split()) in " ".join(PAGE.split())


def claims(plan):
    return check_charts(plan)[0].claims


def test_a_gate_a_bell_and_a_lamp_are_tuned_to_their_chart():
    gate, bell, lamp = claims(loads(GATE))
    assert (gate.passed, bell.passed, lamp.passed) == (False, True, False)
    assert gate.seen == ((8, 38),)
    assert lamp.seen == ((6, 40),)  # three repeaters of one tick; down for 30 steps, and 4 of the lamp
    assert told(gate.detail)
    assert told(lamp.detail)
    found = tune_to_chart(loads(GATE), "one passenger", most_runs=600)
    best = found.found[0]
    assert best.passed
    assert (best.cells_touched, best.parts_more, best.cost) == (2, 0, "no more parts, no more room")
    assert all(told(change) for change in best.changes)
    kept = loads(dumps(best.plan))
    assert [claim.wanted for claim in claims(kept)] == [((14, 42),), ((14, 20), (44, 50)), ((12, 46),)]
    assert all(claim.passed for claim in claims(kept))


def test_a_toggle_with_a_safe_state_is_tuned_to_its_chart():
    (lamp,) = claims(loads(TOGGLE))
    assert not lamp.passed
    assert told(lamp.detail)
    found = tune_to_chart(loads(TOGGLE), "dark while it is safe", most_runs=900)
    best = found.found[0]
    assert best.passed
    assert best.changes == (
        "put a repeater that leads north in place of the wire at (8, 4, 1)",
        "set the repeater at (8, 4, 1) to 3 ticks instead of 1",
    )
    assert all(told(change) for change in best.changes)
    assert all(claim.passed for claim in claims(loads(dumps(best.plan))))


def test_the_chart_of_a_lock_of_two_buttons_is_repaired():
    path = ROOT / "examples" / "two-keys.toml"
    text = path.read_text(encoding="utf-8")
    first = loads(text.replace("door: on from 1st south + 0.2 s until 1st north released + 0.4 s", LOCK_SHOWS))
    (door,) = claims(first)
    assert door.detail == "on 0.7 s instead of 0.6 s: off at 1.4 s instead of 1.3 s, 2 steps late"
    assert told(LOCK_SHOWS.partition(" until ")[2])
    assert told("off at 1.4 s instead of 1.3 s, 2 steps late")
    assert claims(load(path))[0].passed


def test_a_press_before_the_gate_is_back_refutes_the_tuned_gate():
    tuned = GATE.replace("brrwp", "b4rwp").replace("w111L", "w411L")
    plan = loads(tuned.replace('"1" =', '"4" = "repeater east delay=4"\n"1" ='))
    assert all(claim.passed for claim in claims(plan))
    proof = prove_chart(plan, "one passenger")
    assert (proof.verdict, proof.counterexample) == ("refuted", ("0:press", "37:press"))
    assert told("a press 37 steps after the first")
