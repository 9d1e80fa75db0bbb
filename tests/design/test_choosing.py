"""The chooser: random wishes met and run again, what beats what, the nearest, rooms, parts, and what to relax."""

from __future__ import annotations

import json
import random
import re
from itertools import product

import pytest

from tickwright import choose, load_rules, loads, measure, run
from tickwright.design import Chosen, Design, Room, Wish, in_room
from tickwright.errors import UsageError
from tickwright.plan import dumps, validate
from tickwright.verify import check

TRIGGERS = ("short-button", "long-button", "lever")
WISHES, EXACT = 30, 28
LONGEST_TICKS = 2 * 3600 * 10
SEED = "wishes between a tick and two hours"


def drawn() -> list[Wish]:
    """Holds whose logarithms are even between 1 tick and 2 hours, and the two ends, each for one of three triggers."""
    draw = random.Random(SEED)
    ticks = [1, LONGEST_TICKS, *(round(LONGEST_TICKS ** draw.random()) for _ in range(WISHES - 2))]
    return [Wish(2 * number, trigger=draw.choice(TRIGGERS)) for number in ticks]


def held(design: Design) -> list[tuple[int, int]]:
    """The pulses of the design's plan, written and read again, in a run of the reference engine: (start, end)."""
    plan = loads(dumps(design.plan))
    steps = design.delay_steps + design.hold_steps + 200
    done = run(plan, ["100:press"], 100 + steps, engine="reference")
    levels = done.trace.changes[design.output]
    edges = [
        step - 100 for (step, value), before in zip(levels[1:], levels, strict=False) if (value > 0) != (before[1] > 0)
    ]
    return list(zip(edges[::2], edges[1::2], strict=True))


def test_nearly_all_of_thirty_wishes_are_met_exactly_and_held_again():
    exact = 0
    for wish in drawn():
        chosen = choose(wish)
        assert chosen.designs, wish
        best = chosen.designs[0]
        [(start, end)] = held(best)
        assert (start, end - start) == (best.delay_steps, best.hold_steps), wish
        exact += best.hold_steps == wish.hold_steps
        assert best.hold_steps == wish.hold_steps or chosen.reason, wish
    assert exact >= EXACT


@pytest.mark.parametrize("press", [1, 2, 3, 5, 7])
def test_a_press_too_short_for_a_circuit_is_stretched_by_a_repeater(press):
    for hold in (24, 240):
        best = choose(Wish(hold, trigger="lever", trigger_steps=press)).designs[0]
        assert (best.hold_steps, best.settings["front"]) == (hold, "stretch")
        done = run(best.plan, ["100:press", f"{100 + press}:press"], 200 + hold + 200, engine="reference")
        levels = [(step, value > 0) for step, value in done.trace.changes[best.output]]
        edges = [step for (step, on), (_, before) in zip(levels[1:], levels, strict=False) if on != before]
        assert [end - start for start, end in zip(edges[::2], edges[1::2], strict=True)] == [hold]


@pytest.mark.parametrize(("hold", "trigger"), [*product((2, 46, 108, 240), TRIGGERS), (1000, "short-button")])
def test_every_design_keeps_what_its_plan_expects(hold, trigger):
    for design in choose(Wish(hold, trigger=trigger)).designs:
        plan = loads(dumps(design.plan))
        validate(plan, load_rules())
        assert (list(plan.triggers), list(plan.outputs)) == (["press"], [design.output])
        assert [verdict for verdict in check(plan) if not verdict.passed] == []
        assert check(plan)[0].key == "hold"
        assert design.hold_steps == hold
        assert sum(plan.bill().values()) == design.parts


def test_a_flat_loop_of_six_and_a_stacked_one_of_three_stand_side_by_side():
    found = {design.family: design for design in choose(Wish(108)).designs}
    flat, stacked = found["flat loop"], found["stacked loop"]
    assert (flat.settings["comparators"], stacked.settings["comparators"]) == (6, 3)
    assert stacked.price < flat.price
    assert flat.box[2] < stacked.box[2]


