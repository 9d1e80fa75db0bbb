"""Proofs: verdicts on plans, replayed refutations, and brute force over press lists on small circuits."""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache, partial
from itertools import combinations
from pathlib import Path

import pytest

from charts.landing import BUTTON_AND_TORCH
from tickwright.engine import run
from tickwright.engine.reference import Simulation, state_key
from tickwright.engine.running import rules_for, script
from tickwright.errors import UsageError
from tickwright.kinds import Part
from tickwright.measurement import pulses
from tickwright.plan import Plan, load, loads
from tickwright.plan.setup import Setup
from tickwright.verify import prove
from tickwright.verify.proving import Outlooks
from tickwright.verify.search import Move, Search

EAST, WEST = "comparator east", "comparator west"
EXAMPLES = Path(__file__).resolve().parents[2] / "examples"


def flat_loop(comparators: int) -> Plan:
    """The gangway lamp of the ferry landing, as a flat loop of so many comparators."""
    half = comparators // 2
    return loads(f'''format = "tickwright plan 1"
title = "Gangway lamp"
legend = {{"#" = "block", b = "short-button", r = "repeater east", w = "wire", ">" = "{EAST}", "<" = "{WEST}"}}
layer = [{{rows = """
###{"#" * half}#
..#{"#" * half}#
"""}}, {{rows = """
brw{">" * half}w
..w{"<" * half}w
"""}}]
triggers = {{press = [0, 0, 1]}}
outputs = {{entry = [2, 0, 1]}}''')


def replayed(plan, proof):
    trace = run(plan, proof.counterexample, proof.replay_steps).trace
    return {name: pulses(trace.changes[name]) for name in trace.names}


def test_a_loop_longer_than_its_trigger_is_refuted_with_a_list_that_runs_into_a_burst_train():
    plan = flat_loop(14)  # 14 ticks round; a short button gives 10
    proof = prove(plan, "holds", within_steps=2, at_least_steps=60)
    assert (proof.verdict, proof.counterexample) == ("refuted", ("0:press",))
    train = replayed(plan, proof)["entry"]
    assert len(train) > 1
    assert proof.detail == "entry is off 1.1 s (11 ticks) after the last press, before 3 s (30 ticks)"
    assert train[0].start + train[0].duration == 22  # the step at which it is seen to be off
    # After a single press it does come to rest in the end, and after as many as one likes, which takes many states.
    settled = prove(plan, "settles", hands=1)
    assert settled.verdict == "proved"
    assert run(plan, ["0:press"], 1000, watch={"x": (9, 1, 1)}).trace.changes["x"][-1][0] <= settled.worst_steps
    assert prove(plan, "settles", states=2000).verdict == "undecided"
    proof = prove(plan, "settles", states=400_000)
    assert (proof.verdict, proof.states) == ("proved", 303_075)


def test_a_loop_shorter_than_its_trigger_is_proof_against_any_presses():
    plan = flat_loop(6)
    proof = prove(plan, "holds", within_steps=2, at_least_steps=106, at_most_steps=106)
    assert (proof.verdict, proof.counterexample) == ("proved", ())
    assert "any number of presses" in proof.bound
    assert proof.states == 859
    # One step less, or one more, and it is refuted.
    assert prove(plan, "holds", within_steps=2, at_least_steps=107).verdict == "refuted"
    assert prove(plan, "holds", within_steps=2, at_most_steps=105).verdict == "refuted"
    assert prove(plan, "holds", within_steps=1).verdict == "refuted"


