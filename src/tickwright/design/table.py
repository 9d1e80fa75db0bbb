"""The table of the smallest designs: for each tick of hold from one to ten minutes, and each of three triggers."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from tickwright.design.catalogue import recipes
from tickwright.design.choosing import goal_of
from tickwright.design.judging import Candidate, candidate_of
from tickwright.design.recipes import Recipe
from tickwright.design.sketch import PRESS
from tickwright.design.wish import Wish
from tickwright.durations import STEPS_PER_SECOND, STEPS_PER_TICK, seconds_text, ticks_text
from tickwright.measure import find_trigger, observe
from tickwright.measure.measuring import hold_of, kind_of
from tickwright.rules import load_rules

__all__ = ["TABLE_TRIGGERS", "Range", "table_ranges", "table_text"]

TABLE_TRIGGERS = ("short-button", "long-button", "lever")
LAST_TICK = 10 * 60 * STEPS_PER_SECOND // STEPS_PER_TICK
ALL_RUN_TICKS = 30 * STEPS_PER_SECOND // STEPS_PER_TICK  # up to here every hold is run
DRAWN = 4  # of each longer range: so many more are run, drawn by a seed, besides its ends
SMALLEST_OF_LOOP = 2  # parts for each comparator of a loop, at least: itself and what carries it


@dataclass(frozen=True, slots=True)
class Range:
    """Holds in a row, a tick apart, for which the smallest design is of one family and sort.

    `outputs` are those that its designs have; `parts` and `volume` are the least and the most; `runs` is how many of
    its holds were run, each with that very hold.
    """

    trigger: str
    family: str
    sort: str
    outputs: tuple[str, ...]
    first_ticks: int
    last_ticks: int
    parts: tuple[int, int]
    volume: tuple[int, int]
    runs: int


def table_ranges(trigger: str, progress: Callable[[str], bool] | None = None) -> Iterator[Range]:
    """The ranges of one trigger, in order; every hold up to 30 s is run, of longer ranges the ends and some between."""
    rows: list[tuple[int, Candidate]] = []
    for ticks in range(1, LAST_TICK + 1):
        if progress is not None and ticks % 20 == 0 and progress(f"{trigger}, {ticks_text(2 * ticks)}"):
            break
        best = _smallest(trigger, ticks, run=ticks <= ALL_RUN_TICKS)
        if best is None:
            continue
        if rows and _key(rows[-1][1]) != _key(best):
            yield _range(trigger, rows)
            rows = []
        rows.append((ticks, best))
    if rows:
        yield _range(trigger, rows)


def _smallest(trigger: str, ticks: int, run: bool) -> Candidate | None:
    """The candidate of fewest parts, then of least volume; with `run`, the first of them that holds in a run."""
    wish = Wish(STEPS_PER_TICK * ticks, trigger=trigger)
    found: list[Candidate] = []
    for recipe in sorted(recipes(goal_of(wish, load_rules())), key=_least_parts):
        if found and _least_parts(recipe) > min(candidate.parts for candidate in found):
            break
        found.append(candidate_of(recipe, wish))
    found.sort(key=lambda candidate: candidate.sizes)
    return next((candidate for candidate in found if not run or _holds(candidate)), None)


def _least_parts(recipe: Recipe) -> int:
    return SMALLEST_OF_LOOP * int(recipe.settings.get("comparators", 0))


def _holds(candidate: Candidate) -> bool:
    """Whether a run gives one pulse of the very hold that the naive model says."""
    rules = load_rules(candidate.plan.rules)
    name = next(iter(candidate.plan.outputs))
    seen = observe(candidate.plan, rules, find_trigger(candidate.plan, rules, PRESS))
    return kind_of(seen, name) == "one-shot" and hold_of(seen.pulses(name)) == candidate.recipe.hold_steps


def _key(candidate: Candidate) -> tuple[str, str]:
    return (candidate.recipe.family, _sort(candidate.recipe))


def _sort(recipe: Recipe) -> str:
    front = recipe.settings.get("front")
    return ", ".join(filter(None, (recipe.sort, f"{front} front" if front else "")))


def _range(trigger: str, rows: list[tuple[int, Candidate]]) -> Range:
    family, sort = _key(rows[0][1])
    runs = sum(ticks <= ALL_RUN_TICKS for ticks, _ in rows)
    longer = [row for row in rows if row[0] > ALL_RUN_TICKS]
    if longer:
        draw = random.Random(f"{trigger} {family} {rows[0][0]}")
        tried = {row[0]: row for row in (longer[0], longer[-1], *draw.sample(longer, min(DRAWN, len(longer))))}
        failed = [ticks for ticks, candidate in tried.values() if not _holds(candidate)]
        if failed:
            raise AssertionError(f"the naive model of {family} is wrong at {failed} ticks for a {trigger}")
        runs += len(tried)
    parts = [candidate.parts for _, candidate in rows]
    volumes = [int(candidate.sizes[2]) for _, candidate in rows]
    return Range(
        trigger=trigger,
        family=family,
        sort=sort,
        outputs=tuple(sorted({candidate.recipe.output for _, candidate in rows})),
        first_ticks=rows[0][0],
        last_ticks=rows[-1][0],
        parts=(min(parts), max(parts)),
        volume=(min(volumes), max(volumes)),
        runs=runs,
    )


def table_text(progress: Callable[[str], bool] | None = None) -> str:
    """The table in Markdown, a section for each trigger."""
    lines: list[str] = []
    for trigger in TABLE_TRIGGERS:
        lines += [f"## {trigger}", "", "| hold | family | sort | output | parts | cells | run |", "|---" * 7 + "|"]
        lines += [_line(found) for found in table_ranges(trigger, progress)]
        lines.append("")
    return "\n".join(lines).rstrip()


def _line(found: Range) -> str:
    count = found.last_ticks - found.first_ticks + 1
    holds = _span(found.first_ticks, found.last_ticks)
    runs = "all" if found.runs == count else f"{found.runs} of {count:,}"
    numbers = [_number(found.parts), _number(found.volume)]
    return f"| {' | '.join([holds, found.family, found.sort or '–', ' or '.join(found.outputs), *numbers, runs])} |"


def _span(first: int, last: int) -> str:
    ends = [f"{ticks_text(STEPS_PER_TICK * ticks)} ({seconds_text(STEPS_PER_TICK * ticks)})" for ticks in (first, last)]
    return ends[0] if first == last else f"{ends[0]} to {ends[1]}"


def _number(span: tuple[int, int]) -> str:
    return str(span[0]) if span[0] == span[1] else f"{span[0]} to {span[1]}"
