"""The tiles of machines, each alone in a plan, on the reference engine; the steps beside them by hand."""

from __future__ import annotations

from itertools import pairwise

import pytest

from tickwright.design.compose.machine_tiles import (
    HELD,
    Ring,
    drop,
    fade,
    group,
    inverter,
    keeper,
    rings_for,
    striker,
)
from tickwright.design.compose.tiles import FALLEN
from tickwright.engine import run
from tickwright.kinds import Part
from tickwright.plan.model import Plan

SHIFT = 30
WAYS = [("standard", "canonical"), ("standard", "reversed"), ("older-wire", "3")]
STEP = {"north": (0, -1), "south": (0, 1), "east": (1, 0), "west": (-1, 0)}


def laid(cell):
    return (cell[0] + SHIFT, cell[1] + SHIFT, cell[2])


class Bench:
    """A tile with a wire at each port, and a lever before each input."""

    def __init__(self, made):
        self.made = made
        self.cells = {laid(cell): part for cell, part in made.tile.plan.cells.items()}
        self.levers = {}
        for name, port in made.tile.ports.items():
            x, y, z = laid(port.access[0])
            self.cells[x, y, z] = Part("wire")
            self.cells.setdefault((x, y, 0), Part("block"))
            if port.role == "in":
                dx, dy = self.free_side(name)
                self.cells[x + dx, y + dy, z] = Part("lever", "down")
                self.cells.setdefault((x + dx, y + dy, 0), Part("block"))
                self.levers[name] = f"{x + dx},{y + dy},{z}"

    def free_side(self, name):
        """Where beside a port's wire its lever gives nothing to the wire of another port."""
        port, ports = self.made.tile.ports[name], self.made.tile.ports
        x, y, z = port.access[0]
        others = {other.access[0] for one, other in ports.items() if one != name}
        for dx, dy in (STEP[port.side], (1, 0), (-1, 0), (0, 1), (0, -1)):
            cell = (x + dx, y + dy)
            beside = {(cell[0] + far, cell[1] + wide, z) for far, wide in STEP.values()}
            if (*cell, z) not in self.made.tile.plan.cells and not beside & others:
                return dx, dy
        raise AssertionError(name)

    def spans(self, acts, steps, rules="standard", order="canonical"):
        """When each output is on; `acts` are (step, port or cell, act)."""
        texts = [f"{step}:{self.levers.get(who, who)}:{act}" for step, who, act in sorted(acts)]
        ports = self.made.tile.ports
        watch = {name: laid(port.access[0]) for name, port in ports.items() if port.role == "out"}
        trace = run(Plan(self.cells), texts, steps, rules, order, "reference", watch).trace
        found = {}
        for name, changes in trace.changes.items():
            edges = []
            for step, value in changes:
                if bool(value) != len(edges) % 2:
                    edges.append(step)
            found[name] = edges
        return found


@pytest.mark.parametrize(("rules", "order"), WAYS)
def test_a_striker_strikes_at_every_press_even_a_tick_after_the_release(rules, order):
    made = striker("s", "short-button", True, True, True)
    x, y, z = laid(made.named["trigger"])
    bench = Bench(made)
    acts = [(20, f"{x},{y},{z}", "press"), (42, f"{x},{y},{z}", "press")]
    found = bench.spans(acts, 120, rules, order)
    assert found["rise"] == [22, 26, 44, 48]
    assert found["fall"][2:] == [64, 68]
    assert found["level"] == [20, 40, 42, 62]


@pytest.mark.parametrize(("rules", "order"), WAYS)
def test_of_two_events_the_first_is_taken_to_the_step_and_the_other_is_shut_out_for_22_steps(rules, order):
    assert HELD == 22
    bench = Bench(group("g", (False, False)))
    for apart in (*range(-24, 25, 3), -22, -20, -1, 0, 1, 20, 22):
        if abs(apart) == HELD - 1:
            continue
        acts = []
        for step, port in ((60, "e0"), (60 + apart, "e1")):
            acts += [(step, port, "on"), (step + 4, port, "off")]
        found = bench.spans(acts, 160, rules, order)
        first, second = [64, 68], [64 + apart, 68 + apart]
        if abs(apart) >= HELD:
            assert (found["o0"], found["o1"]) == (first, second)
        elif apart:
            assert (found["o0"], found["o1"]) == ((first, []) if apart > 0 else ([], second))
        else:
            assert sorted((found["o0"], found["o1"])) == [[], first]


