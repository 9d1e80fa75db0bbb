"""Which mistake explains what was seen: by hand, for fifty planted mistakes, and by following what is proposed."""

from __future__ import annotations

import json
import random
from functools import cache
from pathlib import Path

import pytest

from tickwright import load, loads, measure
from tickwright.diagnosis import Cause, Causes, Observed, Seen, find_causes, parse_observed, single_mistakes
from tickwright.diagnosis.bench import Bench
from tickwright.diagnosis.mistakes import Mistake
from tickwright.errors import DurationError, UsageError
from tickwright.plan import Plan
from tickwright.plan.setup import Setup
from tickwright.rules import load_rules

ROOT = Path(__file__).resolve().parents[2]
ROW = loads(
    """format = "tickwright plan 1"
legend = {"#" = "block", b = "short-button", w = "wire", r = "repeater east delay=2", c = "comparator east", L = "lamp"}
layer = [{rows = "#####"}, {rows = "bwrcL"}]
triggers = {press = [0, 0, 1]}
outputs = {lamp = [4, 0, 1]}
"""
)  # delay 6 steps, hold 24


def texts(explained: Causes) -> list[str]:
    return [cause.text for cause in explained.causes]


# --- by hand -----------------------------------------------------------------------------------------------------


def test_one_delay_explains_one_delay():
    explained = find_causes(ROW, ["delay 5 ticks", "hold 1.2 s"], tolerance_steps=1)
    assert texts(explained) == ["the repeater at (2, 0, 1) has 4 ticks instead of 2 ticks"]
    assert explained.causes[0].misfit == 0
    assert explained.causes[0].look == "the repeater at (2, 0, 1): it belongs on 2 ticks"
    assert (explained.as_planned, explained.proposal) == (False, None)


def test_a_better_fit_comes_first_and_then_what_is_made_more_easily():
    # 5 ticks: 4 ticks of the repeater fits just so, 3 ticks is 2 steps off.
    explained = find_causes(ROW, ["delay 5 ticks"], tolerance_steps=2)
    assert texts(explained)[:2] == [
        "the repeater at (2, 0, 1) has 4 ticks instead of 2 ticks",
        "the repeater at (2, 0, 1) has 3 ticks instead of 2 ticks",
    ]
    assert [cause.misfit for cause in explained.causes[:2]] == [0, 1]


def test_a_long_button_or_a_slow_world_explains_a_hold_that_is_too_long():
    # A lamp on for 34 steps, not 24. As seconds, a world at 20 * 24 / 34 = 14.1 steps a second does it too.
    explained = find_causes(ROW, ["hold 1.7 s"], tolerance_steps=1)
    assert texts(explained) == [
        "at (0, 0, 1) is a long-button instead of a short-button",
        "the world runs at about 14.1 steps a second instead of 20",
    ]
    assert [cause.rate for cause in explained.causes] == [None, 20 * 24 / 34]
    assert [cause.misfit for cause in explained.causes] == [0, 0]
    in_ticks = find_causes(ROW, ["hold 17 ticks"], tolerance_steps=1)
    assert texts(in_ticks) == ["at (0, 0, 1) is a long-button instead of a short-button"]


def test_two_times_that_are_longer_alike_tell_of_a_slow_world_and_two_that_are_not_do_not():
    # At half speed a delay of 6 steps and a hold of 24 take 0.6 s and 2.4 s.
    slow = find_causes(ROW, ["delay 0.6 s", "hold 2.4 s"], tolerance_steps=1)
    assert texts(slow) == ["the world runs at about 10 steps a second instead of 20"]
    assert slow.causes[0].misfit == 0
    assert texts(find_causes(ROW, ["delay 0.3 s", "hold 2.4 s"], tolerance_steps=1)) == []


def test_two_mistakes_at_once_only_if_asked():
    seen = ["delay 3 ticks", "hold 17 ticks", "1 pulse"]  # as planned, but for the hold of a long button
    one = find_causes(ROW, ["delay 5 ticks", "hold 17 ticks"], tolerance_steps=0)
    assert texts(one) == []
    two = find_causes(ROW, ["delay 5 ticks", "hold 17 ticks"], tolerance_steps=0, pairs=True)
    assert texts(two)[0] == (
        "the repeater at (2, 0, 1) has 4 ticks instead of 2 ticks, "
        "and at (0, 0, 1) is a long-button instead of a short-button"
    )
    assert all(len(cause.mistakes) == 2 for cause in two.causes)
    assert len(find_causes(ROW, seen, tolerance_steps=0).causes) == 1


def test_the_world_of_another_rule_set_explains_a_loop_that_fades():
    """Common practice, no source: fact 10. What fades under older-wire never does under standard."""
    plan = load(ROOT / "examples/older-wire-fade.toml")
    faded = measure(plan, output="lamp", rules="older-wire")[0]
    assert measure(plan, output="lamp")[0].kind == "latched"
    explained = find_causes(plan, [Observed("press", "lamp", "hold", faded.hold_steps, in_seconds=True)])
    assert texts(explained)[0] == "the world runs under the rules older-wire, not standard"


