"""What one press does, on small circuits whose answers are worked out by hand from the rules."""

from __future__ import annotations

import pytest

from tickwright import loads, measure
from tickwright.engine.running import rules_for
from tickwright.errors import UsageError
from tickwright.measurement import find_trigger, observe
from tickwright.measurement.recovery import recovery_steps

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
    # Delay 4 ticks = 8 steps: any trigger below 8 steps gives 8, so hold - T is constant only from 8 on.
    result = only(row_plan("brw", 'b = "short-button", r = "repeater east delay=4", w = "wire"'))
    assert (result.delay_steps, result.hold_steps, result.minimum_trigger_steps) == (8, 20, 8)


def test_a_comparator_answers_from_its_delay_on():
    # It shows after 2 steps what it computes then: a trigger of 1 step is gone by then, one of 2 steps too, since the
    # release comes before what was scheduled later with the same priority.
    result = only(row_plan("bcw", 'b = "short-button", c = "comparator east", w = "wire"'))
    assert (result.delay_steps, result.hold_steps) == (2, 20)
    lengths = {t: only(row_plan("bcw", 'b = "short-button", c = "comparator east", w = "wire"'), length_steps=t)
               for t in (1, 2, 3)}  # fmt: skip
    assert {t: r.kind for t, r in lengths.items()} == {1: "none", 2: "none", 3: "one-shot"}
    assert result.minimum_trigger_steps == 3


def test_an_output_that_goes_off_while_the_trigger_is_held_has_no_minimum_trigger():
    # The flank takes the level away two ticks after the back gave it: 4 steps on, however long the press is, so that
    # hold - T is constant for no length.
    plan = loads(
        f'{HEAD}legend = {{"#" = "block", b = "short-button", w = "wire", d = "comparator east mode=difference", '
        'n = "repeater north delay=2"}\nlayer = [{rows = "####\\n####\\n####"}, {rows = "bwdw\\n.wn\\n.ww"}]\n'
        "triggers = {press = [0, 0, 1]}\noutputs = {out = [3, 0, 1]}\n"
    )
    result = only(plan)
    assert (result.kind, result.hold_steps) == ("one-shot", 4)
    assert (result.minimum_trigger_steps, result.margin_steps) == (None, None)


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
    assert recovery_steps(plan, rules, find_trigger(plan, rules, "press"), "out") == 1


def test_what_is_seen_before_the_press_is_not_a_pulse():
    plan = row_plan("b#t", 'b = "short-button on=east", t = "torch on=west"')
    rules = rules_for(plan)
    seen = observe(plan, rules, find_trigger(plan, rules, "press"))
    assert seen.changes["out"] == [(-1, 15), (2, 0), (22, 15)]
    assert only(plan).kind == "latched"


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
