"""The chart of what a plan does: it passes, and every edit that changes when an output is on fails it.

The two hundred edits are drawn from all examples; here a tenth of them is tried, TICKWRIGHT_CHART_EDITS asks for more.
"""

from __future__ import annotations

import os
import random
from dataclasses import replace
from pathlib import Path

import pytest

from charts.landing import LAMP, TORCH, chart
from charts.test_checking import TWO
from tickwright import Plan, TickwrightError, check_charts, draft_chart, load, loads, run
from tickwright.charts import Stage
from tickwright.charts.playing import NeverRests
from tickwright.kinds import Part, parse_part
from tickwright.plan import dumps
from tickwright.plan.setup import Setup
from tickwright.rules import load_rules

FOLDER = Path(__file__).resolve().parents[2] / "examples"
NAMES = sorted(path.stem for path in FOLDER.glob("*.toml"))
EDITS = int(os.environ.get("TICKWRIGHT_CHART_EDITS", "20"))
LONG = ("hour-counter", "dropped-item", "hopper-clock")  # an hour, minutes: each edit would take as long
PARTS = ("repeater east", "repeater west", "repeater north", "wire", "block", "insulator", "comparator east", "lamp")


@pytest.mark.parametrize(
    ("text", "hand", "shows"),
    [
        (LAMP, None, ("lamp: on from press + 0.4 s for 1.2 s",)),
        (LAMP, [], ("lamp: never on",)),
        (LAMP, ["0:press", "24:press"], ("lamp: on from 1st press + 0.4 s for 2.4 s",)),
        (TORCH, ["0:throw", "60:throw"], ("lamp: off from throw + 0.3 s until throw released + 0.1 s",)),
        (TWO, None, ("left: on from north for 1.2 s", "right: on from south for 1.2 s")),
    ],
)
def test_the_roundest_words(text, hand, shows):
    found = draft_chart(loads(text), hand).chart.shows
    if "until" in shows[0]:
        assert found[0].startswith(shows[0].partition(" until")[0])
    else:
        assert found == shows


@pytest.mark.parametrize("name", [name for name in NAMES if name != "hour-counter"])
def test_the_chart_of_an_example_is_kept_by_it(name):
    plan = load(FOLDER / f"{name}.toml")
    drafted = draft_chart(plan, name="anew").chart
    with_it = loads(dumps(replace(plan, charts=(drafted,))), plan.path)
    assert check_charts(with_it)[0].passed
    assert str(plan.source)[:200] == str(with_it.source)[:200]  # its comments stay


def on_times(plan: Plan, hand: tuple[str, ...], steps: int) -> dict[str, list[bool]] | None:
    """When each output is on in the run of the chart, from time 0; None if the circuit never rests."""
    try:
        zero = Stage(Setup(plan, load_rules(plan.rules))).zero_step
    except NeverRests:
        return None
    acts = []
    for line in hand:
        when, _, words = line.partition(": ")
        at = 0 if when == "0" else round(float(when.removesuffix(" s")) * 20)
        acts.append(f"{zero + at}:{words}")
    trace = run(plan, acts, zero + steps).trace
    return {name: [trace.value_at(name, step) > 0 for step in range(zero, zero + steps)] for name in plan.outputs}


def random_edit(rng: random.Random, plan: Plan) -> Plan:
    """One part gone, another in its place, or another setting of it."""
    kept = {*plan.triggers.values(), *plan.outputs.values()}
    cells = dict(plan.cells)
    cell = rng.choice(sorted(set(cells) - kept))
    part = cells[cell]
    sort = rng.random()
    if sort < 0.3:
        del cells[cell]
    elif sort < 0.65 and part.kind == "repeater":
        cells[cell] = Part("repeater", part.facing, delay=rng.choice([n for n in (1, 2, 3, 4) if n != part.delay]))
    else:
        cells[cell] = parse_part(rng.choice(PARTS))
    return replace(plan, cells=cells, source=None)


def test_an_edit_that_changes_when_an_output_is_on_fails_the_chart():
    rng = random.Random(20)
    names = [name for name in NAMES if name not in LONG]
    changed = tried = 0
    while changed < EDITS:
        name = rng.choice(names)
        plan = load(FOLDER / f"{name}.toml")
        drafted = draft_chart(plan, name="now").chart
        if not drafted.at_rest:
            continue
        plan = replace(plan, charts=(drafted,))
        edited = random_edit(rng, plan)
        tried += 1
        assert tried < 40 * EDITS
        steps, hand = drafted.watch_steps or 0, drafted.hand or ()
        before = on_times(plan, hand, steps)
        try:
            after = on_times(edited, hand, steps)
            if after == before:
                continue
            passed = check_charts(edited)[0].passed
        except TickwrightError:
            continue  # no plan, or one that never rests: it is told, and not passed
        changed += 1
        assert not passed, f"{name}: {drafted.shows} is kept by {dumps(edited)}"


def test_a_plan_without_outputs_has_no_chart():
    plan = loads(LAMP.replace("[outputs]\nlamp = [3, 0, 1]\n", ""))
    with pytest.raises(TickwrightError, match="names no output"):
        draft_chart(plan)


def test_a_trigger_named_like_a_word_of_the_notation_is_refused():
    with pytest.raises(TickwrightError, match='called "start", a word of the notation'):
        draft_chart(loads(LAMP.replace("press =", "start =")))
    assert check_charts(loads(LAMP + chart(["lamp: never on"], hand=[])))[0].passed