def test_a_wrong_count_of_items_explains_a_timer_that_is_too_long():
    # 8 steps an item: one more item of 32 holds the lamp 8 steps longer than the plan's 253.
    plan = load(ROOT / "examples/drain-timer.toml")
    explained = find_causes(plan, ["lamp: hold 261 steps"], tolerance_steps=1)
    assert texts(explained)[0] == "the hopper at (2, 1, 1) has 33 items instead of 32 items"


def test_what_the_plan_does_anyway_is_said():
    explained = find_causes(ROW, ["hold 1.2 s", "delay 0.3 s"])
    assert explained.as_planned


def test_what_stands_in_a_cell_may_be_told():
    explained = find_causes(ROW, ["never on", "2,0,1: nothing"])
    assert texts(explained) == ["the repeater at (2, 0, 1) is missing"]
    turned = find_causes(ROW, ["never on", "2,0,1: repeater north delay=2"])
    assert texts(turned) == ["the repeater at (2, 0, 1) faces north instead of east"]


def test_a_cell_may_be_watched_instead_of_an_output():
    explained = find_causes(ROW, ["never on", "1,0,1: hold 10 ticks"], tolerance_steps=0)
    assert explained.causes
    assert all(cause.mistakes[0].cell[0] >= 2 for cause in explained.causes)


def test_it_stops_when_told_and_keeps_what_it_has():
    explained = find_causes(ROW, ["delay 5 ticks"], progress=lambda text: text.startswith("20 of"))
    assert explained.stopped
    assert explained.tried == 20
    assert texts(explained)[0] == "the repeater at (2, 0, 1) has 4 ticks instead of 2 ticks"


def test_as_json():
    data = json.loads(json.dumps(find_causes(ROW, ["never on"]).as_data()))
    assert data["observed"][0]["what"] == "never on"
    assert {"text", "look", "misfit", "ease", "mistakes"} <= set(data["causes"][0])
    assert data["proposal"]["groups"][0]["causes"]


# --- what was seen, as text --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("hold 8.5 s", Observed("press", "lamp", "hold", 170, True)),
        ("Hold 8.5s", Observed("press", "lamp", "hold", 170, True)),
        ("lamp: delay 2 ticks", Observed("press", "lamp", "delay", 4, False)),
        ("press -> lamp:  stays   on", Observed("press", "lamp", "stays on")),
        ("3 pulses", Observed("press", "lamp", "pulses", 3)),
        ("pulses 1", Observed("press", "lamp", "pulses", 1)),
        ("period 12 steps", Observed("press", "lamp", "period", 12, False)),
        ("1, 0, 1: pulses for ever", Observed("press", "1, 0, 1", "pulses for ever")),
        ("1,0,1: nothing", Observed("press", "1,0,1", "stands")),
    ],
)
def test_observations_are_read(text, expected):
    assert parse_observed(ROW, [text]) == (expected,)


@pytest.mark.parametrize(
    ("text", "error", "message"),
    [
        ("hold", UsageError, '"hold" says nothing that can be looked for: write, say, "hold 8.5 s"'),
        ("hold long", DurationError, '"long" is not a duration: write a number and a unit, such as "12 s" or'),
        ("hold 0 s", UsageError, '"hold 0 s": a hold of 0 steps cannot be seen; say "never on" of what does not come'),
        ("9,0,1: wire", UsageError, 'The cell (9, 0, 1) (in "9,0,1: wire") lies more than a cell outside the plan'),
        ("hold 8.5", DurationError, 'The duration "8.5" has no unit'),
        ("lmap: never on", UsageError, 'The plan has no output "lmap" (in "lmap: never on"). Did you mean "lamp"?'),
        ("pres -> lamp: never on", UsageError, 'The plan has no trigger "pres" (in'),
        ("it flickers", UsageError, '"it flickers" says nothing that can be looked for: write, say, "hold 8.5 s"'),
    ],
)
def test_what_cannot_be_read_is_one_message(text, error, message):
    with pytest.raises(error) as caught:
        parse_observed(ROW, [text])
    assert str(caught.value).startswith(message)


def test_nothing_observed_is_refused():
    with pytest.raises(UsageError, match="Nothing was observed"):
        find_causes(ROW, [])


def test_mistakes_of_one_sort_that_show_the_same_everywhere_are_one_cause():
    explained = find_causes(ROW, ["on all the time", "2,0,1: repeater east delay=2"])
    places = [sorted(one.cell for build in cause.builds for one in build) for cause in explained.causes]
    wire, lamp = [(1, -1, 1), (1, 0, 2), (1, 1, 1)], [(4, -1, 1), (4, 0, 2), (4, 1, 1), (5, 0, 1)]
    assert sorted(places) == [wire, lamp]  # a power-block beside the one or the other; a look tells which
    assert {cause.mistakes[0].kind for cause in explained.causes} == {"stray-power-block"}
    assert "; or at " in explained.causes[0].look


