"""Every finding has a circuit that shows it, a near twin that does not, and a repair that mends it, harming nothing."""

from __future__ import annotations

import ast
import json
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest

from tickwright import Edit, diagnose, load, loads, measure, run
from tickwright.diagnosis import CODES, explain, find_code, mend, most_rises
from tickwright.diagnosis.cases import Case, Sketch, cases
from tickwright.diagnosis.diagnosing import _Trial
from tickwright.diagnosis.evidence import Evidence
from tickwright.diagnosis.explaining import findings_of
from tickwright.diagnosis.finders import FINDERS
from tickwright.diagnosis.lines import output_unreached
from tickwright.errors import PlanError, UsageError
from tickwright.findings import SEVERITIES, Finding, Repair
from tickwright.kinds import Part, parse_part
from tickwright.plan import apply_edits, join, mirror, rotate
from tickwright.plan.setup import Setup
from tickwright.rules import load_rules

ROOT = Path(__file__).resolve().parents[2]
OF_THE_HAND = ("act-refused", "act-after-end")  # there is no plan to mend
MENDED = [code for code in CODES if code not in OF_THE_HAND]


@cache
def found(code: str) -> tuple[Finding, ...]:
    case = cases()[code]
    return findings_of(case.wrong, case.rules)


def the(code: str) -> Finding:
    return next(finding for finding in found(code) if finding.code == code)


def test_the_table_has_a_case_for_every_code_and_no_other():
    assert list(cases()) == list(CODES)


def test_every_code_that_the_program_gives_is_in_the_table_and_every_entry_is_given():
    given = set()
    for path in (ROOT / "src/tickwright").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and node.args and isinstance(node.args[0], ast.Constant):
                called = ast.unparse(node.func)
                if called == "suspicion" or called.endswith("notes.add"):
                    given.add(node.args[0].value)
    assert given == set(CODES)


def test_every_finder_says_which_codes_it_finds():
    named = [code for depth in FINDERS.values() for codes in depth.values() for code in codes]
    assert sorted(named) == sorted(MENDED)
    for depth in FINDERS.values():
        for finder, codes in depth.items():
            for code in codes:
                case = cases()[code]
                assert {one.finding.code for one in finder(Evidence(Setup(case.wrong.plan(), case.rules)))} == {code}


@pytest.mark.parametrize("code", CODES)
def test_the_table_is_written_out(code):
    entry = CODES[code]
    assert entry.severity in SEVERITIES
    assert all(text.endswith(".") and len(text) > 20 for text in (entry.cause, entry.helps))
    assert not entry.title.endswith(".")


@pytest.mark.parametrize("code", CODES)
def test_the_circuit_has_the_finding_with_cells_and_the_severity_of_the_table(code):
    finding = the(code)
    assert finding.severity == CODES[code].severity
    assert finding.cells
    assert json.loads(json.dumps(finding.as_data()))["code"] == code


@pytest.mark.parametrize("code", CODES)
def test_the_near_twin_has_not(code):
    case: Case = cases()[code]
    assert code not in {finding.code for finding in findings_of(case.right, case.rules)}


@pytest.mark.parametrize("code", MENDED)
def test_the_repair_makes_it_go_away_and_brings_nothing_new(code):
    case, repair = cases()[code], the(code).repair
    assert repair is not None
    assert repair.verified
    assert repair.edits
    after = diagnose(apply_edits(case.wrong.plan(), repair.edits), case.rules, repairs=False).findings
    before = Counter(finding.code for finding in found(code))
    assert Counter(finding.code for finding in after)[code] == before[code] - 1
    assert not Counter(finding.code for finding in after) - before


@pytest.mark.parametrize("code", MENDED)
def test_turned_and_mirrored_it_is_found_and_mended_alike(code):
    case = cases()[code]
    plan = rotate(mirror(case.wrong.plan(), "x"), 3)
    turned = diagnose(plan, case.rules).findings
    assert Counter(finding.code for finding in turned) == Counter(finding.code for finding in found(code))
    repair = next(finding.repair for finding in turned if finding.code == code)
    assert repair is not None
    assert repair.verified


@pytest.mark.parametrize("path", sorted(ROOT.glob("examples/*.toml")), ids=lambda path: path.stem)
def test_the_examples_have_no_finding_that_is_not_meant(path):
    long = path.stem in ("hour-counter", "hopper-clock")  # for these what takes many runs is left out
    codes = [one.code for one in diagnose(load(path), repairs=False, depth="pressed" if long else "all").findings]
    meant = {
        "older-wire-fade": ["loop-never-fades", "climbing-wire-feeds-comparator"],
        "shuttle": ["cell-left-behind"],  # what makes it a shuttle
        "shuttle-clock": ["cell-left-behind"],
    }
    assert codes == meant.get(path.stem, [])


# --- single findings, more closely --------------------------------------------------------------------------------


