"""Wishes for a delay, a recovery, an output turned over, a restart and a clock: met by plans that are run again."""

from __future__ import annotations

import json
from fractions import Fraction
from itertools import pairwise

import pytest

from tickwright import choose, loads, run
from tickwright.charts import check_charts
from tickwright.design import Design, Wish
from tickwright.design.families import duty_clock, restarting_loop
from tickwright.design.wording import on_time, read_duty, wish_problems
from tickwright.errors import UsageError
from tickwright.plan import Plan, dumps


def away(plan: Plan, presses: list[int], steps: int, engine: str, rest: bool = False) -> list[tuple[int, int]]:
    """When the output is away from rest: (from, until)."""
    done = run(plan, [f"{step}:press" for step in presses], steps, engine=engine)
    (changes,) = done.trace.changes.values()
    before, edges = rest, []
    for step, value in changes:
        if (value > 0) != before and step >= min(presses):
            edges.append(step)
            before = value > 0
    return list(zip(edges[::2], edges[1::2], strict=True))


def assert_comes(design: Design, delay: int, hold: int, rest: bool = False) -> None:
    plan = loads(dumps(design.plan))
    for engine in ("reference", "fast"):
        assert away(plan, [100], 100 + delay + hold + 200, engine, rest) == [(100 + delay, 100 + delay + hold)]


@pytest.mark.parametrize(("hold", "delay"), [(24, 10), (240, 300)])
def test_an_exact_delay_is_laid_behind_a_design(hold, delay):
    chosen = choose(Wish(hold, delay_steps=delay))
    assert chosen.designs
    assert {(one.delay_steps, one.hold_steps) for one in chosen.designs} == {(delay, hold)}
    assert_comes(chosen.designs[0], delay, hold)


def test_an_odd_delay_is_told_the_nearest_even_one():
    wish = Wish(108, delay_steps=21)
    (advice, *_) = choose(wish).relax
    assert [change.wish for change in advice.changes] == ["exact delay"]
    assert advice.wish.delay_steps in (20, 22)
    assert advice.as_data()["options"] == {"--delay": f"{advice.wish.delay_steps} steps"}
    assert choose(advice.wish).designs


@pytest.mark.parametrize("output", ["lamp", "line"])
def test_an_output_turned_over_is_off_for_the_hold(output):
    best = choose(Wish(100, inverted=True, output=output)).designs[0]
    assert (best.inverted, best.hold_steps, best.output) == (True, 100, output)
    assert_comes(best, best.delay_steps, 100, rest=True)


def test_a_recovery_is_a_limit():
    wish = Wish(240, recovery_at_most_steps=4)
    found = choose(wish).designs
    assert found
    assert all(one.recovery_steps is not None and one.recovery_steps <= 4 for one in found)
    assert len(found) < len(choose(Wish(240)).designs)


def test_a_second_press_restarts_at_every_step_from_a_tick_after_it_is_on():
    best = choose(Wish(108, answer="restarts")).designs[0]
    assert (best.family, best.verdicts["second press"]) == (restarting_loop.NAME, "restarts")
    delay, hold = best.delay_steps, best.hold_steps
    for offset in range(delay + 2, delay + hold):
        first, second = away(best.plan, [100, 100 + offset], 600, "fast")
        assert first[0] == 100 + delay
        assert first[1] <= 100 + offset + 10
        assert second == (100 + offset + delay, 100 + offset + delay + hold)


@pytest.mark.parametrize(("hold", "output"), [(30, "line"), (44, "lamp")])
def test_a_line_that_a_press_makes_longer_restarts_where_the_press_clears_it_first(hold, output):
    for best in choose(Wish(hold, output=output, answer="restarts")).designs:
        assert best.settings["press clears"] == 1
        delay = best.delay_steps
        for offset in range(delay + 2, delay + hold, 3):
            first, second = away(best.plan, [100, 100 + offset], 400, "fast")
            assert first[0] == 100 + delay
            assert first[1] <= 100 + offset + 10
            assert second == (100 + offset + delay, 100 + offset + delay + hold)


