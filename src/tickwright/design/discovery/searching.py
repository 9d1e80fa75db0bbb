"""Going through a box, part by part of it, here, on more cores or on a cluster; stopped, it can be gone on with."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cached_property
from itertools import chain
from secrets import token_hex
from typing import NamedTuple

from tickwright.design.discovery.question import Question, ask
from tickwright.engine.native.layouts import MOST_VERDICTS, Counts, go_through
from tickwright.processes import spread
from tickwright.rules import RuleSet

FEW_CELLS, FEW_SHARES, MANY_SHARES = 8, 50, 2_000  # a box of few cells is gone through in few shares
CHUNKS, MOST_AT_ONCE = 32, 16  # shares go out in so many chunks at least, of so many at most


class Found(NamedTuple):
    """A layout that does what is asked: its options, the place of the cell that shows it, and how many parts it has."""

    parts: int
    options: tuple[int, ...]
    place: int
    verdict: int = 1


class Share(NamedTuple):
    """What came of all layouts with one beginning: counts, the smallest that work in all turns and orders, and the
    smallest of those that do not and have fewer parts.
    """

    counts: Counts
    robust: tuple[Found, ...]
    sensitive: tuple[Found, ...]


class Asked(NamedTuple):
    """A question as it is sent to a worker."""

    behaviour: str
    size: tuple[int, int, int]
    entries: tuple[str, ...]
    rules: RuleSet
    outputs: tuple[str, ...]


@dataclass
class Search:
    """A search as far as it has come: `done` holds what came of each beginning."""

    question: Question
    done: dict[tuple[int, ...], Share] = field(default_factory=dict)
    seconds: float = 0.0
    replays: dict[Found, tuple[int, int]] = field(default_factory=dict)
    """What the reference engine saw of winners, each played once."""

    @cached_property
    def shares(self) -> list[tuple[int, ...]]:
        """All beginnings, as options of the first cells: so many that there are enough to share out."""
        parts, cells = self.question.parts, self.question.box.cells()
        carries = [False, *(self.question.rules.carries.get(part.kind, False) for part in parts)]
        aloft = [option for option in range(len(parts) + 1) if not option or parts[option - 1].row.support != "below"]
        enough = FEW_SHARES if len(cells) <= FEW_CELLS else MANY_SHARES
        begun: list[tuple[int, ...]] = [()]
        for _, _, z in cells:
            if len(begun) >= enough:
                break
            begun = [
                (*share, option)
                for share in begun
                for option in (range(len(parts) + 1) if z and carries[share[-1]] else aloft)
            ]
        return begun

    @property
    def proved(self) -> bool:
        """Whether all layouts were gone through."""
        return len(self.done) == len(self.shares)

    @property
    def counts(self) -> Counts:
        """The counts so far."""
        shares = [Counts(0, 0, 0, 0, 0), *(share.counts for share in self.done.values())]
        return Counts(*map(sum, zip(*shares, strict=True)))

    @property
    def robust(self) -> tuple[Found, ...]:
        """The smallest that work in all turns and orders, of each verdict; some of them, if there are many."""
        return _smallest((share.robust for share in self.done.values()), self.question.behaviour.keeps)

    @property
    def sensitive(self) -> tuple[Found, ...]:
        """The smallest of those that do not, where they have fewer parts."""
        found = _smallest((share.sensitive for share in self.done.values()), self.question.behaviour.keeps)
        least = {one.verdict: one.parts for one in self.robust}
        return tuple(one for one in found if one.parts < least.get(one.verdict, one.parts + 1))


def _smallest(shares: Iterable[tuple[Found, ...]], keeps: int) -> tuple[Found, ...]:
    kept: dict[int, list[Found]] = {}
    for one in sorted(chain.from_iterable(shares)):
        some = kept.setdefault(one.verdict, [])
        if not some or (one.parts == some[0].parts and len(some) < keeps):
            some.append(one)
    return tuple(one for verdict in sorted(kept) for one in kept[verdict])


class _Memory:
    """What a process has found so far in one search: layouts with more parts need not be looked at again."""

    def __init__(self, cells: int, keeps: int) -> None:
        self.cells, self.keeps = cells, keeps
        self.found: dict[int, list[Found]] = {}

    def add(self, found: Found) -> None:
        """Take in one that works in all turns and orders."""
        some = self.found.setdefault(found.verdict, [])
        if some and found.parts < some[0].parts:
            some.clear()
        if not some or found.parts == some[0].parts:
            some.append(found)

    def most(self, verdict: int, prefix: tuple[int, ...]) -> int:
        """How many parts the next may have, among the layouts that begin so; of equal ones the first are kept."""
        some = self.found.get(verdict)
        if not some:
            return self.cells
        sooner = sum(one.options < prefix or one.options[: len(prefix)] == prefix for one in some)
        return some[0].parts - (sooner >= self.keeps)


_MEMORIES: dict[str, _Memory] = {}  # of the search that this process works for


def search_shares(task: tuple[Asked, str, tuple[tuple[int, ...], ...]]) -> list[Share]:
    """Go through all layouts that begin so, for each of some beginnings; `search` tells searches apart."""
    asked, search, prefixes = task
    question = ask(*asked)
    if search not in _MEMORIES:
        _MEMORIES.clear()
        _MEMORIES[search] = _Memory(len(question.box.cells()), question.behaviour.keeps)
    return [_share(question, prefix, _MEMORIES[search]) for prefix in prefixes]


def _share(question: Question, prefix: tuple[int, ...], memory: _Memory) -> Share:
    robust: list[Found] = []
    sensitive: dict[int, Found] = {}

    def take(verdict: int, options: tuple[int, ...], place: int, parts: int) -> int:
        if question.may_be_output(options, place):
            found = Found(parts, options, place, verdict)
            if question.is_robust(question.plan(options, place), verdict):
                robust.append(found)
                memory.add(found)
            elif verdict not in sensitive or parts < sensitive[verdict].parts:
                sensitive[verdict] = found
        return memory.most(verdict, prefix)

    most = [memory.most(verdict, prefix) for verdict in range(MOST_VERDICTS)]
    counts = go_through(question.box, prefix, most, question.behaviour.shown, take)
    return Share(counts, _smallest([tuple(robust)], memory.keeps), tuple(sensitive[one] for one in sorted(sensitive)))


def go_on(
    search: Search,
    workers: int | None = None,
    cluster: str | None = None,
    seconds: float | None = None,
    progress: Callable[[Search], bool] | None = None,
) -> bool:
    """Go on with a search until it is done, the time is over, or `progress` says to stop; whether it is done.

    `progress` is called as shares are done. Whatever the number of workers, the same comes out.
    """
    begun, before = time.monotonic(), search.seconds
    question = search.question
    asked = Asked(question.behaviour.text, question.size, question.entries, question.rules, question.outputs)
    name = token_hex(8)
    left = [share for share in search.shares if share not in search.done]

    def stopped() -> bool:
        search.seconds = before + time.monotonic() - begun
        late = seconds is not None and time.monotonic() - begun > seconds
        return late or (progress is not None and progress(search))

    size = max(1, min(MOST_AT_ONCE, len(left) // CHUNKS))
    tasks = [(asked, name, tuple(left[start : start + size])) for start in range(0, len(left), size)]
    for (_, _, prefixes), shares in spread(search_shares, tasks, workers, cluster, stopped):
        search.done.update(zip(prefixes, shares, strict=True))
    search.seconds = before + time.monotonic() - begun
    return search.proved
