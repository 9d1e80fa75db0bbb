"""Causes: which mistakes in building a plan explain what was seen, and what to look at next to tell them apart."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any, NamedTuple

from tickwright.arguments import checked
from tickwright.diagnosis.bench import Bench, Build, chunks
from tickwright.diagnosis.diagnosing import Progress
from tickwright.diagnosis.evidence import UNWATCHED
from tickwright.diagnosis.mistakes import KINDS, Mistake, built_with, single_mistakes, world_rules
from tickwright.diagnosis.observed import Observed, misfit, output_cell, parse_observed
from tickwright.diagnosis.observed_claims import Clause, ClauseJudge, read_clause
from tickwright.diagnosis.symptoms import Pair, Seen, seen_data
from tickwright.durations import STEPS_PER_SECOND
from tickwright.engine.running import rules_for
from tickwright.errors import TickwrightError, UsageError
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.plan.validate import validate
from tickwright.rules import RuleSet
from tickwright.space import Cell, zyx

TOLERANCE_STEPS = 4
MOST_COMPARED = 80
SLOWEST = 1.0  # steps a second


class Cause(NamedTuple):
    """One explanation of what was seen: one mistake, or two at once.

    `others` are mistakes of the same sort that nothing one can watch tells apart from these, such as a power-block at
    another place of the same wire: only a look does. `misfit` is 0 if it gives just what was seen and 1 at the
    tolerance, the worst of all that was seen; `ease` says how easily one makes it, 10 at most; `rate` is the steps a
    second of a slow world.
    """

    mistakes: tuple[Mistake, ...]
    misfit: float
    ease: float
    answers: dict[Pair, Seen]
    rate: float | None = None
    others: tuple[tuple[Mistake, ...], ...] = ()

    @property
    def builds(self) -> tuple[tuple[Mistake, ...], ...]:
        """All mistakes that come to this, those made most easily first."""
        return (self.mistakes, *self.others)

    @property
    def text(self) -> str:
        """What is wrong, in words."""
        return ", and ".join(one.text for one in self.mistakes)

    @property
    def look(self) -> str:
        """Where to look for it."""
        first = "; ".join(one.look for one in self.mistakes)
        cells = [
            str(one.cell) for build in self.others for one in build if one.cell not in (self.mistakes[0].cell, None)
        ]
        return first + (f"; or at {', '.join(dict.fromkeys(cells))}" if cells else "")

    @property
    def rank(self) -> tuple[int, bool, int, float]:
        """The lowest first: fewer mistakes, no stray power-block, a better fit in three grades, made more easily."""
        stray = any(one.kind == "stray-power-block" for one in self.mistakes)
        return (len(self.mistakes), stray, round(self.misfit * 2), -self.ease)

    def as_data(self) -> dict[str, Any]:
        """The cause as JSON shows it."""
        return {
            "text": self.text,
            "look": self.look,
            "misfit": self.misfit,
            "ease": self.ease,
            "rate": self.rate,
            "mistakes": [one.as_data() for one in self.mistakes],
            "others": [[one.as_data() for one in build] for build in self.others],
            "answers": seen_data(self.answers),
        }


class Proposal(NamedTuple):
    """What to do next: "watch" a `place` (an output's name, or a cell "x,y,z") after a press, or "look" at it.

    `trigger` is what to press, None if it is enough to look. `part` is what the plan has there; `groups` holds what may
    be seen, and which causes, by their number, would show it.
    """

    act: str
    trigger: str | None
    place: str
    part: str
    groups: tuple[tuple[str, tuple[int, ...]], ...]

    def as_data(self) -> dict[str, Any]:
        """The proposal as JSON shows it."""
        groups = [{"seen": text, "causes": list(numbers)} for text, numbers in self.groups]
        return {**self._asdict(), "groups": groups}


@dataclass(frozen=True, slots=True)
class Causes:
    """The causes that explain all that was `observed`, the likeliest first, and the observation that splits them best.

    `as_planned` says that the plan without any mistake does just that; `tried` is how many builds were run, `stopped`
    that not all were. `proposal` is None if there is one cause or nothing tells them apart.
    """

    plan: Plan
    rules: str
    observed: tuple[Observed, ...]
    tolerance_steps: int
    as_planned: bool
    causes: tuple[Cause, ...]
    proposal: Proposal | None
    tried: int
    stopped: bool = False

    def as_data(self) -> dict[str, Any]:
        """All of it as JSON shows it."""
        return {
            "rules": self.rules,
            "observed": [{**one._asdict(), "part": str(one.part) if one.part else None} for one in self.observed],
            "tolerance_steps": self.tolerance_steps,
            "as_planned": self.as_planned,
            "causes": [cause.as_data() for cause in self.causes],
            "proposal": self.proposal.as_data() if self.proposal else None,
            "tried": self.tried,
            "stopped": self.stopped,
        }


@checked
def find_causes(
    plan: Plan,
    observed: Iterable[str | Observed],
    tolerance_steps: int = TOLERANCE_STEPS,
    pairs: bool = False,
    rules: RuleSet | str | None = None,
    progress: Progress | None = None,
) -> Causes:
    """Build the plan with every single mistake, with `pairs` every two as well, and keep what fits all that was seen.

    `observed` holds texts as `parse_observed` reads them, or what it gives. A time fits if it is at most
    `tolerance_steps` off. `progress` is told how far it is, and stops it by returning True. Raises UsageError if
    nothing was observed, or as `parse_observed` does.

    >>> from tickwright.plan import loads
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", r = "repeater east", L = "lamp"}
    ... layer = [{rows = "###"}, {rows = "brL"}]
    ... triggers = {press = [0, 0, 1]}
    ... outputs = {lamp = [2, 0, 1]}''')
    >>> find_causes(plan, ["delay 3 ticks"], tolerance_steps=0).causes[0].text
    'the repeater at (1, 0, 1) has 3 ticks instead of 1 tick'
    """
    ruleset = rules_for(plan, rules)
    validate(plan, ruleset)
    given = list(observed)
    seen = tuple(
        one for item in given for one in ([item] if isinstance(item, Observed) else parse_observed(plan, [item]))
    )
    if not seen:
        raise UsageError('Nothing was observed: say what the build does, such as "hold 8.5 s" or "never on".')
    names = {one.output: cell for one in seen if (cell := output_cell(plan, one.output)) is not None}
    pressed = dict.fromkeys(one.trigger for one in seen if one.what != "stands") or list(plan.triggers)[:1]
    setup = Setup(plan, ruleset)
    bench = Bench(setup, {**plan.outputs, **names}, pressed)
    singles = single_mistakes(setup)
    judging = _claims_among(plan, bench, seen, tolerance_steps)
    found = [cause for cause in (_slow_world(bench, seen, tolerance_steps),) if cause is not None]
    builds = _builds(singles, pairs)
    tried, stopped = 0, False
    runs = _pressed(bench, builds, seen)
    for made in builds:
        if progress is not None and progress(f"{tried:,} of {len(builds):,} builds tried, {len(found)} fit"):
            stopped = True
            break
        try:
            answers = next(runs)
        except KeyboardInterrupt:
            if progress is None:  # nobody asks whether it was stopped
                raise
            stopped = True
            break
        tried += 1
        worst = _worst(seen, answers, tolerance_steps) if answers is not None else None
        if worst is not None:
            try:
                worst = _with_claims(plan, bench, judging, made, worst)
            except KeyboardInterrupt:
                if progress is None:
                    raise
                stopped = True
                break
        if answers is not None and worst is not None:
            found.append(Cause(made, worst, _ease(made), answers))
    found.sort(key=lambda cause: cause.rank)
    as_planned = _stands(plan, (), seen) and _worst(seen, bench.own, tolerance_steps) is not None
    as_planned = as_planned and _with_claims(plan, bench, judging, (), 0) is not None
    causes, shown = _merged(bench, found, None if stopped else progress)
    proposal = _proposal(bench, causes, shown, tolerance_steps, {(one.trigger, one.output) for one in seen})
    return Causes(plan, ruleset.name, seen, tolerance_steps, as_planned, tuple(causes), proposal, tried, stopped)


def _builds(singles: Sequence[Mistake], pairs: bool) -> list[Build]:
    """What to build, what is made most easily first, two mistakes after the single ones."""
    twos = [pair for pair in combinations(singles, 2) if pair[0].cell != pair[1].cell] if pairs else []
    twos.sort(key=lambda pair: -pair[0].ease * pair[1].ease)
    return [*((single,) for single in singles), *twos]


def _pressed(bench: Bench, builds: Sequence[Build], seen: Sequence[Observed]) -> Iterator[dict[Pair, Seen] | None]:
    """What each build does when it is pressed; None for those that could not be."""
    for some in chunks(builds, bench.at_once):
        could_be = [_could_be(bench, made, seen) for made in some]
        answers = bench.press_each(made for made, it_could in zip(some, could_be, strict=True) if it_could)
        yield from (next(answers) if it_could else None for it_could in could_be)


def _could_be(bench: Bench, made: Build, seen: Sequence[Observed]) -> bool:
    """Whether the build could stand, and has what was looked at where it was; single mistakes are known to stand."""
    if len(made) > 1:
        try:
            validate(built_with(bench.plan, made), world_rules(bench.rules, made))
        except TickwrightError:
            return False
    return _stands(bench.plan, made, seen)


def _ease(made: Build) -> float:
    return float(made[0].ease) if len(made) == 1 else made[0].ease * made[1].ease / 10


def _stands(plan: Plan, made: tuple[Mistake, ...], seen: Sequence[Observed]) -> bool:
    """Whether the build has in every cell that was looked at what stands there."""
    looked = [(output_cell(plan, one.output), one.part) for one in seen if one.what == "stands"]
    built = built_with(plan, made).cells if looked else {}
    return all(cell is not None and built.get(cell) == part for cell, part in looked)


def _worst(seen: Sequence[Observed], answers: Mapping[Pair, Seen], tolerance: int, slowness: float = 1) -> float | None:
    """The worst misfit of all that was seen; None if any of it does not fit."""
    worst = 0.0
    for one in seen:
        if one.what in ("stands", "claim"):
            continue
        off = misfit(one, answers[one.trigger, one.output], tolerance, slowness)
        if off is None:
            return None
        worst = max(worst, off)
    return worst


def _claims_among(laid: Plan, bench: Bench, seen: Sequence[Observed], tolerance: int) -> ClauseJudge | None:
    """What judges the clauses of charts among what was seen; None if there are none."""
    clauses = []
    for one in seen:
        if one.clauses is not None:
            cell = None if one.output in {**laid.outputs, **laid.triggers} else output_cell(laid, one.output)
            _, claim = read_clause(laid, one.output, one.clauses, one.text, cell)
            clauses.append(Clause(one.trigger, claim, cell))
    if not clauses:
        return None
    return ClauseJudge(laid, clauses, tolerance, max(bench.most_steps.values()))


def _with_claims(laid: Plan, bench: Bench, judging: ClauseJudge | None, made: Build, worst: float) -> float | None:
    """The worst misfit with that of the clauses of charts; None if the build breaks one."""
    if judging is None:
        return worst
    off = judging.misfit(Setup(built_with(laid, made), world_rules(bench.rules, made)))
    return None if off is None else max(worst, off)


def _slow_world(bench: Bench, seen: Sequence[Observed], tolerance: int) -> Cause | None:
    """The plan as it is, in a world that makes all that was measured in seconds longer by one factor.

    The factor is that of the longest time that was seen: if it is the only one, a slow world always explains it.
    Clauses of charts are not stretched: with any of them it is not tried.
    """
    if any(one.what == "claim" for one in seen):
        return None
    longest: tuple[int, float] | None = None
    for one in seen:
        if one.in_seconds and one.number and (longest is None or one.number > longest[0]):
            steps = getattr(bench.own[one.trigger, one.output], f"{one.what}_steps")
            longest = (one.number, one.number / steps) if steps else longest
    if longest is None or longest[0] / longest[1] + tolerance >= longest[0] or STEPS_PER_SECOND / longest[1] < SLOWEST:
        return None
    slowness = longest[1]
    worst = _worst(seen, bench.own, tolerance, slowness)
    if worst is None or not _stands(bench.plan, (), seen):
        return None
    rate = STEPS_PER_SECOND / slowness
    text = f"the world runs at about {rate:.3g} steps a second instead of {STEPS_PER_SECOND}"
    look = "how long a short button stays pressed: 1 s at full speed"
    ease = KINDS["slow-world"].ease
    return Cause((Mistake("slow-world", None, text, look, ease),), worst, ease, bench.own, rate)


# --- what to look at next ----------------------------------------------------------------------------------------


def _merged(
    bench: Bench, found: Sequence[Cause], progress: Progress | None
) -> tuple[list[Cause], list[dict[Pair, Seen]]]:
    """The causes with those of one sort that show the same everywhere as one; and what each shows at every cell.

    The 80 likeliest are compared, or as many as `progress` lets; the rest follow as they are.
    """
    everywhere = {**bench.plan.outputs, **_cells_to_watch(bench)}
    merged: dict[Any, list[Cause]] = {}
    shown: dict[Any, dict[Pair, Seen]] = {}
    likeliest, compared = found[:MOST_COMPARED], 0
    pressed = bench.press_each((cause.mistakes for cause in likeliest), everywhere)
    for cause in likeliest:
        if progress is not None and progress(f"{compared} of the {len(likeliest)} likeliest causes compared"):
            break
        answers = _slowed(next(pressed), cause)
        key = (cause.rank, tuple(one.kind for one in cause.mistakes), tuple(answers.values()))
        merged.setdefault(key, []).append(cause)
        shown[key] = answers
        compared += 1
    causes = [group[0]._replace(others=tuple(one.mistakes for one in group[1:])) for group in merged.values()]
    return [*causes, *found[compared:]], list(shown.values())


def _proposal(
    bench: Bench, found: Sequence[Cause], shown: Sequence[dict[Pair, Seen]], tolerance: int, known: set[Pair]
) -> Proposal | None:
    """What leaves the fewest causes on the average: an output to watch, a cell to look at, or a cell to watch.

    What was observed already is not proposed again. Compared are the causes of which it is known what they show.
    """
    causes = found[: len(shown)]
    if sum(len(cause.builds) for cause in causes) < 2:
        return None
    cells = _cells_to_watch(bench)
    places = {**bench.plan.outputs, **cells}

    def watch(place: str) -> Iterator[Proposal]:
        for trigger in bench.triggers:
            if (trigger, place) not in known:
                groups = _alike([answers[trigger, place] for answers in shown], tolerance)
                yield Proposal("watch", trigger, place, _part_text(bench.plan, places[place]), groups)

    proposals = [one for place in bench.plan.outputs for one in watch(place)]
    proposals += _looks(bench.plan, causes)
    proposals += [one for place in cells for one in watch(place)]
    split = [one for one in proposals if len(one.groups) > 1]
    return min(split, key=lambda one: sum(len(numbers) ** 2 for _, numbers in one.groups), default=None)


def _looks(plan: Plan, causes: Sequence[Cause]) -> Iterator[Proposal]:
    """A look at each cell in which any of the causes has something else than the plan, grouped by what stands there."""
    cells = {cell for cause in causes for build in cause.builds for one in build for cell, _ in one.changes}
    for cell in sorted(cells, key=zyx):
        groups: dict[str, dict[int, None]] = {}
        for number, cause in enumerate(causes):
            for build in cause.builds:
                groups.setdefault(_part_text(built_with(plan, build), cell), {})[number] = None
        told = tuple((text, tuple(numbers)) for text, numbers in groups.items())
        yield Proposal("look", None, _cell_name(cell), _part_text(plan, cell), told)


def _part_text(plan: Plan, cell: Cell) -> str:
    part = plan.cells.get(cell)
    return str(part) if part is not None else "nothing"


def _slowed(answers: dict[Pair, Seen], cause: Cause) -> dict[Pair, Seen]:
    """The answers as a clock on the wall has them in a slow world."""
    if cause.rate is None:
        return answers
    slowness = STEPS_PER_SECOND / cause.rate

    def longer(steps: int | None) -> int | None:
        return None if steps is None else round(steps * slowness)

    return {
        pair: seen._replace(
            delay_steps=longer(seen.delay_steps),
            hold_steps=longer(seen.hold_steps),
            period_steps=longer(seen.period_steps),
        )
        for pair, seen in answers.items()
    }


def _cells_to_watch(bench: Bench) -> dict[str, Cell]:
    """The cells of which a builder can see what the part shows, outputs left out, by their names."""
    outputs = set(bench.plan.outputs.values())
    return {
        _cell_name(cell): cell
        for cell in sorted(bench.plan.cells, key=zyx)
        if bench.plan.cells[cell].kind not in UNWATCHED and cell not in outputs
    }


def _cell_name(cell: Cell) -> str:
    return f"{cell[0]},{cell[1]},{cell[2]}"


def _alike(seen: Sequence[Seen], tolerance: int) -> tuple[tuple[str, tuple[int, ...]], ...]:
    """The answers in groups that a builder can tell apart: another kind or count, or times more than twice the
    tolerance apart.
    """
    order = sorted(range(len(seen)), key=lambda number: _sortable(seen[number]))
    groups: list[list[int]] = []
    for number in order:
        if groups and _near(seen[groups[-1][0]], seen[number], tolerance):
            groups[-1].append(number)
        else:
            groups.append([number])
    told = ((seen[group[0]].text, tuple(sorted(group))) for group in groups)
    return tuple(sorted(told, key=lambda group: group[1]))


def _sortable(seen: Seen) -> tuple[str, int, int, int, int]:
    hold, delay, pulses, period = (
        -1 if value is None else value for value in (seen.hold_steps, seen.delay_steps, seen.pulses, seen.period_steps)
    )
    return (seen.kind, pulses, period, hold, delay)


def _near(one: Seen, other: Seen, tolerance: int) -> bool:
    if (one.kind, one.pulses) != (other.kind, other.pulses):
        return False
    times = (
        (one.hold_steps, other.hold_steps),
        (one.delay_steps, other.delay_steps),
        (one.period_steps, other.period_steps),
    )
    return all(a == b or (a is not None and b is not None and abs(a - b) <= 2 * tolerance) for a, b in times)
