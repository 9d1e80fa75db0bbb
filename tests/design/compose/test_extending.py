"""Presses that extend what runs, and ends that follow a release: tiles by themselves, briefs composed, and refusals."""

from __future__ import annotations

import json

import pytest
from played import spans

from tickwright.design.compose import compose, load_brief, read_brief
from tickwright.design.compose.composing import network_of
from tickwright.design.compose.extending import SHUT_FOR, extending_rings, holder, taps_for
from tickwright.design.compose.lowering import lowered
from tickwright.design.compose.machine_tiles import rings_steps
from tickwright.design.compose.monitors import monitors_for
from tickwright.engine import run
from tickwright.kinds import Part, parse_part
from tickwright.plan import examples_folder
from tickwright.plan.model import Plan

BRIEFS = examples_folder() / "briefs"
SHIFT = 25
BESIDE = {"north": (0, -1), "south": (0, 1), "east": (1, 0), "west": (-1, 0)}


def held(taps, reset, rules):
    """When a holder that is set at -20 and noticed at 0 goes off, if its reset comes to its column at `reset`."""
    made = holder("h", 1, taps)
    cells = {(x + SHIFT, y + SHIFT, z): part for (x, y, z), part in made.tile.plan.cells.items()}
    acts = []
    for name, step, long in (("set0", -20, 4), ("now", 0, 2), ("again", 0, 2), ("reset0", reset, 4)):
        x, y, z = made.tile.ports[name].access[0]
        x, y = x + SHIFT, y + SHIFT
        dx, dy = BESIDE[made.tile.ports[name].side]
        for here in ((x, y), (x + dx, y + dy)):
            cells.setdefault((*here, 0), Part("block"))
        cells[x, y, z], cells[x + dx, y + dy, z] = Part("wire"), parse_part("lever on=down")
        acts += [f"{40 + step}:{x + dx},{y + dy},{z}:on", f"{40 + step + long}:{x + dx},{y + dy},{z}:off"]
    watch = {"out": (3 + SHIFT, SHIFT, 1)}
    changes = run(Plan(cells), acts, 200, rules, "canonical", "reference", watch).trace.changes["out"]
    return next((step - 40 for step, value in changes if step > 40 and not value), None)


@pytest.mark.parametrize("rules", ["standard", "older-wire"])
@pytest.mark.parametrize("taps", [1, 4, 8])
def test_a_holder_lets_no_reset_through_while_it_is_shut(taps, rules):
    # shut from step 4 after the notice for SHUT_FOR steps; a reset acts 4 steps after it comes, and 4 more
    last = 4 + SHUT_FOR[taps]
    assert [held(taps, reset, rules) for reset in (-2, 1, last - 9)] == [None] * 3
    assert held(taps, last - 4, rules) == last + 4


@pytest.mark.parametrize("again", [22, 32])
def test_each_press_cuts_the_resets_of_all_before_it_and_not_its_own(again):
    for end in range(26, 400):
        shut = SHUT_FOR[taps_for(end, again)]
        assert 10 + 2 + shut <= end - 4
        assert again + 10 + shut >= min(end + 2, again + 10 + SHUT_FOR[-1])


@pytest.mark.parametrize("steps", [20, 77, 200, 352, 500, 1200, 2000, 5000])
def test_rings_fade_in_about_the_time_wanted(steps):
    assert abs(rings_steps(extending_rings(steps)) - steps) <= 16


@pytest.fixture(scope="module")
def stairs():
    return compose(load_brief(BRIEFS / "stair-light.toml"), seed=0, minutes=30, proof=False)


def test_the_stair_light_is_kept_for_every_further_press(stairs):
    assert stairs.composed
    policy = next(one for one in stairs.verdicts[0].claims if one.name == "press")
    assert policy.passed
    assert policy.detail.startswith("176 tried")


@pytest.mark.parametrize("rules", ["standard", "older-wire"])
def test_each_of_many_presses_counts_from_itself(stairs, rules):
    acts = [(0, "press"), (150, "press"), (180, "press"), (202, "press"), (399, "press")]
    assert spans(stairs.plan, acts, 80, 900, rules)["light"] == [(14, 399 + 214)]
    assert spans(stairs.plan, [(0, "press"), (240, "press")], 80, 600, rules)["light"] == [(14, 214), (254, 454)]


@pytest.fixture(scope="module")
def fan():
    return compose(load_brief(BRIEFS / "fan.toml"), seed=0, minutes=30)


