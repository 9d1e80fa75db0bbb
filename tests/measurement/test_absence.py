"""Outputs that are on at rest are measured by their absence, here and in all that reads a measurement."""

from __future__ import annotations

import json

import pytest

from tickwright import check, diagnose, loads, measure, prove, why
from tickwright.diagnosis import find_causes
from tickwright.engine.running import rules_for
from tickwright.measurement import find_trigger, observe, recovery_steps
from tickwright.plan.setup import Setup
from tickwright.verify import order_verdicts, proof

# A button fixed to a block whose torch keeps a wire on: the torch goes off 2 steps after the press, and comes on again
# 2 steps after its end; the wire shows just that.
TORCH = """format = "tickwright plan 1"
legend = {"#" = "block", b = "short-button on=east", t = "torch on=west", w = "wire"}
layer = [{rows = "####"}, {rows = "b#tw"}]
triggers = {press = [0, 0, 1]}
outputs = {standing = [3, 0, 1]}
"""


def wished(*lines: str) -> str:
    return TORCH + '[[expect]]\ntrigger = "press"\noutput = "standing"\n' + "\n".join(lines)


def test_a_standing_light_has_a_delay_a_hold_and_a_minimum_trigger():
    (found,) = measure(loads(TORCH))
    assert (found.rest, found.kind, found.ends) == ("on", "one-shot", True)
    assert (found.delay_steps, found.hold_steps, found.pulses) == (2, 20, ((2, 20),))
    holds = {length: measure(loads(TORCH), length_steps=length)[0].hold_steps for length in (1, 2, 3, 30)}
    assert (found.minimum_trigger_steps, holds[3], holds[30]) == (3, 3, 30)
    assert [holds[1], holds[2]] == [None, None]
    assert found.kind_text == "one-shot, on at rest"


def test_the_json_of_measure_says_what_it_rests_on(call, tmp_path):
    path = tmp_path / "torch.toml"
    path.write_text(TORCH, encoding="utf-8")
    (result,) = json.loads(call("measure", path, "--json")[1])["results"]
    assert (result["rest"], result["hold_steps"], result["delay_steps"]) == ("on", 20, 2)
    assert "at rest" in " ".join(call("measure", path)[1].split())


def test_an_output_that_is_off_at_rest_says_so():
    (found,) = measure(loads(TORCH.replace("standing = [3, 0, 1]", "block = [1, 0, 1]")))
    assert (found.rest, found.hold_steps, found.kind_text) == ("off", 20, "one-shot")


@pytest.mark.parametrize(
    ("lines", "passed"),
    [
        (['hold = "1 s"', 'delay = "1 tick"', "pulses = 1", 'minimum_trigger_at_most = "3 steps"'], [True] * 4),
        (['hold = "2 s"'], [False]),
        (["never = true"], [False]),
        (["level_at_least = 15"], [True]),
        (['recovery = "0 s"'], [True]),
    ],
)
def test_expectations_are_of_the_absence(lines, passed):
    assert [verdict.passed for verdict in check(loads(wished(*lines)))] == passed


def test_what_never_goes_off_is_told_so():
    (found,) = check(loads(wished("never = true")))
    assert (found.expected, found.measured) == ("never goes off", "goes off after 0.1 s (1 tick)")


def test_a_proof_leaves_out_what_is_of_the_absence():
    found = prove(loads(wished('hold = "1 s"', 'settles_within = "2 s"')), "expectations")
    assert found.verdict == "proved"
    assert found.left_out == ("standing, on at rest: hold",)


@pytest.mark.parametrize("work", [proof.MOST_WORK, 8])  # 8: one state by the reference, then all by the native engine
def test_that_it_never_sticks_means_that_it_comes_back_on(work, monkeypatch):
    monkeypatch.setattr(proof, "MOST_WORK", work)
    plan = loads(TORCH)
    found = prove(plan, "never-sticks")
    assert found.claim == "from every state, hands off, standing comes back on for good"
    # 20 steps of the button, and the torch 2 steps after its end.
    assert (found.verdict, found.worst_steps) == ("proved", 22)
    late = prove(plan, "never-sticks", within_steps=21)
    assert (late.verdict, len(late.counterexample)) == ("refuted", 1)
    assert "comes back on for good only 1.1 s (11 ticks) later" in late.detail
    lever = loads(TORCH.replace("short-button on=east", "lever on=east"))
    stuck = prove(lever, "never-sticks")
    assert (stuck.verdict, stuck.detail) == (
        "refuted", "standing never comes back on for good after these presses",
    )  # fmt: skip