def test_the_states_are_those_that_replays_from_the_start_reach():
    """No copies, no observers: each state is reached by replaying its presses in a new simulation."""
    plan = flat_loop(2)
    rules = rules_for(plan)

    def state_after(presses, steps):
        sim = Simulation(Setup(plan, rules))
        sim.queue_stimuli(script(plan, [f"{step}:press" for step in presses]))
        sim.advance(steps)
        sim.now = steps - 1
        return state_key(sim)

    start = ((), 0)
    ways = {state_after(*start): start}

    def successors(key):
        presses, steps = ways[key]
        for more in (presses, (*presses, steps)):
            after = state_after(more, steps + 1)
            ways.setdefault(after, (more, steps + 1))
            yield after

    search = Search(map(Move, ways), lambda key, _: map(Move, successors(key)))
    assert list(search)
    proof = prove(plan, "settles")
    assert (len(search.keys), search.edges) == (proof.states, proof.edges) == (188, 222)


def test_what_the_plan_expects_for_any_presses():
    proof = prove(load(EXAMPLES / "flat-loop-6.toml"), "expectations")
    assert proof.verdict == "proved"
    assert proof.left_out == ("lamp: minimum_trigger_at_most", "entry: minimum_trigger_at_most")
    # Pressed again in the step of its release, the shortener sees no new edge.
    plan = load(EXAMPLES / "pulse-shortener.toml")
    proof = prove(plan, "expectations")
    assert (proof.verdict, proof.counterexample) == ("refuted", ("0:press", "20:press"))
    assert len(replayed(plan, proof)["short"]) == 1
    assert prove(plan, "expectations", hands=1).verdict == "proved"


def test_a_latch_sticks_and_a_clock_never_rests():
    proof = prove(load(EXAMPLES / "latch.toml"), "never-sticks")
    assert (proof.verdict, proof.counterexample) == ("refuted", ("0:set",))
    assert prove(load(EXAMPLES / "latch.toml"), "never-sticks", triggers=["reset"]).verdict == "proved"
    clock = load(EXAMPLES / "torch-clock.toml")
    proof = prove(clock, "settles")
    assert proof.verdict == "refuted"
    assert len(proof.counterexample) == 1
    assert len(replayed(clock, proof)["beat"]) > 10
    assert prove(clock, "settles", hands=0).verdict == "proved"


def test_a_lever_and_a_tread_plate_are_pressed_and_let_go():
    text = """format = "tickwright plan 1"
legend = {"#" = "block", p = "tread-plate", L = "lamp", l = "lever on=down"}
layer = [{rows = "##"}, {rows = "pL"}]
triggers = {tread = [0, 0, 1]}
outputs = {lamp = [1, 0, 1]}"""
    plan = loads(text)
    proof = prove(plan, "never-sticks")
    assert (proof.verdict, proof.counterexample) == ("refuted", ("0:tread",))  # a creature may stay
    assert "at most one creature" in proof.bound
    assert prove(plan, "settles").verdict == "proved"
    lever = loads(text.replace('"pL"', '"lL"'))
    assert prove(lever, "never-sticks").counterexample == ("0:tread",)
    # Let go, the lamp stays on for 4 steps; but a flip in between does not put off an event once made.
    assert prove(lever, "holds", within_steps=0, at_least_steps=4, hands=2).verdict == "proved"
    proof = prove(lever, "holds", within_steps=0, at_least_steps=2)
    assert (proof.verdict, len(proof.counterexample)) == ("refuted", 4)
    assert run(lever, proof.counterexample, proof.replay_steps).trace.changes["lamp"] == ((0, 15), (5, 0))
    assert prove(lever, "holds", within_steps=0, at_least_steps=1).verdict == "proved"


def test_the_order_of_telling_is_part_of_the_bound():
    proof = prove(flat_loop(4), "settles", order="reversed")
    assert proof.verdict == "proved"
    assert proof.bound.endswith("rules standard, order reversed")