def test_what_follows_a_release_is_exact_and_proved(fan):
    assert fan.composed
    assert fan.proof.verdict == "proved"
    acts = [(0, "switch:on"), (100, "switch:off"), (130, "switch:on"), (157, "switch:off")]
    assert spans(fan.plan, acts, 80, 400) == {"fan": [(20, 124), (150, 181)], "lamp": [(14, 114), (144, 171)]}


def brief(inputs, *shows):
    text = f'format = "tickwright brief 1"\ninputs = {{{inputs}}}\n'
    text += 'outputs = {lamp = {drives = "lamp"}, bell = {drives = "line"}}\n'
    return read_brief(f"{text}chart = [{{shows = {json.dumps(shows)}}}]")


PRESS, LEVER = 'press = {part = "short-button"}', 'press = {part = "lever"}'
MAT = 'press = {part = "tread-plate"}'


@pytest.mark.parametrize(
    ("inputs", "shows", "why", "instead"),
    [
        (PRESS, ["lamp: on from press + 1 s for 5 s", "press: extends until lamp off"], "noticed 0.8 s late",
         "press: extends until lamp off - 0.8 s"),
        (PRESS, ["lamp: on from press + 0.3 s for 5 s", "press: extends until lamp off - 1 s"], "the soonest is 0.7 s",
         "lamp: on from press + 0.7 s for 5 s"),
        (PRESS, ["bell: 3 pulses of 0.2 s every 2 s from press + 1 s", "press: extends until bell off"],
         "several spans", "press: ignored until bell off"),
        (LEVER, ["lamp: on from press + 1 s for 5 s", "press: extends until lamp off - 1 s"], "no button",
         "press: ignored until lamp off - 1 s"),
        (LEVER, ["lamp: on from press + 1 s until press released + 1.8 s"], "would put that off",
         "lamp: on from press + 1 s until press released + 1.5 s"),
        (LEVER, ["lamp: on from press + 1 s until press released"], "at the soonest",
         "lamp: on from press + 1 s until press released + 0.6 s"),
        (MAT, ["bell: on from press + 1 s until press released + 1.2 s"], "looks again every 1 s",
         "bell: on from press + 1 s until press released + 1.2 s, give or take 0.5 s"),
    ],
)  # fmt: skip
def test_what_cannot_be_had_names_the_least_relaxation(inputs, shows, why, instead):
    found = compose(brief(inputs, *shows))
    assert why in found.why
    assert [one.instead for one in found.relax] == [instead]


def test_relaxations_are_gone_on_with_until_the_brief_can_be_had():
    shows = ["lamp: on from press + 0.1 s for 5 s", "press: extends until lamp off"]
    found = compose(brief(PRESS, *shows))
    assert [(one.claim, one.instead) for one in found.relax] == [
        (shows[0], "lamp: on from press + 0.7 s for 5 s"), (shows[1], "press: extends until lamp off - 0.8 s"),
    ]  # fmt: skip


def test_what_is_over_before_the_next_press_is_judged_at_every_press():
    wanted = brief(
        f'{PRESS}, other = {{part = "short-button"}}',
        "lamp: on from press + 0.7 s for 10 s",
        "press: extends until lamp off - 0.8 s",
        "bell: on from press + 0.8 s for 0.2 s; on from other + 1 s for 1 s",
    )
    monitors = {one.outputs: one for one in monitors_for(lowered(wanted), network_of(wanted))}
    bell, lamp = monitors["bell",], monitors["lamp",]
    state, on = bell.start, []
    for step in range(80):
        state, (shown,) = bell.step(state, ("press",) if step in (0, 24, 50) else (), (0, 0, 0))
        on += [step] if shown else []
    assert on == [first + late for first in (0, 24, 50) for late in range(16, 20)]
    assert "extends" not in bell.bound
    assert lamp.bound.endswith(
        "not judged if it comes from 0.8 s before what it would extend ends until 0.6 s after that"
    )


@pytest.mark.parametrize(("second", "judged"), [(197, True), (198, False), (225, False), (226, True)])
def test_the_bound_tells_which_presses_are_not_judged(second, judged):
    wanted = brief(PRESS, "lamp: on from press + 0.7 s for 10 s", "press: extends until lamp off - 0.8 s")
    (monitor,) = (one for one in monitors_for(lowered(wanted), network_of(wanted)) if one.outputs == ("lamp",))
    state = monitor.start
    for step in range(second + 1):
        state, seen = monitor.step(state, ("press",) if step in (0, second) else (), (14 <= step < 214, 0))
    assert (seen[0] is not None) == judged
