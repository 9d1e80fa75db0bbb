"""Going through a box, part by part of it, here, on more cores or on a cluster; stopped, it can be gone on with."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cached_property
from itertools import chain
from typing import NamedTuple

from tickwright.design.discovery.question import Question, ask
from tickwright.engine.native.layouts import MOST_VERDICTS, Counts, Pattern, go_through
from tickwright.processes import spread
from tickwright.rules import RuleSet

FEW_CELLS, FEW_SHARES, MANY_SHARES = 8, 50, 2_000  # a box of few cells is gone through in few shares
KEPT = 3  # winners of one number of parts
YES = 1
CHUNKS, MOST_AT_ONCE = 32, 16  # shares go out in so many chunks at least, of so many at most


class Found(NamedTuple):
    """A layout that does what is asked: its options, the place of the cell that shows it, and how many parts it has."""

    parts: int
    options: tuple[int, ...]
    place: int


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
        """The smallest that work in all turns and orders; some of them, if there are many."""
        return _smallest(share.robust for share in self.done.values())

    @property
    def sensitive(self) -> tuple[Found, ...]:
        """The smallest of those that do not, where they have fewer parts."""
        found = _smallest(share.sensitive for share in self.done.values())
        least = min((one.parts for one in self.robust), default=None)
        return tuple(one for one in found if least is None or one.parts < least)


def _smallest(shares: Iterable[tuple[Found, ...]]) -> tuple[Found, ...]:
    found = sorted(chain.from_iterable(shares))
    return tuple(one for one in found if one.parts == found[0].parts)[:KEPT]


def search_shares(task: tuple[Asked, tuple[tuple[int, ...], ...]]) -> list[Share]:
    """Go through all layouts that begin so, for each of some beginnings."""
    asked, prefixes = task
    question = ask(*asked)
    return [_share(question, prefix) for prefix in prefixes]


def _share(question: Question, prefix: tuple[int, ...]) -> Share:
    robust: list[Found] = []
    sensitive: list[Found] = []
    cells = len(question.box.cells())

    def judge(pattern: Pattern) -> int:
        return YES if question.behaviour.is_shown(pattern) else 0

    def take(_verdict: int, options: tuple[int, ...], place: int, parts: int) -> int:
        found = Found(parts, options, place)
        if question.is_robust(question.plan(options, place)):
            if robust and parts < robust[0].parts:
                robust.clear()
            robust.append(found)
        elif not sensitive or parts < sensitive[0].parts:
            sensitive[:] = [found]
        if not robust:
            return cells
        return robust[0].parts - (len(robust) >= KEPT)

    counts = go_through(question.box, prefix, [cells] * MOST_VERDICTS, judge, take)
    return Share(counts, tuple(robust), tuple(sensitive))


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
    asked = Asked(search.question.behaviour.text, search.question.size, search.question.entries, search.question.rules)
    left = [share for share in search.shares if share not in search.done]

    def stopped() -> bool:
        search.seconds = before + time.monotonic() - begun
        late = seconds is not None and time.monotonic() - begun > seconds
        return late or (progress is not None and progress(search))

    size = max(1, min(MOST_AT_ONCE, len(left) // CHUNKS))
    tasks = [(asked, tuple(left[start : start + size])) for start in range(0, len(left), size)]
    for (_, prefixes), shares in spread(search_shares, tasks, workers, cluster, stopped):
        search.done.update(zip(prefixes, shares, strict=True))
    search.seconds = before + time.monotonic() - begun
    return search.proved