def test_none_is_beaten_by_another_and_the_best_comes_first():
    designs = choose(Wish(240, within_steps=20)).designs
    errors = [abs(design.error_steps) for design in designs]
    assert errors == sorted(errors)
    assert errors[0] == 0
    assert errors[-1] <= 20
    scores = [
        (abs(d.error_steps), d.parts, d.price, d.volume, d.footprint, d.box[2], d.recovery_steps or 0) for d in designs
    ]
    beaten = [(a, b) for a in scores for b in scores if a != b and all(x <= y for x, y in zip(a, b, strict=True))]
    assert beaten == []


WISHES_MEASURED = [
    Wish(4),
    Wish(108),
    Wish(240),
    Wish(240, trigger="lever"),
    Wish(60, trigger="lever", trigger_steps=7),
    Wish(24_000),
]


@pytest.mark.parametrize("wish", WISHES_MEASURED)
def test_what_is_said_of_a_design_is_what_measure_says_of_its_plan(wish):
    designs = choose(wish).designs
    assert designs
    for design in designs:
        (measured,) = measure(design.plan, length_steps=wish.trigger_steps)
        said = (design.hold_steps, design.delay_steps, design.minimum_trigger_steps)
        assert said == (measured.hold_steps, measured.delay_steps, measured.minimum_trigger_steps)
        assert design.minimum_trigger_steps is not None
        verdicts = {verdict.key: verdict.passed for verdict in check(design.plan)}
        assert verdicts["minimum_trigger_at_most"] is True


def test_the_recovery_of_a_loop_is_exact():
    loop = next(design for design in choose(Wish(108)).designs if design.family == "stacked loop")
    assert loop.recovery_exact


def test_odd_holds_are_exact_by_hopper_relays():
    for hold in (37, 731):
        chosen = choose(Wish(hold))
        best = chosen.designs[0]
        assert (chosen.reason, best.family, best.hold_steps) == (None, "hopper relay", hold)
        (measured,) = measure(best.plan)
        assert (measured.hold_steps, best.parts) == (hold, 21)


def test_an_odd_hold_out_of_reach_gets_the_nearest_and_the_reason():
    chosen = choose(Wish(5))
    assert {abs(design.error_steps) for design in chosen.designs} == {1}
    assert chosen.reason is not None
    assert "even steps. Hopper relays make odd holds, from 0.35 s (3.5 ticks) to 128.75 s" in chosen.reason


def test_a_lever_has_odd_holds_by_its_drain_timer():
    assert choose(Wish(241, trigger="lever")).designs[0].family == "drain timer"
    assert choose(Wish(243, trigger="lever")).designs[0].error_steps == 0


def test_twelve_seconds_fit_in_a_room_with_blocked_cells():
    room = Room((9, 5, 4), frozenset({(2, 0, 1), (3, 2, 1)}), enter="west", leave=None)
    designs = choose(Wish(240, room=room)).designs
    assert designs
    for design in designs:
        plan = in_room(design.plan, room, design.fit)
        assert plan.size == room.size
        assert not room.blocked & set(plan.cells)
        assert plan.triggers["press"][0] == 0
        assert measure(plan)[0].hold_steps == 240


def instead(chosen: Chosen) -> dict[str, str]:
    """What to wish instead, of each wish that alone may give way."""
    return {one.changes[0].wish: one.changes[0].instead for one in chosen.relax if len(one.changes) == 1}


def test_too_small_a_room_says_what_box_it_takes():
    chosen = choose(Wish(240, room=Room((4, 3, 3))))
    assert chosen.designs == ()
    assert instead(chosen)["room"].startswith("a free box of 5 x 3 x 3")


def test_parts_on_hand_that_are_missing_are_named():
    have = {"hopper": 1, "comparator": 7, "repeater": 0, "torch": 0}
    chosen = choose(Wish(240, have=have))
    assert chosen.designs == ()
    relaxed = next(advice.changes[0] for advice in chosen.relax if advice.changes[0].wish == "parts on hand")
    assert (relaxed.instead, relaxed.amount) == ("hopper 1 more, repeater 2 more, torch 1 more", 4)
    met = choose(Wish(240, have={**have, "hopper": 2, "repeater": 2, "torch": 1})).designs
    assert {design.family for design in met} == {"hopper timer"}


