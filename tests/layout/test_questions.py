"""Questions asked side by side: as many processes as one likes, the answers and their order stay the same."""

from __future__ import annotations

from random import Random

import pytest

from tickwright.layout import smallest
from tickwright.layout.exact import Found
from tickwright.layout.questions import Answer, Answers, Try, solved
from tickwright.layout.smallest import labels_for, search_of
from tickwright.netlist import parse_blif
from tickwright.rules import load_rules

NAND = parse_blif(".model nand\n.inputs a b\n.outputs y\n.names a b y\n11 0\n")
LABELS = labels_for(NAND)[0]


def questions(sizes):
    return [Try(LABELS, NAND.inputs, size, {}, False, seed, 4000) for seed, size in enumerate(sizes)]


def test_answers_come_in_the_order_of_the_questions_and_hang_on_them_alone():
    asked = questions([(3, 3, 2), (2, 2, 2), (4, 2, 2)])
    with Answers(2) as answers:
        told = [answers.first(asked[number:], lambda: True) for number in range(len(asked))]
    assert told == [solved(one) for one in asked]
    assert told[1].found == "none"  # two levers, two torches and their blocks, and a lamp do not go into eight cells
    assert not isinstance(told[2].found, str)


def test_what_is_asked_for_no_more_is_given_up():
    first, second = questions([(4, 2, 2), (9, 9, 4)])
    with Answers(2) as answers:
        assert answers.first([first, second], lambda: True) is not None
        assert answers.first([first], lambda: True) is not None
        assert answers.known([second]) == []


def test_there_is_no_answer_once_it_is_to_end():
    with Answers(1) as answers:
        assert answers.first(questions([(9, 9, 4)]), lambda: False) is None


class Drawn:
    """Answers drawn at random by the seed of the question, in place of a solver."""

    def __init__(self, _workers: int) -> None:
        pass

    def __enter__(self):
        return self

    def __exit__(self, *_):
        return None

    def first(self, ahead, going):
        random = Random(ahead[0].seed)
        found = random.choices([Found({}, {}, {}), "none", "not decided"], [1, 3, 12])[0]
        return Answer(found, random.randint(1, ahead[0].conflicts)) if going() else None

    def known(self, _ahead):
        return []


@pytest.mark.parametrize("seed", range(20))
def test_the_search_takes_the_same_way_with_any_number_of_processes(seed, monkeypatch):
    monkeypatch.setattr(smallest, "Answers", Drawn)
    ways = []
    for workers in (1, 2, 7):
        search = search_of(NAND, [load_rules()], None, {}, 1000, None, seed)
        search.workers, search.left = workers, 400_000
        search.run()
        ways.append((search.tried, search.box, search.left))
    assert ways[0] == ways[1] == ways[2]
    assert len(ways[0][0]) > 3


def test_more_workers_make_more_tries():
    two, four = (search_of(NAND, [load_rules()], None, {}, 100, None, 0, workers=count) for count in (2, 4))
    assert four.left == 2 * two.left
    assert (two.workers, four.workers) == (2, 4)