@pytest.mark.parametrize(("rules", "order"), WAYS)
@pytest.mark.parametrize("yields", [0, 1])
def test_of_two_events_in_one_step_the_one_that_yields_is_shut_out(rules, order, yields):
    bench = Bench(group("g", (False, False), yields=yields))
    other = 1 - yields
    for apart in (-20, -3, -2, -1, 0, 1, 2, 3, 20):
        comes = 60 + apart - 2  # its column has 2 steps more
        acts = [(60, f"e{other}", "on"), (64, f"e{other}", "off")]
        acts += [(comes, f"e{yields}", "on"), (comes + 4, f"e{yields}", "off")]
        found = bench.spans(acts, 160, rules, order)
        first, second = [64, 68], [64 + apart, 68 + apart]
        assert found[f"o{other}"] == (first if apart >= 0 else [])
        assert found[f"o{yields}"] == (second if apart < 0 else [])


def test_an_event_counts_only_while_its_group_is_open_and_its_gate_is_off():
    bench = Bench(group("g", (True,)))
    event = [(60, "e0", "on"), (64, "e0", "off")]
    assert bench.spans(event, 120)["o0"] == [64, 68]
    assert bench.spans([*event, (10, "g0", "on")], 120)["o0"] == []
    for falls, on in ((56, True), (58, True), (60, False), (66, False)):
        found = bench.spans([*event, (10, "na", "on"), (falls, "na", "off")], 120)["o0"]
        assert found == ([64, 68] if on else [])


@pytest.mark.parametrize("events", [2, 3, 6])
def test_a_group_of_one_lets_each_of_its_events_through(events):
    bench = Bench(group("g", (False,), 1, 1, (events,)))
    for number in range(events):
        event = [(60, f"e0-{number}", "on"), (64, f"e0-{number}", "off")]
        assert bench.spans(event, 120)["o0"] == [64, 68]
        assert bench.spans([*event, (10, "na", "on")], 120)["o0"] == []


@pytest.mark.parametrize(("rules", "order"), WAYS)
@pytest.mark.parametrize(("first", "second"), [("e0-0", "e0-1"), ("e0-1", "e0-0"), ("e0-2", "e0-2")])
def test_after_one_of_several_events_no_other_comes_through_until_44_steps_later(rules, order, first, second):
    bench = Bench(group("g", (False,), 1, 1, (3,)))
    for apart in (9, 10, 13, 17, 21, 22, 44, 45, 70):
        acts = [(60, first, "on"), (64, first, "off"), (60 + apart, second, "on"), (64 + apart, second, "off")]
        found = bench.spans(acts, 200, rules, order)["o0"]
        assert found == ([64, 68] if apart < 44 else [64, 68, 64 + apart, 68 + apart])


@pytest.mark.parametrize(("rules", "order"), WAYS)
@pytest.mark.parametrize("half", [0, 1])
def test_of_two_that_race_each_may_have_a_pair_of_events(rules, order, half):
    bench = Bench(group("g", (False, False), 1, 1, (2, 1) if half == 0 else (1, 2)))
    mine, other = f"o{half}", f"o{1 - half}"
    for number, apart in ((0, -20), (1, -1), (0, 0), (1, 0), (0, 1), (1, 3), (0, 20)):
        acts = [(60, f"e{half}-{number}", "on"), (64, f"e{half}-{number}", "off")]
        acts += [(62 + apart, f"e{1 - half}", "on"), (66 + apart, f"e{1 - half}", "off")]
        found = bench.spans(acts, 140, rules, order)
        ways = [([66, 70], [])] if apart >= 0 else []
        ways += [([], [66 + apart, 70 + apart])] if apart <= 0 else []
        assert (found[mine], found[other]) in ways