def test_at_the_limit_and_when_stopped_it_is_undecided():
    plan = flat_loop(6)
    proof = prove(plan, "settles", states=100)
    assert (proof.verdict, proof.states) == ("undecided", 100)
    assert proof.detail.startswith("the limit of 100 states was reached: no state found so far breaks the claim")
    proof = prove(plan, "settles", progress=lambda *_: True)
    assert proof.verdict == "undecided"
    assert proof.detail.startswith("stopped by hand")


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"claim": "hold"}, 'There is no claim "hold". Did you mean "holds"?'),
        ({"claim": "holds"}, 'The claim "holds" needs a limit'),
        ({"claim": "holds", "at_least_steps": 9}, "--at-least says until when the output is on"),
        ({"claim": "holds", "within_steps": 2, "at_least_steps": 9, "at_most_steps": 8}, "no hold is both"),
        ({"claim": "settles", "at_most_steps": 9}, "--at-least and --at-most belong to"),
        ({"claim": "settles", "hands": "some"}, 'The hand cannot press "some" times'),
        ({"claim": "settles", "hands": -1}, "The hand cannot press -1 times"),
        ({"claim": "settles", "grid_steps": 0}, "A grid of 0 steps"),
        ({"claim": "settles", "states": 0}, "0 states cannot be explored"),
        ({"claim": "settles", "triggers": ["pres"]}, 'no trigger "pres". Did you mean "press"?'),
        ({"claim": "never-sticks", "output": "entri"}, 'no output "entri". Did you mean "entry"?'),
        ({"claim": "expectations"}, "The plan expects nothing"),
    ],
)
def test_what_cannot_be_meant_is_refused(options, message):
    with pytest.raises(UsageError, match=message.replace("(", r"\(")):
        prove(flat_loop(2), **options)


# --- brute force ---------------------------------------------------------------------------------------------------

GRID, SLOTS, MOST_PRESSES, AFTER = 10, 7, 4, 150
BUTTON = 20


def repeater_ring() -> Plan:
    """A press goes round for ever: the ring takes 48 steps, longer than the press of 20."""
    row = [Part("short-button", "down"), Part("repeater", "east"), Part("wire")]
    row += [Part("repeater", "east", delay=4)] * 3 + [Part("wire")]
    cells = {(x, 0, 1): part for x, part in enumerate(row)}
    cells |= {(x, 1, 1): Part("wire") for x in (2, 6)}
    cells |= {(x, 1, 1): Part("repeater", "west", delay=4) for x in (3, 4, 5)}
    cells |= {(x, y, 0): Part("block") for x, y, _ in list(cells)}
    return Plan(cells, {"press": (0, 0, 1)}, {"out": (6, 0, 1)})


@cache
def small_circuit(number: int) -> Plan:
    """A press into a row of random parts with a loop behind it or not; the last of twenty are known circuits."""
    if number == 16:
        return repeater_ring()
    if number == 17:
        return replace(flat_loop(10), outputs={"out": (2, 0, 1)})
    if number == 18:
        return replace(flat_loop(4), outputs={"out": (2, 0, 1)})
    if number == 19:
        return replace(load(EXAMPLES / "pulse-shortener.toml"), outputs={"out": (3, 0, 1)})
    rng = random.Random(f"row {number}")
    parts: list[Part] = []
    for _ in range(rng.randint(1, 4)):
        kind = rng.choice(("repeater", "repeater", "comparator", "wire", "block-and-torch"))
        if kind == "repeater":
            parts.append(Part("repeater", "east", delay=rng.randint(1, 4)))
        elif kind == "comparator":
            parts.append(Part("comparator", "east", mode=rng.choice(("threshold", "difference"))))
        elif kind == "wire":
            parts.append(Part("wire"))
        else:
            parts += [Part("block"), Part("torch", "west")]
    row = [Part("short-button", "down"), Part("repeater", "east"), Part("wire"), *parts, Part("wire")]
    cells = {}
    for x, part in enumerate(row):
        cells[x, 0, 1] = part
    if number % 2:  # the row runs back into its first wire, by wires or through a comparator
        last = len(row) - 1
        back = {x: Part("wire") for x in range(2, last + 1)}
        if last > 4:
            back[last - 1] = Part("comparator", "west")
        cells |= {(x, 1, 1): part for x, part in back.items()}
    cells |= {(x, y, 0): Part("block") for x, y, _ in list(cells)}
    return Plan(cells, {"press": (0, 0, 1)}, {"out": (len(row) - 1, 0, 1)})


