"""The greatest cycle ratio, against published examples and against every simple cycle of random graphs."""

from __future__ import annotations

import random
from fractions import Fraction

import pytest

from tickwright.diagnosis import Arc, max_cycle_ratio


def arcs(*edges: tuple) -> list[Arc]:
    return [Arc(source, target, weight, 1) for source, target, weight in edges]


HOWARD = arcs((0, 1, 3), (1, 2, 1), (2, 0, 2), (0, 2, 10))


def test_the_example_of_howard_cycle_ratio():
    """Source: Boost.Graph, documentation of `howard_cycle_ratio`: mean 2 at least, 6 at most."""
    greatest = max_cycle_ratio(HOWARD)
    assert greatest is not None
    assert greatest[0] == 6
    assert [(arc.source, arc.target) for arc in greatest[1]] == [(0, 2), (2, 0)]
    least = max_cycle_ratio([arc._replace(weight=-arc.weight) for arc in HOWARD])
    assert least is not None
    assert -least[0] == 2


def test_the_eigenvalue_of_a_max_plus_matrix():
    """Source: Heidergott, Olsder, van der Woude, Max Plus at Work, ch. 0 (from memory): A = [[2, 5], [3, 3]]."""
    matrix = [[2, 5], [3, 3]]
    found = max_cycle_ratio([Arc(j, i, matrix[i][j], 1) for i in range(2) for j in range(2)])
    assert found is not None
    assert found[0] == 4
    orbit = [(1, 0)]
    for _ in range(3):
        x = orbit[-1]
        orbit.append(tuple(max(matrix[i][j] + x[j] for j in range(2)) for i in range(2)))
    assert orbit[1:] == [(5, 4), (9, 8), (13, 12)]  # grows by the eigenvalue each time


@pytest.mark.parametrize("seed", range(60))
def test_random_graphs_against_every_simple_cycle(seed):
    """Held against networkx.simple_cycles: the greatest sum of weights over sum of times."""
    dice = random.Random(seed)
    nodes = dice.randint(1, 7)
    import networkx  # slow to load, and needed here only

    graph = networkx.DiGraph()
    for source in range(nodes):
        for target in range(nodes):
            if dice.random() < 0.4:
                graph.add_edge(source, target, weight=dice.randint(-9, 9), time=dice.randint(1, 5))
    ratios = []
    for cycle in networkx.simple_cycles(graph):
        pairs = list(zip(cycle, [*cycle[1:], cycle[0]], strict=True))
        weight = sum(graph.edges[pair]["weight"] for pair in pairs)
        ratios.append(Fraction(weight, sum(graph.edges[pair]["time"] for pair in pairs)))
    found = max_cycle_ratio([Arc(u, v, data["weight"], data["time"]) for u, v, data in graph.edges(data=True)])
    if not ratios:
        assert found is None
        return
    assert found is not None
    ratio, cycle = found
    assert ratio == max(ratios)
    assert Fraction(sum(arc.weight for arc in cycle), sum(arc.time for arc in cycle)) == ratio
    assert all(one.target == other.source for one, other in zip(cycle, [*cycle[1:], cycle[0]], strict=True))


def test_no_arcs_no_cycle():
    assert max_cycle_ratio([]) is None


def test_a_cycle_that_takes_no_time_is_refused():
    with pytest.raises(ValueError, match="takes no time"):
        max_cycle_ratio([Arc("a", "a", 1, 0)])