def test_a_longer_button_or_taps_help_a_trigger_that_is_too_short_and_a_slower_repeater_does_not():
    """Common practice, no source: facts 2 and 4 of the list at the end of the rules."""
    plan = cases()["trigger-too-short"].wrong.plan()
    slower = replace(plan, cells={**plan.cells, (1, 0, 1): parse_part("repeater east delay=4")})
    assert [measure(one)[0].kind for one in (plan, slower)] == ["train", "train"]
    repair = the("trigger-too-short").repair
    assert repair is not None
    assert repair.edits == (Edit("place", (0, 0, 1), "long-button"),)
    long = replace(plan, cells={**plan.cells, (0, 0, 1): parse_part("long-button")})
    longer_loop = stretched(long, 3)
    taps = diagnose(longer_loop).findings[0].repair
    assert taps is not None
    assert "parallel taps" in taps.text
    assert measure(longer_loop)[0].kind == "train"
    mended = apply_edits(longer_loop, taps.edits)
    assert measure(mended)[0].kind == "one-shot"


def stretched(plan, more: int):
    """The flat loop with so many more comparators in each row: the east end moves on."""
    cells = {cell: part for cell, part in plan.cells.items() if cell[2] == 0 or cell[0] < 9}
    for x in range(9, 9 + more):
        cells |= {(x, 0, 1): Part("comparator", "east"), (x, 1, 1): Part("comparator", "west")}
    for y in (0, 1):
        cells[9 + more, y, 1] = Part("wire")
        cells |= {(x, y, 0): Part("block") for x in range(10 + more)}
    return replace(plan, cells=cells)


@pytest.mark.parametrize(
    ("name", "turn_ticks", "loss"),
    [("flat-loop-6", 6, 2), ("flat-loop-8", 8, 2), ("stacked-loop-3", 3, 1), ("stacked-loop-5", 5, 1)],
)
def test_loops_are_found_with_their_mean(name, turn_ticks, loss):
    """Common practice, no source: fact 5; so many ticks a turn, so many levels lost in it."""
    ev = Evidence(Setup(load(ROOT / f"examples/{name}.toml"), load_rules()))
    assert [(loop.turn_steps, loop.loss, loop.mean) for loop in ev.loops] == [
        (2 * turn_ticks, loss, Fraction(-loss, 2 * turn_ticks))
    ]


def test_a_loop_that_never_fades_is_told_cell_by_cell():
    finding = the("loop-never-fades")
    assert finding.cells == ((3, 0, 1), (4, 0, 1), (4, 1, 1), (3, 1, 1), (2, 1, 1), (2, 0, 1))
    assert "its max-plus mean is 0 levels a step over a turn of 0.2 s (2 ticks)" in finding.message


def test_the_message_says_where_to_regenerate():
    finding = the("output-too-far")
    assert "The last cell with any is (15, 0, 1): regenerate there or before." in finding.message
    assert finding.repair is not None
    assert finding.repair.edits == (Edit("place", (15, 0, 1), "repeater east"),)


def test_a_wire_that_climbs_to_another_line_is_cut_off_by_a_block():
    sketch = Sketch(
        ("bwwr/####", "..../bwwr"),
        {"press": (0, 0, 1), "ring": (0, 1, 2)},
        {"barrier": (3, 0, 1), "bell": (3, 1, 2)},
    )
    assert [answer.kind for answer in measure(sketch.plan(), "press")] == ["one-shot", "one-shot"]
    found = diagnose(sketch.plan()).findings
    assert [finding.code for finding in found] == ["wires-joined"]
    assert found[0].repair is not None
    assert found[0].repair.edits == (Edit("place", (1, 0, 2), "block"), Edit("place", (2, 0, 2), "block"))
    mended = apply_edits(sketch.plan(), found[0].repair.edits)
    assert [answer.kind for answer in measure(mended, "press")] == ["one-shot", "none"]


def test_a_container_that_is_no_output_is_watched_all_the_same():
    plan = cases()["container-never-fills"].right.plan()
    assert diagnose(replace(plan, outputs={"hopper": (0, 0, 1)}), repairs=False).findings == ()


def test_a_tie_names_the_parts_that_tie():
    finding = the("order-sensitive")
    assert finding.cells == ((3, 0, 1), (3, 1, 1))
    assert "the repeater at (3, 0, 1), the comparator at (3, 1, 1)" in finding.message


def test_the_climbing_wire_matters_under_one_rule_set_only():
    plan = cases()["climbing-wire-feeds-comparator"].wrong.plan()
    levels = [
        max(value for _, value in run(plan, ["0:press"], rules=name, watch={"it": (3, 0, 1)}).trace.changes["it"])
        for name in ("standard", "older-wire")
    ]
    assert levels == [14, 13]


