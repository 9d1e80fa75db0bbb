"""What does nothing is told, with where and why; and what does something is not told of."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from tickwright import Wish, choose, diagnose, load, loads, measure
from tickwright.diagnosis.cases import Sketch
from tickwright.diagnosis.evidence import Evidence
from tickwright.diagnosis.silence import heard_by_nobody, never_powered, ring_not_closed
from tickwright.engine.running import rules_for
from tickwright.plan import Plan, apply_edits, join, remove
from tickwright.plan.setup import Setup

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
LEGEND = (
    '"#" = "block", b = "short-button", w = "wire", r = "repeater east", q = "repeater west", ">" = "comparator east", '
    '"<" = "comparator west", L = "lamp", p = "piston east", t = "torch on=west"'
)


def laid(rows: str, outputs: str, floor: str | None = None) -> Plan:
    lines = rows.split("/")
    under = floor or "/".join("#" * max(map(len, lines)) for _ in lines)
    layers = ", ".join(f'{{rows = "{part.replace("/", chr(92) + "n")}"}}' for part in (under, rows))
    return loads(
        f'format = "tickwright plan 1"\nlegend = {{{LEGEND}}}\nlayer = [{layers}]\n'
        f"triggers = {{press = [0, 0, 1]}}\noutputs = {{{outputs}}}\n"
    )


def silent(plan: Plan) -> list[tuple[str, tuple]]:
    evidence = Evidence(Setup(plan, rules_for(plan)))
    found = (*never_powered(evidence), *ring_not_closed(evidence), *heard_by_nobody(evidence))
    return [(one.finding.code, one.finding.cells) for one in found]


def test_a_piston_beside_a_wire_that_does_not_point_at_it():
    plan = laid("bww/.p", "piston = [1, 1, 1]")
    assert measure(plan)[0].kind == "none"
    finding = next(one for one in diagnose(plan).findings if one.code == "never-powered")
    assert finding.cells == ((1, 1, 1), (1, 0, 1))
    assert "the wire at (1, 0, 1) runs east and west and passes it" in finding.message


def test_a_lamp_beside_a_wire_that_bends_past_it():
    plan = laid("bwL/.w/.wL", "far = [2, 2, 1]")
    finding = next(one for one in diagnose(plan).findings if one.code == "never-powered")
    assert finding.cells == ((2, 0, 1), (1, 0, 1))
    assert "turns to south and west and passes it" in finding.message
    assert ("never-powered", ((2, 0, 1), (1, 0, 1))) in silent(plan)


def test_a_comparator_whose_output_nothing_hears():
    plan = laid("bwL/.w/.w>", "lamp = [2, 0, 1]")
    assert ("heard-by-nobody", ((2, 2, 1),)) in silent(plan)
    ends = laid("bw>w", "wire = [1, 0, 1]")
    finding = next(one for one in diagnose(ends).findings if one.code == "heard-by-nobody")
    assert "the wire at (3, 0, 1) before it leads to nothing that listens" in finding.message


@pytest.mark.parametrize(
    "name", ["flat-loop-2", "flat-loop-6", "flat-loop-8", "stacked-loop-3", "stacked-loop-5", "barrier", "taps-loop"]
)
def test_a_wire_erased_from_a_loop_is_named_as_the_gap_before_all_else(name):
    plan = load(EXAMPLES / f"{name}.toml")
    (loop,) = Evidence(Setup(plan, rules_for(plan))).loops
    named = {*plan.outputs.values(), *plan.triggers.values()}
    erased = [cell for cell in loop.cells if plan.cells[cell].kind == "wire" and cell not in named]
    told = 0
    for cell in erased:
        gap = replace(plan, cells={one: part for one, part in plan.cells.items() if one != cell}, source=None)
        findings = diagnose(gap, repairs=False, depth="laid").findings
        if Evidence(Setup(gap, rules_for(gap))).loops:
            continue  # there was another way round
        assert findings, cell
        assert (findings[0].code, findings[0].cells[0]) == ("ring-not-closed", cell)
        assert f"a wire is missing at {cell}" in findings[0].message
        told += 1
    assert told >= 2


def test_the_gap_is_mended_by_the_wire_that_is_missing():
    plan = load(EXAMPLES / "flat-loop-6.toml")
    (loop,) = Evidence(Setup(plan, rules_for(plan))).loops
    cell = next(one for one in loop.cells if plan.cells[one].kind == "wire" and one not in plan.outputs.values())
    gap = replace(plan, cells={one: part for one, part in plan.cells.items() if one != cell}, source=None)
    finding = next(one for one in diagnose(gap).findings if one.code == "ring-not-closed")
    assert finding.repair is not None
    assert (finding.repair.text, finding.repair.verified) == (f"Lay a wire at {cell}.", True)
    mended = apply_edits(gap, finding.repair.edits)
    assert [one.hold_steps for one in measure(mended)] == [one.hold_steps for one in measure(plan)]


def test_a_comparator_that_faces_away_from_its_ring():
    plan = laid("bww>>>w/..w<<>w", "entry = [2, 0, 1]")
    assert [code for code, _ in silent(plan)][:1] == ["ring-not-closed"]


ECHOES = [  # plans with one fault each, and how it is told
    ("bwqL", "lamp = [3, 0, 1]", "output-unreached", "Turn the repeater at (2, 0, 1) to face east."),
    ("bww/..L", "lamp = [2, 1, 1]", "never-powered", "Lay a wire on top of the lamp, at (2, 1, 2)."),
    ("bw>.L", "lamp = [4, 0, 1]", "output-unreached", "Lay a wire at (3, 0, 1)."),
]


@pytest.mark.parametrize(("rows", "outputs", "code", "repair"), ECHOES)
def test_one_fault_is_one_finding(rows, outputs, code, repair):
    plan = laid(rows, outputs)
    findings = diagnose(plan).findings
    assert [(one.code, one.repair.text, one.repair.verified) for one in findings] == [(code, repair, True)]
    # Without repairs what is proposed is only looked at as laid: it shows the same.
    assert [one.code for one in diagnose(plan, repairs=False).findings] == [code]


def test_two_faults_are_two_findings():
    plan = laid(
        "bwqL/.w../.w>.", "lamp = [3, 0, 1]"
    )  # the comparator at the end is unheard, however the repeater faces
    assert [one.code for one in diagnose(plan).findings] == ["output-unreached", "heard-by-nobody"]


def test_a_gap_is_told_before_wires_that_touch_elsewhere():
    ring = load(EXAMPLES / "flat-loop-2.toml")
    (loop,) = Evidence(Setup(ring, rules_for(ring))).loops
    named = {*ring.outputs.values(), *ring.triggers.values()}
    gap = next(cell for cell in loop.cells if ring.cells[cell].kind == "wire" and cell not in named)
    rows, triggers = ("bwwr/####", "..../bwwr"), {"press": (0, 0, 1), "ring": (0, 1, 2)}
    touching = Sketch(rows, triggers, {"barrier": (3, 0, 1), "bell": (3, 1, 2)}).plan()
    whole = join(remove(ring, gap), touching, (0, 20, 0))
    codes = [one.code for one in diagnose(whole, repairs=False, depth="laid").findings]
    assert codes == ["ring-not-closed", "wires-joined"]


SOUND = [
    laid("bwwL/.w/.wwL", "one = [3, 0, 1], two = [3, 2, 1]"),  # a branch
    laid("b>>>w/....w/w<<<w/w", "end = [0, 3, 1]"),  # a row of comparators that turns back, and ends in a wire
    laid("brrrw/....w/L....", "lamp = [4, 1, 1]"),
]


@pytest.mark.parametrize("plan", SOUND)
def test_sound_plans_are_left_alone(plan):
    assert silent(plan) == []


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.toml")), ids=lambda path: path.stem)
def test_examples_are_left_alone(path):
    assert silent(load(path)) == []


def test_designs_are_left_alone():
    for wish in (Wish(24), Wish(108), Wish(240, within_steps=20), Wish(60, trigger="lever"), Wish(4)):
        for design in choose(wish).designs:
            assert silent(design.plan) == [], (design.family, design.settings)


def test_what_one_repair_would_mend_is_told_once_without_repairs_too():
    # The repeater faces an empty cell, and so nothing reaches the lamp behind that: one wire mends both.
    plan = laid("br.L", "lamp = [3, 0, 1]")
    assert silent(plan) == [("heard-by-nobody", ((1, 0, 1),))]
    for repairs in (True, False):
        assert [one.code for one in diagnose(plan, repairs=repairs).findings] == ["output-unreached"]