@pytest.mark.parametrize(("rules", "order"), WAYS)
@pytest.mark.parametrize("half", [0, 1])
def test_of_a_pair_of_events_one_that_is_lost_does_not_join_the_pulse_of_the_next(rules, order, half):
    bench = Bench(group("g", (False, False), 1, 1, (2, 1) if half == 0 else (1, 2)))
    shut = [(10, port, "on") for port in ("na0", "na1", f"nb{half}")]
    shut += [(60, "na0", "off"), (60, "na1", "off"), (58, f"nb{half}", "off")]
    for early, late in ((2, 0), (2, 1), (3, 1), (4, 0), (4, 2)):
        acts = [(60 - early, f"e{half}-0", "on"), (64 - early, f"e{half}-0", "off")]
        acts += [(60 + late, f"e{half}-1", "on"), (64 + late, f"e{half}-1", "off")]
        assert bench.spans([*shut, *acts], 140, rules, order)[f"o{half}"] == [66 + late, 70 + late]


@pytest.mark.parametrize("early", [1, 2, 3, 4])
def test_an_event_too_soon_for_its_group_does_not_join_the_pulse_of_the_next(early):
    bench = Bench(group("g", (False,), 1, 1, (2,)))
    acts = [(10, "na", "on"), (60, "na", "off"), (62 - early, "e0-0", "on"), (66 - early, "e0-0", "off")]
    acts += [(66 - early, "e0-1", "on"), (70 - early, "e0-1", "off")]
    found = bench.spans(acts, 200)["o0"]
    if early == 1:  # in the step before the group is open again: that is left open, and it is taken a step late
        assert found == [66, 73]
    else:
        assert found == [70 - early, 74 - early]


@pytest.mark.parametrize("ring", [Ring(3, 0), Ring(3, 12), Ring(4, 2), Ring(5, 0)])
def test_a_ring_fades_when_it_is_fed_no_more(ring):
    comparators, turns = ring.comparators, 13 - ring.lead
    assert ring.fade_steps == turns * 2 * comparators + 2 * (ring.wide - 2) + 2
    over = 102 + ring.fade_steps
    acts = [(10, "in", "on"), (100, "in", "off")]
    assert Bench(fade("f", ring, False, 1)).spans(acts, 500)["out"][-1] == over
    assert Bench(fade("f", ring, True, 1)).spans(acts, 500)["out"] == [over + FALLEN, over + FALLEN + 4]


def test_a_ring_that_is_fed_again_begins_anew():
    ring = Ring(5, 0)
    bench = Bench(fade("f", ring, True, 1))
    acts = [(10, "in", "on"), (100, "in", "off"), (200, "in", "on"), (200 + ring.fill_steps, "in", "off")]
    again = 200 + ring.fill_steps + 2 + ring.fade_steps + FALLEN
    assert bench.spans(acts, 700)["out"] == [again, again + 4]


@pytest.mark.parametrize("steps", [44, 60, 100, 200, 240, 400, 700, 1180, 2400])
def test_rings_make_up_a_wait_but_for_what_columns_take(steps):
    rings = rings_for(steps, 20, (10, 14, 26))
    left = steps - sum(ring.fade_steps for ring in rings) - 2 * (len(rings) - 1)
    assert 10 <= left <= 26
    assert rings[0].fill_steps <= 20
    assert all(ring.fill_steps <= before.fade_steps for before, ring in pairwise(rings))


def test_a_short_wait_is_a_column():
    assert Bench(drop("d", 2)).spans([(10, "in", "on"), (100, "in", "off")], 200)["out"] == [106, 110]


@pytest.mark.parametrize(("resets", "late"), [(1, 2), (2, 2), (3, 2), (4, 4)])
def test_every_reset_clears_a_memory(resets, late):
    bench = Bench(keeper("k", [1], [1] * resets, "flag"))
    for number in range(resets):
        acts = [(40, "set0", "on"), (44, "set0", "off"), (80, f"reset{number}", "on"), (84, f"reset{number}", "off")]
        found = bench.spans(acts, 160)
        assert found["out"] == [44, 82 + late]
        assert found["not"] == [0, 46, 84 + late]


def test_an_inverter_is_off_while_its_input_is_on():
    assert Bench(inverter("i", 1)).spans([(40, "in", "on"), (60, "in", "off")], 100)["out"] == [0, 44, 64]