def test_what_is_likely_comes_before_a_stray_power_block():
    by_kind = {one.kind: one for one in single_mistakes(Setup(ROW, load_rules()))}
    assert {"stray-power-block", "stray-block", "wrong-delay"} <= set(by_kind)
    stray = Cause((by_kind["stray-power-block"],), 0.0, 10, {})
    for kind in ("stray-block", "wrong-delay"):
        assert Cause((by_kind[kind],), 1.0, 0, {}).rank < stray.rank
    assert (
        stray.rank < Cause((by_kind["wrong-delay"], by_kind["stray-block"]), 0.0, 10, {}).rank
    )  # two at once are rarer


# --- planted mistakes --------------------------------------------------------------------------------------------

# Left out is the counter of hours, whose builds that never rest are long to run.
PLANS = sorted(path.stem for path in ROOT.glob("examples/*.toml") if path.stem != "hour-counter")
PLANTED = [seed for seed in range(52) if seed not in (16, 47)]  # those two take half of the whole time
FOLLOWED = range(12)


@cache
def example(name: str) -> Plan:
    return load(ROOT / f"examples/{name}.toml")


def told(trigger: str, place: str, seen: Seen) -> list[Observed]:
    """What a builder with a stopwatch says of an answer; nothing of one that is no plain sight."""
    plain = {"none": "never on", "latched": "stays on", "always-on": "on all the time"}
    if seen.kind == "clock":
        period = Observed(trigger, place, "period", seen.period_steps, in_seconds=True)
        return [Observed(trigger, place, "pulses for ever"), period]
    if seen.kind in plain:
        return [Observed(trigger, place, plain[seen.kind])]
    if seen.kind not in ("one-shot", "train"):
        return []
    return [
        Observed(trigger, place, "hold", seen.hold_steps, in_seconds=True),
        Observed(trigger, place, "delay", seen.delay_steps, in_seconds=True),
        Observed(trigger, place, "pulses", seen.pulses),
    ]


@cache
def planted(seed: int) -> tuple[Plan, Mistake, list[Observed]]:
    """A random mistake in a random example that shows at its first output, and what one sees there."""
    dice = random.Random(seed)
    plan, rules = example(dice.choice(PLANS)), load_rules()
    trigger, output = next(iter(plan.triggers)), next(iter(plan.outputs))
    setup = Setup(plan, rules)
    bench = Bench(setup, {output: plan.outputs[output]}, [trigger])
    made = single_mistakes(setup)
    while True:
        mistake = dice.choice(made)
        seen = bench.press((mistake,))[trigger, output]
        if seen != bench.own[trigger, output] and told(trigger, output, seen):
            return plan, mistake, told(trigger, output, seen)


@cache
def explained(seed: int) -> Causes:
    plan, _, seen = planted(seed)
    return find_causes(plan, seen)


@pytest.mark.parametrize("seed", PLANTED)
def test_a_planted_mistake_is_among_the_first_three_or_the_proposal_splits_the_tie(seed):
    _, mistake, _ = planted(seed)
    found = explained(seed)
    place = next(number for number, cause in enumerate(found.causes) if (mistake,) in cause.builds)
    if place < 3:
        return
    first, there = found.causes[0].rank, found.causes[place].rank
    # a tie: all of these give just what was seen; stray power-blocks come after all that is likelier, and do so, too
    assert there[:3] == first[:3] or (there[1] and there[2] == 0)
    assert found.proposal is not None
    left = max(len(numbers) for _, numbers in found.proposal.groups if place in numbers)
    assert left < min(len(found.causes), 80)


@pytest.mark.parametrize("seed", FOLLOWED)
def test_watching_what_is_proposed_leaves_three_causes_or_a_dozen_places_to_look_at(seed):
    plan, mistake, seen = planted(seed)
    rules, found = load_rules(), explained(seed)
    for _ in range(8):
        place = next(number for number, cause in enumerate(found.causes) if (mistake,) in cause.builds)
        proposal = found.proposal
        if place < 3:
            return
        assert proposal is not None
        if proposal.trigger is None:  # nothing that one can watch tells the rest apart
            assert len(found.causes) <= 12
            return
        cell = plan.outputs.get(proposal.place) or tuple(map(int, proposal.place.split(",")))
        bench = Bench(Setup(plan, rules), {proposal.place: cell}, [proposal.trigger])
        more = told(proposal.trigger, proposal.place, bench.press((mistake,))[proposal.trigger, proposal.place])
        before = len(found.causes)
        seen = [*seen, *more]
        found = find_causes(plan, seen)
        assert len(found.causes) < before
    pytest.fail(f"eight more observations did not single out: {mistake.text}")
