"""What one press does, on small circuits whose answers are worked out by hand from the rules."""

from __future__ import annotations

import pytest

from tickwright import Wish, choose, loads, measure
from tickwright.engine.running import rules_for
from tickwright.errors import UsageError
from tickwright.measurement import find_trigger, observe
from tickwright.measurement.measuring import _Regular
from tickwright.measurement.recovery import recovery_steps
from tickwright.plan.setup import Setup

HEAD = 'format = "tickwright plan 1"\n'


def row_plan(cells: str, key: str, floor: str | None = None, more: str = ""):
    """One row of cells on a floor of blocks; the button is at the west end, the output at the east end."""
    length = len(cells)
    return loads(
        f'{HEAD}legend = {{"#" = "block", {key}}}\n'
        f'layer = [{{rows = "{floor or "#" * length}"}}, {{rows = "{cells}"}}]\n'
        f"triggers = {{press = [0, 0, 1]}}\noutputs = {{out = [{length - 1}, 0, 1]}}\n{more}"
    )


def only(plan, **options):
    (result,) = measure(plan, **options)
    return result


def test_a_lamp_beside_a_button_holds_the_press_and_its_own_two_ticks():
    result = only(row_plan("bL", 'b = "short-button", L = "lamp"'))
    assert (result.delay_steps, result.hold_steps, result.kind, result.ends) == (0, 24, "one-shot", True)
    assert result.pulses == ((0, 24),)
    assert (result.minimum_trigger_steps, result.margin_steps) == (1, 19)
    assert result.checked_up_to_steps is None  # at rest while held: true of every length


def test_a_repeater_stretches_what_is_shorter_than_its_delay():
    # Delay 4 ticks = 8 steps: any trigger up to 8 steps gives 8, and from there on the hold grows as the trigger.
    plan = row_plan("brw", 'b = "short-button", r = "repeater east delay=4", w = "wire"')
    result = only(plan)
    assert (result.delay_steps, result.hold_steps, result.minimum_trigger_steps) == (8, 20, 1)
    assert [only(plan, length_steps=t).hold_steps for t in (1, 7, 8, 9, 10)] == [8, 8, 8, 9, 10]


def test_a_comparator_answers_from_its_delay_on():
    # It shows after 2 steps what it computes then: a trigger of 1 step is gone by then, one of 2 steps too, since the
    # release comes before what was scheduled later with the same priority.
    result = only(row_plan("bcw", 'b = "short-button", c = "comparator east", w = "wire"'))
    assert (result.delay_steps, result.hold_steps) == (2, 20)
    lengths = {t: only(row_plan("bcw", 'b = "short-button", c = "comparator east", w = "wire"'), length_steps=t)
               for t in (1, 2, 3)}  # fmt: skip
    assert {t: r.kind for t, r in lengths.items()} == {1: "none", 2: "none", 3: "one-shot"}
    assert result.minimum_trigger_steps == 3


def test_the_minimum_of_an_output_that_goes_off_while_the_trigger_is_held_is_where_its_hold_is_constant():
    # The flank takes the level away two ticks after the back gave it: 4 steps on, however much longer the press is; one
    # of 3 steps gives 3, and shorter ones none.
    plan = loads(
        f'{HEAD}legend = {{"#" = "block", b = "short-button", w = "wire", d = "comparator east mode=difference", '
        'n = "repeater north delay=2"}\nlayer = [{rows = "####\\n####\\n####"}, {rows = "bwdw\\n.wn\\n.ww"}]\n'
        "triggers = {press = [0, 0, 1]}\noutputs = {out = [3, 0, 1]}\n"
    )
    result = only(plan)
    assert (result.kind, result.hold_steps) == ("one-shot", 4)
    assert [only(plan, length_steps=t).hold_steps for t in (2, 3, 4, 5, 40)] == [None, 3, 4, 4, 4]
    assert (result.minimum_trigger_steps, result.margin_steps) == (4, 16)


HOLDS_OF_LENGTHS = [  # holds at lengths 1, 2, 3, ...; None for no single pulse; the minimum trigger by hand
    ([5, 6, None, 9, 9, 9], 4),
    ([5, 6, None, 9, 9, 10, 11], 4),
    ([5, None, 9, 10, 11, 12], 3),
    ([8, 8, 8, 9, 10, 11], 1),
    ([3, 4, 4, 4], 2),  # a shorter press than 2 gives less than what every longer one gives
    ([9, 8, 8, 8], 2),  # nor does the hold get longer by a shorter press,
    ([4, 6, 7, 8], 2),  # or lose more than the press does
    ([7, 7, None], None),
]


