"""Graphs of states walked with a monitor: against the same walk in Python; and nothing is read beyond what is known."""

from __future__ import annotations

import ctypes
import os
from array import array

import pytest

from tickwright.engine.native import UNJUDGED, WRONG, Asked, Monitored, Refuted, StateGraph, is_installed
from tickwright.engine.native import library as lib
from tickwright.engine.native.packing import address
from tickwright.plan import Setup, examples_folder, load
from tickwright.rules import load_rules

if not is_installed() and not os.environ.get("TICKWRIGHT_REQUIRE_TOOLS"):
    pytest.skip("there is no C compiler, and so no native engine", allow_module_level=True)

BAD_SIZE, DONE = -2, 0


def graph():
    plan = load(examples_folder() / "flat-loop-4.toml")
    (cell,) = plan.triggers.values()
    return StateGraph(Setup(plan, load_rules()), plan.outputs, [cell], [(0,)], first=20)


def follows(state, move, levels):
    """A monitor that counts presses up to 3 and the steps since the last: what follows, or nothing from 200 on."""
    presses, since = state
    presses, since = (min(presses + 1, 3), 0) if move >= 0 else (presses, since + 1)
    if since > 200:
        return UNJUDGED
    return WRONG if presses == 3 and since == 17 and levels[0] else (presses, since)


def in_python():
    """Couples in the order in which they are found, and the moves up to what is wrong."""
    states = graph()
    found, parents = {(0, (0, 0)): 0}, [(-1, -1)]
    queue = [(0, (0, 0))]
    for at, (state, watcher) in enumerate(queue):
        for move, after in enumerate(states.after(state), -1):
            if after < 0:
                continue
            next_one = follows(watcher, move, states.levels(after))
            if next_one == WRONG:
                way, before = [move], at
                while parents[before][0] >= 0:
                    way.append(parents[before][1])
                    before = parents[before][0]
                return len(queue), way[::-1]
            if next_one != UNJUDGED and (after, next_one) not in found:
                found[after, next_one] = len(queue)
                queue.append((after, next_one))
                parents.append((at, move))
    return len(queue), None


def test_a_walk_finds_what_the_same_walk_in_python_finds():
    walk = Monitored(graph())
    watchers = [(0, 0)]
    while isinstance(asked := walk.walk(10**6, 10**6), Asked):
        told = follows(watchers[asked.watcher], asked.move, walk.levels(asked.face))
        if isinstance(told, tuple):
            if told not in watchers:
                watchers.append(told)
            told = watchers.index(told)
        walk.tell(asked, told)
    couples, way = in_python()
    assert isinstance(asked, Refuted)
    assert way is not None
    assert [*walk.way(asked.couple), asked.move] == way
    assert len(walk) == couples > 400


def test_a_walk_ends_at_its_limit_and_when_all_is_known():
    walk = Monitored(graph())
    while isinstance(asked := walk.walk(50, 120), Asked):
        walk.tell(asked, UNJUDGED if walk.expanded > 300 else 0)
    assert asked is True, "50 at a time"
    while isinstance(asked := walk.walk(10**6, 120), Asked):
        walk.tell(asked, 0)
    assert (asked, walk.expanded) == (None, 120)
    while isinstance(asked := walk.walk(10**6, 10**6), Asked):
        walk.tell(asked, UNJUDGED)
    assert asked is False
    assert walk.expanded == len(walk)


def test_a_walk_is_not_read_beyond_what_it_knows():
    functions, states = lib.library(), graph()
    status = ctypes.c_int32(77)
    assert functions.tw_monitored_new(None, ctypes.byref(status)) is None
    assert status.value == BAD_SIZE
    assert functions.tw_monitored_new(states.handle, None) is None
    walk = functions.tw_monitored_new(states.handle, ctypes.byref(status))
    assert (bool(walk), status.value) == (True, DONE)
    at, levels = array("i", [0] * 3), array("i", [0] * 4)
    for most, limit in ((0, 5), (-1, 5), (5, -1)):
        assert functions.tw_monitored_walk(walk, most, limit, address(at)) == BAD_SIZE
    assert functions.tw_monitored_walk(walk, 5, 5, None) == BAD_SIZE
    assert functions.tw_monitored_walk(None, 5, 5, address(at)) == BAD_SIZE
    assert functions.tw_monitored_walk(walk, 5, 5, address(at)) == lib.WALK_ASKS
    for watcher, move, face, told in ((-1, -1, 0, 0), (0, -2, 0, 0), (0, -1, -1, 0), (0, -1, 1, 0), (0, -1, 0, -4)):
        assert functions.tw_monitored_tell(walk, watcher, move, face, told) == BAD_SIZE
    assert functions.tw_monitored_tell(None, 0, -1, 0, 0) == BAD_SIZE
    assert functions.tw_monitored_tell(walk, 0, -1, 0, 0) == DONE
    assert functions.tw_monitored_tell(walk, 0, -1, 0, 0) == BAD_SIZE, "told before"
    for face, number in ((-1, states.probes), (9, states.probes), (0, states.probes + 1), (0, -1)):
        assert functions.tw_monitored_face(walk, face, address(levels), number) == BAD_SIZE
    assert functions.tw_monitored_face(walk, 0, None, states.probes) == BAD_SIZE
    for couple, number in ((-1, 4), (4, 4), (0, -1)):
        assert functions.tw_monitored_way(walk, couple, address(levels), number) == BAD_SIZE
    assert functions.tw_monitored_way(walk, 0, None, 0) == 0
    assert functions.tw_monitored_couples(None) == functions.tw_monitored_expanded(None) == BAD_SIZE
    functions.tw_monitored_free(walk)
    functions.tw_monitored_free(None)


def torches(name, forget):
    """The states of an example with torches."""
    plan = load(examples_folder() / name)
    cells = list(plan.triggers.values())
    return StateGraph(Setup(plan, load_rules()), plan.outputs, cells, [(0,)], first=30, forget=forget)


def test_states_that_differ_in_what_a_torch_did_are_one_where_none_can_burn_out():
    found = {}
    for forget in (False, True):
        states = torches("standing-light.toml", forget)
        while states.explore():
            pass
        assert not states.crowded
        shown, state = [], 0
        for step in range(1000):
            row = states.after(state)
            state = row[1] if step % 67 in (10, 40) and row[1] >= 0 else row[0]
            shown.append([level > 0 for level in states.levels(state)])
        found[forget] = (len(states), shown)
    assert found[True][1] == found[False][1]
    assert len({tuple(one) for one in found[True][1]}) > 1
    assert found[True][0] < found[False][0]


def test_a_torch_that_may_burn_out_makes_the_states_crowded():
    states = torches("torch-clock.toml", True)
    while states.explore() and len(states) < 10_000:
        pass
    assert states.crowded