def test_it_is_explained_as_absence():
    assert why(loads(TORCH)).sentences[0].text == "One press turns standing off for 1 s, 0.1 s after it."
    lever = loads(TORCH.replace("short-button on=east", "lever on=east"))
    assert "off for good" in why(lever).sentences[0].text


HELD = """format = "tickwright plan 1"
legend = {"#" = "block", b = "short-button", w = "wire", t = "torch on=west", 4 = "repeater east delay=4", \
r = "repeater east", q = "repeater west"}
layer = [{rows = "##########\\n##########\\n##########"}, {rows = "ROWS"}]
triggers = {press = [0, 0, 1]}
"""


def test_what_keeps_it_off_for_good_is_told():
    rows = "bwwrwr#t\\n..wqw.."  # two repeaters in a ring, and one on to the torch's block
    told = why(loads(HELD.replace("ROWS", rows) + "outputs = {standing = [7, 0, 1]}\n")).sentences
    assert told[0].text == "One press turns standing off for good, 0.3 s after it."
    assert [one.text for one in told if one.kind == "for ever"] == [
        "Two repeaters keep one another on in a ring, which keeps it off: the ring loses nothing in a turn."
    ]


def test_a_train_of_absences_is_counted():
    # Off from 6 for 20 steps; and once more by the detour of four repeaters, 4 * 8 - 2 steps later.
    rows = "bwrwwwwr#t\\n.w....w.\\n.w4444w."
    plan = loads(HELD.replace("ROWS", rows) + "outputs = {standing = [9, 0, 1]}\n")
    assert measure(plan)[0].pulses == ((6, 20), (36, 20))
    told = [one.text for one in why(plan).sentences]
    assert told[0] == "One press turns standing off two times within 2.5 s, 0.3 s after it."
    assert "A press of 1.35 s turns standing off two times." in told
    kinds = [measure(plan, length_steps=length)[0].kind for length in (20, 27, 28, 60)]
    assert kinds == ["train", "train", "one-shot", "one-shot"]  # a gap of two steps the last repeater covers
    assert measure(plan)[0].minimum_trigger_steps == 28  # longer than the button: lengths are tried beyond its own


def test_recovery_and_orders_are_of_the_absence():
    plan = loads(TORCH)
    rules = rules_for(plan)
    setup = Setup(plan, rules)
    assert recovery_steps(setup, find_trigger(setup, "press"), "standing") == 0
    assert not order_verdicts(plan)[0].sensitive


def test_a_build_is_told_by_how_long_its_light_is_off():
    causes = find_causes(loads(TORCH), ["hold 1.5 s"], tolerance_steps=0).causes
    assert causes[0].text == "at (0, 0, 1) is a long-button instead of a short-button"
    assert not diagnose(loads(TORCH)).findings


def test_a_running_clock_has_no_rest():
    # A torch that feeds its own block: it is on and off for ever, whatever it shows when the button is pressed.
    plan = loads(
        'format = "tickwright plan 1"\n'
        'legend = {"#" = "block", b = "short-button", t = "torch on=west", w = "wire", n = "repeater north delay=4"}\n'
        'layer = [{rows = "######\\n######\\n###"}, {rows = "#tw..b\\nn.w\\nwww"}]\n'
        "triggers = {press = [5, 0, 1]}\noutputs = {beat = [2, 0, 1]}\n"
    )
    (found,) = measure(plan)
    rules = rules_for(plan)
    waits = range(12)
    setup = Setup(plan, rules)
    rests = {observe(setup, find_trigger(setup, "press"), wait_steps=wait).rest("beat") for wait in waits}
    assert (found.kind, found.rest, rests) == ("clock", "off", {"off"})
