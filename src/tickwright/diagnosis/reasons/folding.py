"""Chains of changes folded: where the same cells follow one another again and again, that is a ring, told once."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import NamedTuple

from tickwright.diagnosis.reasons.tracing import CellChange
from tickwright.space import Cell

LONGEST_ROUND = 64


class Link(NamedTuple):
    """One change of a chain and how many steps after its cause it came."""

    change: CellChange
    wait_steps: int


class Fold(NamedTuple):
    """A ring: `links` are `turns` rounds of the same `cells`, one after another."""

    links: tuple[Link, ...]
    cells: tuple[Cell, ...]
    turns: int

    @property
    def turn_steps(self) -> int | None:
        """How long one turn takes, the first left out, which may have begun late; None if they differ."""
        size = len(self.cells)
        rounds = range(size, len(self.links), size)
        each = {sum(link.wait_steps for link in self.links[at : at + size]) for at in rounds}
        return each.pop() if len(each) == 1 else None

    def levels(self) -> list[int]:
        """What the first cell shows at each turn."""
        return [link.change.after for link in self.links[:: len(self.cells)]]


def links_of(chain: Sequence[CellChange]) -> list[Link]:
    """The links of a chain, the press itself left out."""
    return [Link(after, after.step - before.step) for before, after in itertools.pairwise(chain)]


def fold(links: Sequence[Link]) -> list[Link | Fold]:
    """The links with each run of at least two equal rounds folded into one.

    >>> def link(x, step): return Link(CellChange(0, step, (x, 0, 0), "comparator", 1, 0, None), 2)
    >>> [len(one.cells) if isinstance(one, Fold) else "link" for one in fold([link(x, 0) for x in (9, 1, 2, 1, 2, 5)])]
    ['link', 2, 'link']
    """
    cells, what = [link.change.cell for link in links], [link.change.what for link in links]
    found: list[Link | Fold] = []
    at = 0
    while at < len(links):
        size, turns = _best_round(cells, what, at)
        if turns >= 2:
            end = at + size * turns
            found.append(Fold(tuple(links[at:end]), tuple(cells[at : at + size]), turns))
            at = end
        else:
            found.append(links[at])
            at += 1
    return found


def _best_round(cells: Sequence[Cell], what: Sequence[str], at: int) -> tuple[int, int]:
    """The round that begins at `at` and covers most, and how often it comes; the shortest of those that tie.

    A round of one cell is one only if items go through it.
    """
    best = (1, 1)
    for size in range(1, min(LONGEST_ROUND, (len(cells) - at) // 2) + 1):
        if cells[at] != cells[at + size]:
            continue
        turns = 1
        while cells[at + turns * size : at + (turns + 1) * size] == cells[at : at + size]:
            turns += 1
        if size == 1 and what[at] != "count":
            continue
        if turns >= 2 and turns * size > best[0] * best[1]:
            best = (size, turns)
    return best