def test_what_restarts_may_be_turned_over():
    best = choose(Wish(30, answer="restarts", inverted=True, output="line")).designs[0]
    delay = best.delay_steps
    assert_comes(best, delay, 30, rest=True)
    first, second = away(best.plan, [100, 112 + delay], 400, "fast", rest=True)
    assert (first[0], second) == (100 + delay, (112 + 2 * delay, 142 + 2 * delay))
    assert first[1] <= 122 + delay


@pytest.mark.parametrize("comparators", range(2, 11, 2))
def test_every_restarting_loop_ends_its_first_hold_within_half_a_second(comparators):
    plan = restarting_loop.make(comparators, 20, "short-button", "line")
    ((on, off),) = away(plan, [100], 500, "reference")
    spans = away(plan, [100, on + 20], 600, "reference")
    assert spans[0][1] <= on + 30
    assert spans[1] == (2 * on - 100 + 20, 2 * on - 100 + 20 + off - on)


@pytest.mark.parametrize(("period", "duty"), [(40, "25 %"), (40, "1/2"), (120, "0.8"), (60, "1/3")])
def test_a_clock_has_its_period_and_its_duty(period, duty):
    on_steps = on_time(period, read_duty(duty))
    best = choose(Wish(on_steps, trigger="lever", period_steps=period)).designs[0]
    assert (best.hold_steps, best.period_steps) == (on_steps, period)
    plan = loads(dumps(best.plan))
    assert all(verdict.passed for verdict in check_charts(plan))
    for engine in ("reference", "fast"):
        spans = away(plan, [100], 100 + 10 * period, engine)
        assert [off - on for on, off in spans] == [on_steps] * len(spans)
        assert {later - sooner for (sooner, _), (later, _) in pairwise(spans)} == {period}
        assert len(spans) >= 8


def test_a_clock_that_cannot_be_had_is_told_the_nearest():
    chosen = choose(Wish(21, trigger="lever", period_steps=42))
    (advice,) = chosen.relax
    assert advice.wish.period_steps in (40, 44)
    assert choose(advice.wish).designs
    longest = choose(Wish(20_000, trigger="lever", period_steps=40_000)).relax[0].wish
    assert longest.period_steps == duty_clock.MOST_PERIOD_STEPS


def test_a_duty_is_read_in_three_ways_and_held_to_steps():
    assert read_duty("25 %") == read_duty("0.25") == read_duty("1/4") == Fraction(1, 4)
    for text in ("0", "1", "120 %", "half", "1/0"):
        with pytest.raises(UsageError, match="write the part of each period that is on"):
            read_duty(text)
    with pytest.raises(UsageError, match="not a whole number: wish for one of 13/40 and 14/40"):
        on_time(40, Fraction(1, 3))


@pytest.mark.parametrize(
    ("wish", "attribute"),
    [
        (Wish(40, trigger="lever", period_steps=40), "period_steps"),
        (Wish(20, period_steps=40), "period_steps"),
        (Wish(20, trigger="lever", period_steps=40, answer="ignored"), "answer"),
        (Wish(20, trigger="lever", period_steps=40, inverted=True), "inverted"),
        (Wish(20, delay_steps=9, delay_at_most_steps=8), "delay_steps"),
    ],
)
def test_wishes_that_do_not_go_together_are_refused_where_they_stand(wish, attribute):
    assert attribute in [name for name, _ in wish_problems(wish)]


def test_the_command_takes_them(call):
    code, out, _ = call("choose", "--hold", "1.2 s", "--delay", "0.5 s", "--recovery-at-most", "1 s", "--json")
    data = json.loads(out)
    assert (code, data["wish"]["delay_steps"], data["wish"]["recovery_at_most_steps"]) == (0, 10, 20)
    assert {design["delay_steps"] for design in data["designs"]} == {10}
    code, out, _ = call("choose", "--period", "2 s", "--duty", "25%")
    assert code == 0
    assert "on for 25 % of a period of 2 s" in out
    code, _, err = call("choose", "--hold", "1 s", "--duty", "25%")
    assert (code, err.splitlines()[0]) == (
        2,
        "tickwright: A duty is part of a period: give --period, and leave --hold out.",
    )