@pytest.mark.parametrize(("holds", "least"), HOLDS_OF_LENGTHS)
def test_the_least_length_from_which_on_holds_are_constant_or_grow(holds, least):
    regular = _Regular()
    for length in range(len(holds), 0, -1):
        if not regular.shorter(length, holds[length - 1]):
            break
    assert regular.least == least


def test_a_hopper_timer_has_the_minimum_that_its_hold_is_constant_from():
    # For every press from 7 steps on its hold is that of its items, or the press and the lamp's own two ticks if that
    # is longer. One of 6 steps holds longer than one of 7.
    (design,) = (one for one in choose(Wish(108)).designs if one.settings.get("items") == 13)
    lengths = (7, 8, 20, 96, 104, 105, 120)
    assert [only(design.plan, length_steps=t).hold_steps for t in lengths] == [max(108, t + 4) for t in lengths]
    assert only(design.plan, length_steps=6).hold_steps > 108
    assert only(design.plan).minimum_trigger_steps == design.minimum_trigger_steps == 7


def test_a_lever_never_ends_and_a_button_in_its_place_does():
    plan = row_plan("lw", 'l = "lever", w = "wire"')
    latched = only(plan)
    assert (latched.kind, latched.ends, latched.hold_steps, latched.pulses[-1].duration) == (
        "latched",
        False,
        None,
        None,
    )
    assert (only(plan, length_steps=7).hold_steps, latched.minimum_trigger_steps) == (7, 1)


def test_a_torch_ring_is_a_clock_and_holds_nothing():
    plan = loads(
        HEAD
        + 'legend = {"#" = "block", b = "short-button", t = "torch on=west", w = "wire"}\n'
        + 'layer = [{rows = "########\\n########"}, {rows = "b.#tw...\\n..wwww.."}]\n'
        + "triggers = {press = [0, 0, 1]}\noutputs = {out = [3, 0, 1]}\n"
    )
    result = only(plan)
    assert result.kind in ("clock", "none")


def test_no_press_reaches_a_lamp_that_is_not_joined():
    result = only(row_plan("b.L", 'b = "short-button", L = "lamp"'))
    assert (result.kind, result.ends, result.delay_steps, result.pulses) == ("none", True, None, ())
    assert (result.minimum_trigger_steps, result.margin_steps) == (None, None)


def test_recovery_counts_from_the_last_off():
    # The lamp goes dark in step 24. The hand comes last in a step, so a press in that very step has it lit again by the
    # end of it and nothing shows between; one step later the lamp does all that it did the first time.
    plan = row_plan("bL", 'b = "short-button", L = "lamp"')
    rules = rules_for(plan)
    setup = Setup(plan, rules)
    assert recovery_steps(setup, find_trigger(setup, "press"), "out") == 1


def test_what_is_seen_before_the_press_is_not_a_pulse():
    plan = row_plan("b#t", 'b = "short-button on=east", t = "torch on=west"')
    rules = rules_for(plan)
    setup = Setup(plan, rules)
    seen = observe(setup, find_trigger(setup, "press"))
    assert seen.changes["out"] == [(-1, 15), (2, 0), (22, 15)]
    assert [tuple(pulse) for pulse in only(plan).pulses] == [(2, 20)]  # what is seen after it is its absence


def test_the_five_minutes_of_a_dropped_item():
    result = only(row_plan("pL", 'p = "item-plate", L = "lamp"'))
    assert (result.delay_steps, result.hold_steps, result.minimum_trigger_steps) == (0, 6004, 1)


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"trigger": "pres"}, 'The plan has no trigger "pres". Did you mean "press"?'),
        ({"output": "lamp"}, 'The plan has no output "lamp". Known: out.'),
        ({"length_steps": 0}, "A trigger of 0 steps cannot be measured: use 1 to 1,728,000 steps."),
    ],
)
def test_what_is_not_there_is_said(options, message):
    with pytest.raises(UsageError) as error:
        measure(row_plan("bL", 'b = "short-button", L = "lamp"'), **options)
    assert str(error.value) == message
