"""The table of the smallest designs: for each tick of hold from one to ten minutes, and each of three triggers."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from heapq import heappop, heappush

from tickwright.design.catalogue import recipes
from tickwright.design.choosing import goal_of
from tickwright.design.judging import Candidate, candidate_of
from tickwright.design.recipes import Recipe
from tickwright.design.wish import Wish
from tickwright.durations import STEPS_PER_SECOND, STEPS_PER_TICK, duration_text, ticks_text
from tickwright.rules import load_rules

__all__ = ["TABLE_TRIGGERS", "Range", "table_ranges", "table_text"]

TABLE_TRIGGERS = ("short-button", "long-button", "lever")
LAST_TICK = 10 * 60 * STEPS_PER_SECOND // STEPS_PER_TICK
TOGETHER = 100  # so many holds are run in one call
HOLDS_TO_REST, MORE_TO_REST_STEPS = 4, 4_000  # a design must be at rest again after so many holds and steps
SMALLEST_OF_LOOP = 2  # parts for each comparator of a loop, at least: itself and what carries it


@dataclass(frozen=True, slots=True)
class Range:
    """Holds in a row, a tick apart, for which the smallest design is of one family and sort; each was run.

    `outputs` are those that its designs have; `parts` and `volume` are the least and the most. `refuted` is how many
    smaller plans were passed over for them, because a run did not show the hold that their naive model says.
    """

    trigger: str
    family: str
    sort: str
    outputs: tuple[str, ...]
    first_ticks: int
    last_ticks: int
    parts: tuple[int, int]
    volume: tuple[int, int]
    refuted: int


@dataclass(frozen=True, slots=True)
class _Row:
    """The smallest design of one hold."""

    ticks: int
    family: str
    sort: str
    output: str
    parts: int
    volume: int
    refuted: int


def table_ranges(trigger: str, progress: Callable[[str], bool] | None = None) -> Iterator[Range]:
    """The ranges of one trigger, in order; a hold for which no design holds in a run is in none of them.

    `progress` is told how far it is; if it returns true, the ranges found so far are the last.
    """
    rows: list[_Row] = []
    for row in _rows(trigger, progress):
        if rows and (row.family, row.sort, row.ticks) != (rows[-1].family, rows[-1].sort, rows[-1].ticks + 1):
            yield _range(trigger, rows)
            rows = []
        rows.append(row)
    if rows:
        yield _range(trigger, rows)


def _rows(trigger: str, progress: Callable[[str], bool] | None) -> Iterator[_Row]:
    from tickwright.design.trials import Trials  # loads the fast engine

    trials = Trials(load_rules())
    for first in range(1, LAST_TICK + 1, TOGETHER):
        if progress is not None and progress(f"{trigger}, {first - 1:,} of {LAST_TICK:,} holds"):
            return
        ticks = range(first, min(first + TOGETHER, LAST_TICK + 1))
        left = {hold: _candidates(trigger, hold) for hold in ticks}
        refuted = dict.fromkeys(ticks, 0)
        found: list[_Row] = []
        while left:
            tried = {hold: candidate for hold, others in left.items() if (candidate := next(others, None)) is not None}
            most_steps = HOLDS_TO_REST * STEPS_PER_TICK * ticks[-1] + MORE_TO_REST_STEPS
            holds = trials.holds([candidate.plan for candidate in tried.values()], most_steps)
            for (hold, candidate), steps in zip(tried.items(), holds, strict=True):
                if steps == STEPS_PER_TICK * hold:
                    found.append(_row(hold, candidate, refuted[hold]))
                refuted[hold] += 1
            left = {hold: left[hold] for hold in tried if hold not in {row.ticks for row in found}}
        yield from sorted(found, key=lambda row: row.ticks)


def _candidates(trigger: str, ticks: int) -> Iterator[Candidate]:
    """What the families propose for a hold: fewest parts first, then least volume; each is laid when it may be next."""
    wish = Wish(STEPS_PER_TICK * ticks, trigger=trigger)
    laid: list[tuple[tuple[float, ...], int, Candidate]] = []
    for number, recipe in enumerate(sorted(recipes(goal_of(wish, load_rules())), key=_least_parts)):
        while laid and laid[0][2].parts < _least_parts(recipe):
            yield heappop(laid)[2]
        candidate = candidate_of(recipe, wish)
        heappush(laid, (candidate.sizes, number, candidate))
    while laid:
        yield heappop(laid)[2]


def _least_parts(recipe: Recipe) -> int:
    return SMALLEST_OF_LOOP * int(recipe.settings.get("comparators", 0))


def _row(ticks: int, candidate: Candidate, refuted: int) -> _Row:
    recipe = candidate.recipe
    former = recipe.settings.get("front")
    sort = ", ".join(filter(None, (recipe.sort, f"{former} front" if former else "")))
    return _Row(ticks, recipe.family, sort, recipe.output, candidate.parts, int(candidate.sizes[2]), refuted)


def _range(trigger: str, rows: list[_Row]) -> Range:
    parts = [row.parts for row in rows]
    volumes = [row.volume for row in rows]
    return Range(
        trigger=trigger,
        family=rows[0].family,
        sort=rows[0].sort,
        outputs=tuple(sorted({row.output for row in rows})),
        first_ticks=rows[0].ticks,
        last_ticks=rows[-1].ticks,
        parts=(min(parts), max(parts)),
        volume=(min(volumes), max(volumes)),
        refuted=sum(row.refuted for row in rows),
    )


def table_text(progress: Callable[[str], bool] | None = None) -> str:
    """The table in Markdown, a section for each trigger."""
    lines: list[str] = []
    stopped = False

    def told(text: str) -> bool:
        nonlocal stopped
        stopped = stopped or (progress is not None and progress(text))
        return stopped

    for trigger in TABLE_TRIGGERS:
        ranges = list(table_ranges(trigger, told))
        heads = "| hold | holds run | family | sort | output | parts | cells |"
        lines += [f"## {trigger}", "", _summary(ranges, stopped), ""]
        lines += [heads, "|---" * 7 + "|", *map(_line, ranges), ""]
    return "\n".join(lines).rstrip()


def _summary(ranges: list[Range], stopped: bool) -> str:
    """How many holds have a design, and how many smaller ones a run refuted."""
    count, refuted = sum(map(_count, ranges)), sum(found.refuted for found in ranges)
    return (
        f"{'Stopped before the end. ' * stopped}{count:,} of {LAST_TICK:,} holds have a design, each run with that "
        f"very hold. Smaller plans passed over, since a run showed another hold than their model: {refuted:,}."
    )


def _count(found: Range) -> int:
    return found.last_ticks - found.first_ticks + 1


def _line(found: Range) -> str:
    holds = _span(found.first_ticks, found.last_ticks)
    numbers = [_number(found.parts), _number(found.volume)]
    facts = [holds, f"{_count(found):,}", found.family, found.sort or "–", " or ".join(found.outputs), *numbers]
    return f"| {' | '.join(facts)} |"


def _span(first: int, last: int) -> str:
    ends = [
        f"{ticks_text(STEPS_PER_TICK * ticks)} ({duration_text(STEPS_PER_TICK * ticks)})" for ticks in (first, last)
    ]
    return ends[0] if first == last else f"{ends[0]} to {ends[1]}"


def _number(span: tuple[int, int]) -> str:
    return str(span[0]) if span[0] == span[1] else f"{span[0]} to {span[1]}"