def test_json_has_no_number_that_json_cannot_say():
    chosen = choose(Wish(240, pitch=("y", 1)))
    assert "Infinity" not in json.dumps(chosen.as_data())


LOOPS_ONLY = frozenset({"short-button", "lamp", "block", "wire", "comparator"})


@pytest.mark.parametrize(
    ("wish", "relaxed", "text"),
    [
        (Wish(240, within_steps=4, pitch=("y", 1), allowed=LOOPS_ONLY), "pitch", "a pitch of 2 cells along y"),
        (Wish(108, answer="ignored", allowed=LOOPS_ONLY), "answer", "a second press that makes the hold longer"),
    ],
)
def test_what_only_runs_tell_is_relaxed_from_runs(wish, relaxed, text):
    chosen = choose(wish)
    assert chosen.designs == ()
    assert instead(chosen)[relaxed].startswith(text)


def test_a_full_level_far_away():
    for design in choose(Wish(108, level=6, distance_cells=9)).designs:
        assert design.output == "line"
        assert design.lowest_level == 15


def test_it_holds_under_every_rule_set_wished_for():
    for design in choose(Wish(240, rules=("standard", "older-wire"))).designs:
        assert {measure(design.plan, rules=name)[0].hold_steps for name in ("standard", "older-wire")} == {240}


def test_a_press_of_any_length():
    chosen = choose(Wish(70, trigger_steps=14))
    assert chosen.designs[0].hold_steps == 70
    assert measure(chosen.designs[0].plan, length_steps=14)[0].hold_steps == 70


def test_a_press_as_long_as_a_button_s_gets_the_button():
    assert choose(Wish(108, trigger="lever", trigger_steps=20)).designs == choose(Wish(108)).designs


def test_mash_proof_is_proved():
    designs = choose(Wish(24, mash_proof=True)).designs
    assert designs
    assert all(design.verdicts["never-sticks"].startswith("proved") for design in designs)


def test_stopping_keeps_what_was_found():
    told: list[str] = []

    def stop(text: str) -> bool:
        told.append(text)
        return len(told) > 2

    chosen = choose(Wish(108), stop)
    assert chosen.stopped
    assert 0 < len(chosen.designs) <= 2


@pytest.mark.parametrize(
    ("wish", "message"),
    [
        (Wish(0), "A hold of 0 steps cannot be chosen for: wish for 1 step to 24 hours."),
        (Wish(20, trigger="crate"), 'There is no trigger "crate" to choose for.'),
        (Wish(20, have={"wir": 3}), 'There is no part "wir". Did you mean "wire"?'),
        (Wish(20, level=15, distance_cells=1), "Level 15 behind 1 cell of wire cannot be had"),
        (Wish(20, output="lamp", level=2), "A lamp gives no level to a wire"),
        (Wish(20, answer="waits"), 'There is no answer to a second press "waits" to choose for.'),
    ],
)
def test_wishes_that_cannot_be_meant(wish, message):
    with pytest.raises(UsageError, match=f"^{re.escape(message)}"):
        choose(wish)


def test_rooms_that_cannot_be_meant():
    with pytest.raises(UsageError, match="lies outside the room of 3 x 3 x 3"):
        Room((3, 3, 3), frozenset({(3, 0, 0)}))
    with pytest.raises(UsageError, match='no side "up" to enter by'):
        Room((3, 3, 3), enter="up")
    with pytest.raises(UsageError, match=r"The cell \(3, 0, 0\) to leave by lies outside the room of 3 x 3 x 3"):
        Room((3, 3, 3), leave=(3, 0, 0))
    with pytest.raises(UsageError, match=r"The cell \(1, 0, 0\) to enter by is blocked"):
        Room((3, 3, 3), frozenset({(1, 0, 0)}), enter=(1, 0, 0))
    with pytest.raises(UsageError, match=r"The cell \(1, 0, 0\) cannot hold both the trigger and the output"):
        Room((3, 3, 3), enter=(1, 0, 0), leave=(1, 0, 0))
