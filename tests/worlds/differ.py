"""Run two engines on one world, under several rule sets and orders of telling, and say where they first differ."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from contextlib import nullcontext
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from tickwright.engine import Run, first_difference, run
from tickwright.errors import TickwrightError
from tickwright.findings import Finding
from tickwright.plan import load
from tickwright.rules import BUILT_IN, RuleSet, load_rules
from worlds.generator import World
from worlds.seen import watching

ROOT = Path(__file__).resolve().parents[2]
Engine = Callable[[World, RuleSet, str], Run]
ORDERS = ("canonical", "reversed", "7")
RULE_SETS = (*BUILT_IN, "odd")


def reference(world: World, rules: RuleSet, order: str) -> Run:
    """The reference engine, every cell watched."""
    return run(world.plan, world.acts, world.steps, rules, order, "reference", world.watched())


def fast(world: World, rules: RuleSet, order: str) -> Run:
    """The fast engine, every cell watched."""
    return run(world.plan, world.acts, world.steps, rules, order, "fast", world.watched())


@cache
def rule_set(name: str) -> RuleSet:
    """A built-in rule set, or "odd": the one in which every number is another."""
    return load_rules(name) if name in BUILT_IN else load_rules("odd-rules.toml", Path(__file__).parent)


@dataclass(frozen=True, slots=True)
class Difference:
    """Where two engines differ on a world; `what` says it in words, `step` is the first step that differs."""

    world: World
    rules: str
    order: str
    step: int
    what: str

    def __str__(self) -> str:
        return f"{self.world.name}, rules {self.rules}, order {self.order}: {self.what}"


@cache
def examples() -> tuple[World, ...]:
    """Every example: at rest, its triggers pressed far apart, and pressed like mad."""
    worlds = []
    for path in sorted((ROOT / "examples").glob("*.toml")):
        plan = load(path)
        far = tuple(f"{60 * (number + 1)}:{name}" for number, name in enumerate(plan.triggers))
        near = tuple(f"{at}:{name}" for at in (0, 1, 5, 26, 28, 29, 61, 61, 104) for name in plan.triggers)
        worlds += [
            World(f"{path.stem} {word}", plan, acts, 600)
            for word, acts in (("at rest", ()), ("pressed", far), ("pressed often", near))
        ]
    return tuple(worlds)


def compare(
    world: World,
    one: Engine,
    other: Engine,
    rules: Iterable[str] = RULE_SETS,
    orders: Iterable[str] = ORDERS,
    counts: Counter[str] | None = None,
) -> Difference | None:
    """The first difference between two engines under these rules and orders, or None.

    `counts` takes what the first engine, if it is the reference, reaches under the first rule set and order.
    """
    runs: dict[tuple[str, str], Run | str] = {}
    for rules_name in rules:
        for order in orders:
            with watching(counts) if counts is not None and not runs else nullcontext():
                ours = _outcome(one, world, rules_name, order)
            theirs = _outcome(other, world, rules_name, order)
            found = _difference(world, ours, theirs)
            if found is not None:
                return Difference(world, rules_name, order, *found)
            runs[rules_name, order] = ours
    if counts is not None:
        _count_what_matters(runs, counts)
    return None


def _outcome(engine: Engine, world: World, rules: str, order: str) -> Run | str:
    """The run, or what kind of refusal or crash came instead."""
    try:
        return engine(world, rule_set(rules), order)
    except TickwrightError as error:
        return f"refused: {error}"
    except Exception as error:
        if isinstance(error, MemoryError):
            raise
        return f"crashed: {error!r}"


def _difference(world: World, one: Run | str, other: Run | str) -> tuple[int, str] | None:
    if isinstance(one, str) or isinstance(other, str):
        if one == other and not one.startswith("crashed"):
            return None
        shown = [said if isinstance(said, str) else "a run" for said in (one, other)]
        return 0, f"the first gives {shown[0]}, the second {shown[1]}"
    found = first_difference(one.trace, other.trace)
    if found is not None:
        part = world.plan.cells.get(world.watched().get(found.name, (-1, -1, -1)))
        where = f"cell {found.name} ({part or 'empty at the start'})"
        return found.step, f"step {found.step}, {where}: {found.value_a} against {found.value_b}"
    if one.findings != other.findings:
        return _findings_differ(one.findings, other.findings)
    return None


def _findings_differ(one: tuple[Finding, ...], other: tuple[Finding, ...]) -> tuple[int, str]:
    for mine, yours in zip(one, other, strict=False):
        if mine != yours:
            step = min((*mine.steps, *yours.steps), default=0)
            return step, f"findings: {mine} against {yours}"
    more = (one if len(one) > len(other) else other)[min(len(one), len(other))]
    return min(more.steps, default=0), f"findings: only the {'first' if more in one else 'second'} has {more}"


def _count_what_matters(runs: dict[tuple[str, str], Run | str], counts: Counter[str]) -> None:
    """Whether another order, or another rule set, gave another trace."""
    traces = {key: outcome.trace for key, outcome in runs.items() if isinstance(outcome, Run)}
    rules, order = next(iter(runs))
    first = traces.get((rules, order))
    counts["order-matters"] += any(trace != first for key, trace in traces.items() if key[0] == rules)
    counts["rules-matter"] += any(trace != first for key, trace in traces.items() if key[1] == order)