@pytest.mark.parametrize(
    ("period", "flashes"),
    [(20, 1), (10, 2), (7, 3), (6, 4), (5, 4), (4, 5)],
)
def test_rises_are_counted_in_any_second(period, flashes):
    """By hand: of 20 steps, begun with a rise. 3 Hz, which passes WCAG 2.2, 2.3.1, is a period of 6 2/3 steps."""
    train = [(0, 0)]
    for start in range(3, 100, period):
        train += [(start, 15), (start + 2, 0)]
    assert most_rises(train) == (flashes, 3)


def test_a_diagnosis_can_be_stopped_and_keeps_what_it_found():
    plan = cases()["output-unreached"].wrong.plan()
    told = []

    def stop(text: str) -> bool:
        told.append(text)
        return len(told) > 1

    found = diagnose(plan, progress=stop)
    assert found.stopped
    assert [finding.code for finding in found.findings] == ["output-unreached"]
    assert found.findings[0].repair is None


def test_an_unknown_code_is_answered_with_the_near_ones():
    with pytest.raises(UsageError) as caught:
        find_code("lamp-flash")
    assert str(caught.value) == 'There is no finding "lamp-flash". Did you mean "lamp-flashes"?'


def test_an_edit_that_is_none_is_refused():
    plan = cases()["output-unreached"].wrong.plan()
    with pytest.raises(PlanError) as caught:
        apply_edits(plan, [Edit("paint", (0, 0, 0))])
    assert str(caught.value) == ('There is no edit "paint", or it lacks its part or offset: use place, remove, move.')


@pytest.mark.parametrize("code", CODES)
def test_every_code_is_explained_by_runs(code):
    told = explain(code)
    assert told.finding == the(code)
    assert json.loads(json.dumps(told.as_data()))["outputs"]["shown"]
    assert (told.repaired is not None) == (code not in OF_THE_HAND)


def test_repairs_are_done_one_after_another_until_none_is_left():
    # Two faults in one plan: the repeater of one line faces back, and the wire of the other is a cell too long.
    first, second = (cases()[code].wrong.plan() for code in ("output-unreached", "output-too-far"))
    both = join(first, second, (0, 3, 0))
    mended = mend(both)
    assert [finding.code for finding in mended.done] == ["output-unreached", "output-too-far"]
    assert mended.left == ()
    assert [found.kind for found in measure(mended.plan, "press", "lamp")] == ["one-shot"]
    assert [found.kind for found in measure(mended.plan, "press-2", "lamp-2")] == ["one-shot"]


# The press comes to the joined wire straight and by a detour of three repeaters, so that it lasts 36 steps there; a
# lamp stands beside the middle one of the three.
DETOUR = """format = "tickwright plan 1"
legend = {"#" = "block", b = "short-button", w = "wire", L = "lamp", 4 = "repeater east delay=4"}
layer = [{rows = "#######\\n.#...#\\n.#####\\n...#"}, {rows = "bw4wwww\\n.w...w\\n.w444w\\n...L"}]
triggers = {press = [0, 0, 1]}
outputs = {joined = [5, 0, 1], far = [3, 3, 1]}
"""


def test_a_repair_that_changes_another_output_is_no_repair():
    plan = loads(DETOUR)
    finding = next(one for one in diagnose(plan).findings if one.code == "output-unreached")
    assert finding.cells[0] == plan.outputs["far"]
    turned = "Turn the repeater at (3, 2, 1) to face south."
    (edit,) = (Edit("place", (3, 2, 1), "repeater south delay=4"),)
    held = [measure(one, output="joined")[0].hold_steps for one in (plan, apply_edits(plan, (edit,)))]
    assert held == [36, 20]
    assert finding.repair is None or finding.repair.text != turned
    if finding.repair is not None:
        after = measure(apply_edits(plan, finding.repair.edits))
        assert [one.hold_steps for one in after if one.output == "joined"] == [36]
        assert [one.kind for one in after if one.output == "far"] != ["none"]


def test_a_repair_that_mends_nothing_is_no_repair():
    evidence = Evidence(Setup(loads(DETOUR), load_rules()))
    suspicions = list(output_unreached(evidence))
    trial = _Trial(evidence, "laid", suspicions)
    nothing = Repair("Put a block there.", (Edit("place", (6, 3, 0), "block"),))
    assert not trial.mends(nothing, suspicions[0].finding)
    wire = Repair(
        "Lead a wire there.",
        (
            *(Edit("place", (x, 3, 0), "block") for x in (0, 1, 2)), Edit("place", (0, 2, 0), "block"),
            *(Edit("place", cell, "wire") for cell in ((0, 2, 1), (0, 3, 1), (1, 3, 1), (2, 3, 1))),
        ),
    )  # fmt: skip
    assert trial.mends(wire, suspicions[0].finding)


def test_what_weighs_most_comes_first():
    for code in ("lamp-flashes", "output-unreached", "wires-joined"):
        weights = [SEVERITIES.index(finding.severity) for finding in found(code)]
        assert weights == sorted(weights, reverse=True)