def taken(steps):
    """The presses that the button takes: it ignores what falls before its release."""
    kept = []
    for step in steps:
        if not kept or step >= kept[-1] + BUTTON:
            kept.append(step)
    return kept


def start_of(plan):
    sim = Simulation(Setup(plan, rules_for(plan)))
    sim.advance(400)
    return (sim.now + 1 if sim.next_step() is None else 400) if sim.now or sim.next_step() is not None else 0


def brute_force(number, first, claim_breaks):
    """The least number of taken presses of a list on the grid that breaks the claim; None if none does."""
    least = None
    for presses in range(MOST_PRESSES + 1):
        for slots in combinations(range(SLOTS), presses):
            steps = [first + GRID * slot for slot in slots]
            if taken(steps) == steps and claim_breaks(number, steps):
                least = presses if least is None else min(least, presses)
    return least


def end_of(plan, steps):
    """Press, then hands off to rest or to a state that came before: the levels shown for ever, and whether it rests."""
    sim = Simulation(Setup(plan, rules_for(plan)), watch=plan.outputs)
    sim.queue_stimuli(script(plan, [f"{step}:press" for step in steps]))
    sim.advance(max(steps, default=0) + 1)
    values, seen = [], set()
    for step in range(max(steps, default=0) + 1, 5000):
        if sim.next_step() is None:
            return {sim.shown()[0]}, True
        sim.step(step)
        values.append(sim.shown()[0])
        if (key := state_key(sim)) in seen:
            return set(values[-200:]), False
        seen.add(key)
    raise AssertionError("neither rest nor a state that came back")


@cache
def end_of_circuit(number, steps):
    return end_of(small_circuit(number), steps)


def never_rests(number, steps):
    return not end_of_circuit(number, tuple(steps))[1]


def sticks(number, steps):
    """Whether the output does not come back to what it is at rest: off, or on where it is on before any press."""
    untouched, rests = end_of_circuit(number, ())
    rest_on = rests and 0 not in untouched
    return any((level > 0) != rest_on for level in end_of_circuit(number, tuple(steps))[0])


LIMITS = {16: (26, 27, 60), 17: (2, 16, 140), 18: (2, 78, 78), 19: (2, 6, 6)}  # within, at least, at most


def limits_of(number):
    return LIMITS.get(number, (number % 13, 16, 60))


def breaks_hold(number, steps, within, at_least, at_most):
    plan = small_circuit(number)
    if not steps:
        return False
    last = steps[-1]
    trace = run(plan, [f"{step}:press" for step in steps], last + AFTER).trace
    untouched, rests = end_of_circuit(number, ())
    rests_on = rests and 0 not in untouched  # then what is held is its absence
    on = [(trace.value_at("out", step) > 0) != rests_on for step in range(last + AFTER)]
    for step in steps:
        if not any(on[step : step + within + 1]):
            return True
    return not all(on[last + within : last + at_least]) or any(on[last + at_most :])


