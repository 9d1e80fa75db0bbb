"""The bench: a plan built with mistakes, pressed and watched; many builds at once where single runs are long."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import islice
from typing import TYPE_CHECKING, TypeVar

from tickwright.diagnosis.evidence import SPARE_STEPS
from tickwright.diagnosis.mistakes import Mistake, built_with, world_rules
from tickwright.diagnosis.symptoms import Pair, Seen, seen_at
from tickwright.measurement.observe import SETTLE_STEPS, observe
from tickwright.measurement.press import find_trigger, press_stimuli
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.rules import RuleSet
from tickwright.space import Cell

if TYPE_CHECKING:
    from tickwright.engine.native import Outcomes

BATCH_FROM_STEPS = 1_000  # active steps of the plan's own presses: for fewer the compiled engine does not pay
AT_ONCE = 32
Item = TypeVar("Item")
Build = tuple[Mistake, ...]


class Bench:
    """A plan on the bench: built with mistakes, pressed, and watched at `names`, each pair (trigger, name) once.

    `names` maps what is watched to its cell. Runs are bounded by three times the plan's own and 600 steps more.
    `at_once` is how many builds are best pressed together: one, or many if the plan's own runs are long and the fast
    engine is there. Those run as a batch of it, and what is not at rest then is pressed again by itself.
    """

    def __init__(self, setup: Setup, names: Mapping[str, Cell], triggers: Iterable[str]) -> None:
        from tickwright.engine.native import is_installed

        self.plan = replace(setup.plan, outputs=dict(names))
        self.rules = setup.rules
        self.triggers = tuple(triggers)
        self.most_steps: dict[str, int] = {}
        self.own: dict[Pair, Seen] = {}
        active_steps = 0
        for name in self.triggers:
            own = observe(setup._replace(plan=self.plan), find_trigger(setup, name))
            self.most_steps[name] = 3 * own.seen_steps + SPARE_STEPS
            self.own |= {(name, output): seen_at(own, output) for output in self.plan.outputs}
            active_steps += own.active_steps
        self.at_once = AT_ONCE if active_steps >= BATCH_FROM_STEPS and is_installed() else 1

    def press(self, made: Build, watched: Mapping[str, Cell] | None = None) -> dict[Pair, Seen]:
        """What every press does to every name, or to those in `watched`, built with these mistakes."""
        plan = self._built(made, watched)
        rules = world_rules(self.rules, made)
        found: dict[Pair, Seen] = {}
        for name in self.triggers:
            setup = Setup(plan, rules)
            place = find_trigger(setup, name)
            observation = observe(setup, place, most_steps=self.most_steps[name])
            for output in plan.outputs:
                found[name, output] = seen_at(observation, output)
        return found

    def press_each(
        self, builds: Iterable[Build], watched: Mapping[str, Cell] | None = None
    ) -> Iterator[dict[Pair, Seen]]:
        """As `press`, for one build after another, `at_once` of them taken together."""
        for some in chunks(builds, self.at_once):
            yield from self._together(some, watched) if len(some) > 1 else [self.press(some[0], watched)]

    def _built(self, made: Build, watched: Mapping[str, Cell] | None) -> Plan:
        plan = built_with(self.plan, made)
        return plan if watched is None else replace(plan, outputs=dict(watched))

    def _together(self, builds: Sequence[Build], watched: Mapping[str, Cell] | None) -> Iterator[dict[Pair, Seen]]:
        """Press builds together; what a batch cannot tell is pressed by itself."""
        laid = [(self._built(made, watched), world_rules(self.rules, made)) for made in builds]
        for made, seen in zip(builds, self._batched(laid), strict=True):
            yield seen or self.press(made, watched)

    def _batched(self, laid: Sequence[tuple[Plan, RuleSet]]) -> list[dict[Pair, Seen] | None]:
        """What every press does to each plan, None where a batch cannot tell."""
        from tickwright.engine.native import Batch, Job

        found: list[dict[Pair, Seen] | None] = [{} for _ in laid]
        batch = Batch()
        for plan, rules in laid:
            batch.add_plan(Setup(plan, rules))
        before = batch.run([Job(n) for n in range(len(laid))], SETTLE_STEPS)
        for name in self.triggers:
            stimuli = [press_stimuli(find_trigger(Setup(plan, rules), name), SETTLE_STEPS) for plan, rules in laid]
            steps = SETTLE_STEPS + self.most_steps[name] + 1
            after = batch.run([Job(n, script) for n, script in enumerate(stimuli)], steps)
            for n, (plan, _) in enumerate(laid):
                seen = [_seen(before, after, row) for row in range(before.start[n], before.start[n + 1])]
                if not after.at_rest[n] or None in seen:
                    found[n] = None
                so_far = found[n]
                if so_far is not None:
                    so_far |= {(name, output): one for output, one in zip(plan.outputs, seen, strict=True) if one}
        return found


def _seen(before: Outcomes, after: Outcomes, row: int) -> Seen | None:
    """What a press did to one cell of a circuit that came to rest; None if one run must tell: it rests on, say."""
    pulses = int(after.pulses[row] - before.pulses[row])
    if before.last[row]:
        return None if after.last_off[row] >= SETTLE_STEPS else Seen("always-on", None, None, 0)
    if before.pulses[row]:
        return None
    if not pulses:
        return Seen("none", None, None, 0)
    first = int(after.first_on[row])
    if after.last[row]:
        return Seen("latched", first - SETTLE_STEPS, None, pulses)
    kind = "one-shot" if pulses == 1 else "train"
    return Seen(kind, first - SETTLE_STEPS, int(after.last_off[row]) - first, pulses)


def chunks(items: Iterable[Item], size: int) -> Iterator[list[Item]]:
    """The items in lists of `size`, the last as long as it comes.

    >>> list(chunks("abc", 2))
    [['a', 'b'], ['c']]
    """
    rest = iter(items)
    while some := list(islice(rest, size)):
        yield some
