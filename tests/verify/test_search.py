"""The state search, held against published state counts and cycles; abstract graphs, no plans.

Sources: the State exploration table (TLA+ examples and tutorial logs; computed), the synchronous inverter ring
(computed), Johnson counters (digital-logic textbooks: curioustab.com worked examples 4 -> 8 and 6 -> 12; computed) and
XNOR shift registers (Xilinx XAPP052 v1.1, 1996, table 3, taps read second-hand; periods computed); ISCAS-89 s27 (its
netlist from memory, the counts computed).
"""

from __future__ import annotations

from collections import Counter
from itertools import pairwise, product

import pytest

from tickwright.verify.search import Move, Search


def searched(starts, successors, limit=1_000_000):
    """The search of a plain graph."""
    return Search((Move(start) for start in starts), lambda key, _: (Move(after) for after in successors(key)), limit)


def explore(starts, successors, limit=1_000_000):
    """Explore a plain graph breadth-first, to its end or to `limit` states."""
    search = searched(starts, successors, limit)
    for _ in search:
        pass
    return search


def shortest_path(starts, successors, goal):
    """A shortest path to a state that meets the goal, both ends included; None if there is none."""
    search = searched(starts, successors)
    for state in search:
        if goal(search.keys[state]):
            return [search.keys[one] for one in search.way_to(state)]
    return None


def cycle_lengths(states, following):
    """The lengths of all cycles of a graph in which every state has exactly one next, longest first."""
    seen = {}  # seen[state] = number of the walk that came through it first
    lengths = []
    for walk, start in enumerate(states):
        state, path = start, []
        while state not in seen:
            seen[state] = walk
            path.append(state)
            state = following(state)
        if seen[state] == walk:
            lengths.append(len(path) - path.index(state))
    return sorted(lengths, reverse=True)


def test_hour_clock():
    for starts in ([1], range(1, 13)):
        search = explore(starts, lambda hour: [hour % 12 + 1])
        assert (len(search.keys), search.edges, search.finished) == (12, 12, True)


def test_asynchronous_two_phase_handshake():
    # val in a set of three, ready and acknowledge bits: send when they agree, receive when they differ.
    def successors(state):
        value, ready, ack = state
        return [(v, 1 - ready, ack) for v in range(3)] if ready == ack else [(value, ready, 1 - ack)]

    starts = [(value, bit, bit) for value in range(3) for bit in (0, 1)]
    assert len(explore(starts, successors).keys) == 12


def pour(state):
    small, big = state
    into_big, into_small = min(small, 5 - big), min(big, 3 - small)
    return [(3, big), (small, 5), (0, big), (small, 0), (small - into_big, big + into_big),
            (small + into_small, big - into_small)]  # fmt: skip


def test_jugs_of_three_and_five():
    assert len(explore([(0, 0)], pour).keys) == 16
    path = shortest_path([(0, 0)], pour, lambda state: state[1] == 4)
    assert len(path) - 1 == 6
    assert all(after in pour(before) for before, after in pairwise(path))


def test_no_path_is_none_and_a_limit_is_said():
    assert shortest_path([(0, 0)], pour, lambda state: sum(state) == 9) is None
    search = explore([0], lambda n: [n + 1], limit=7)
    assert (search.expanded, search.finished) == (7, False)


def test_wolf_goat_and_cabbage():
    # (farmer, wolf, goat, cabbage), each on bank 0 or 1
    def successors(state):
        farmer = state[0]
        for load in range(4):
            if state[load] == farmer:
                after = [1 - farmer, *state[1:]]
                if load:
                    after[load] = 1 - farmer
                _, wolf, goat, cabbage = after
                if not (goat != after[0] and goat in (wolf, cabbage)):
                    yield tuple(after)

    assert len(explore([(0, 0, 0, 0)], successors).keys) == 10
    path = shortest_path([(0, 0, 0, 0)], successors, all)
    assert len(path) - 1 == 7


@pytest.mark.parametrize(
    ("n", "cycles"), [(3, {6: 1, 2: 1}), (5, {10: 3, 2: 1}), (9, {18: 28, 6: 1, 2: 1}), (4, {4: 3, 2: 1, 1: 2})]
)
def test_all_cycles_of_the_synchronous_inverter_ring(n, cycles):
    def following(state):
        return tuple(1 - state[place - 1] for place in range(n))

    assert Counter(cycle_lengths(product((0, 1), repeat=n), following)) == cycles


@pytest.mark.parametrize(("n", "cycles"), [(3, {6: 1, 2: 1}), (4, {8: 2}), (5, {10: 3, 2: 1}), (6, {12: 5, 4: 1})])
def test_johnson_counters(n, cycles):
    def following(state):
        return (1 - state[-1], *state[:-1])

    assert Counter(cycle_lengths(product((0, 1), repeat=n), following)) == cycles
    assert len(explore([(0,) * n], lambda state: [following(state)]).keys) == 2 * n


@pytest.mark.parametrize(
    ("taps", "period"),
    [((3, 2), 7), ((4, 3), 15), ((5, 3), 31), ((6, 5), 63), ((7, 6), 127), ((8, 6, 5, 4), 255)],
)
def test_maximal_shift_registers_with_xnor_feedback(taps, period):
    def following(state):
        return (1 - sum(state[tap - 1] for tap in taps) % 2, *state[:-1])

    start = (0,) * taps[0]
    search = explore([start], lambda state: [following(state)])
    assert len(search.keys) == period
    assert Counter(cycle_lengths(product((0, 1), repeat=taps[0]), following)) == {period: 1, 1: 1}
    ones = sum(state[-1] for state in search.keys)
    assert min(ones, period - ones) == 2 ** (taps[0] - 1) - 1  # balanced but for one


def test_weights_come_before_steps():
    # Two ways to 9: one heavy move, or nine light ones.
    def expand(key, payload):
        yield Move(key + 1, label="light")
        if key == 0:
            yield Move(9, label="heavy", weight=1)

    search = Search([Move(0)], expand, limit=10)
    states = [search.keys[state] for state in search]
    assert states == list(range(10))
    assert search.cost[search.index[9]] == (0, 9)
    assert [search.keys[state] for state in search.way_to(search.index[9])] == list(range(10))


def test_s27_has_six_states_and_twenty_five_edges():
    def successors(state):
        g5, g6, g7 = state
        for g0, g1, g2, g3 in product((0, 1), repeat=4):
            g8, g12 = (1 - g0) & g6, 1 - (g1 | g7)
            g9 = 1 - ((g3 | g8) & (g12 | g8))
            g11 = 1 - (g5 | g9)
            yield 1 - ((1 - g0) | g11), g11, 1 - (g2 | g12)

    search = explore([(0, 0, 0)], successors)
    assert (len(search.keys), search.edges, search.finished) == (6, 25, True)