@pytest.mark.parametrize("number", range(20))
def test_the_proof_agrees_with_brute_force_over_press_lists(number):
    plan = small_circuit(number)
    first = start_of(plan)
    within, at_least, at_most = limits_of(number)
    breaks_limits = partial(breaks_hold, within=within, at_least=at_least, at_most=at_most)
    for claim, breaks, limits in (
        ("settles", never_rests, {}),
        ("never-sticks", sticks, {}),
        ("holds", breaks_limits, {"within_steps": within, "at_least_steps": at_least, "at_most_steps": at_most}),
    ):
        least = brute_force(number, first, breaks)
        proof = prove(plan, claim, hands=MOST_PRESSES, grid_steps=GRID, **limits)
        assert proof.verdict != "undecided"
        if least is not None:
            assert (claim, proof.verdict) == (claim, "refuted")
            assert len(proof.counterexample) <= least
        if proof.verdict == "refuted":
            steps = [int(act.split(":")[0]) for act in proof.counterexample]
            assert all((step - first) % GRID == 0 for step in steps)
            if claim != "holds":
                assert breaks(number, steps), (claim, steps)
            elif not breaks(number, steps):  # an earlier press of the list was not answered in time
                assert "of a press" in proof.detail
            if all(step < first + GRID * SLOTS for step in steps):
                assert least == len(steps)


def test_the_brute_force_meets_every_sort_of_verdict():
    found = set()
    for number in (2, 16, 17, 18, 19):
        within, at_least, at_most = limits_of(number)
        limits = {"within_steps": within, "at_least_steps": at_least, "at_most_steps": at_most}
        for claim in ("settles", "never-sticks", "holds"):
            proof = prove(
                small_circuit(number), claim, hands=2, grid_steps=GRID, **(limits if claim == "holds" else {})
            )
            found.add((claim, proof.verdict, len(proof.counterexample)))
    assert found >= {
        ("settles", "proved", 0),
        ("settles", "refuted", 1),
        ("never-sticks", "proved", 0),
        ("never-sticks", "refuted", 1),
        ("holds", "proved", 0),
        ("holds", "refuted", 1),
        ("holds", "refuted", 2),
    }


def test_turning_the_plan_changes_no_verdict():
    plan = flat_loop(4)
    west = {"east": "west", "west": "east"}
    turned = replace(
        plan,
        cells={
            (-x, -y, z): part._replace(facing=west.get(part.facing, part.facing))
            for (x, y, z), part in plan.cells.items()
        },
        triggers={"press": (0, 0, 1)},
        outputs={"entry": (-2, 0, 1)},
    )
    one, other = (prove(each, "settles") for each in (plan, turned))
    assert (one.verdict, one.states, one.worst_steps) == (other.verdict, other.states, other.worst_steps)


def test_an_output_that_rests_on_holds_by_its_absence():
    # The torch goes out 2 steps after the press, the lamp 4 later; the button comes up at 20 and both are lit at 22.
    plan = loads(BUTTON_AND_TORCH)
    proof = prove(plan, "holds", within_steps=6, at_least_steps=22, at_most_steps=22)
    assert proof.verdict == "proved"
    assert proof.claim == (
        "each press puts lamp out within 0.3 s (3 ticks); it stays off until at least 1.1 s (11 ticks) after the last "
        "press; it is on again for good at most 1.1 s (11 ticks) after the last press"
    )
    found = prove(plan, "holds", within_steps=6, at_most_steps=21)
    assert found.detail.startswith(
        "lamp is off 1.05 s (10.5 ticks) after the last press, when it should be on from 1.05 s"
    )
    assert prove(plan, "holds", within_steps=5).detail == "lamp does not go off within 0.25 s (2.5 ticks) of a press"
    assert "lamp is on 1.1 s" in prove(plan, "holds", within_steps=6, at_least_steps=23).detail


def test_what_lies_ahead_of_a_state_is_counted_step_by_step():
    """Seven states in a row, the last for ever; the one output is on in the second, fourth and fifth."""
    shown = (0, 5, 0, 15, 1, 0, 0)
    ahead = Outlooks(lambda state: min(state + 1, 6), lambda state: state == 6, lambda state: (shown[state],))
    told = [(one.pulses[0], one.off_steps[0], one.rest_steps) for one in map(ahead.of, range(7))]
    assert told == [(2, 5, 6), (1, 4, 5), (1, 3, 4), (0, 2, 3), (0, 1, 2), (0, 0, 1), (0, 0, 0)]
