"""What if: what every single mistake would do, grouped by what one would see."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

from tickwright.arguments import checked
from tickwright.diagnosis.bench import Bench
from tickwright.diagnosis.diagnosing import Progress
from tickwright.diagnosis.mistakes import Mistake, single_mistakes
from tickwright.diagnosis.symptoms import SYMPTOMS, Pair, Seen, seen_data, symptom
from tickwright.engine.running import rules_for
from tickwright.errors import UsageError
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.plan.validate import validate
from tickwright.rules import RuleSet
from tickwright.space import Cell


class Consequence(NamedTuple):
    """One mistake and what the presses then do, for each (trigger, output)."""

    mistake: Mistake
    answers: dict[Pair, Seen]


class WhatIfRow(NamedTuple):
    """Mistakes of one kind with the same symptom, in short: where they may be made, and what one then sees.

    `kind` is a key of KINDS, `symptom` one of SYMPTOMS; `cells` are those of the mistakes (none for other rules),
    `seen` the different answers in words.
    """

    symptom: str
    kind: str
    cells: tuple[Cell, ...]
    seen: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WhatIf:
    """What every single mistake would do; `own` is what the plan does as it is. `stopped`: some were not tried."""

    plan: Plan
    rules: str
    own: dict[Pair, Seen]
    consequences: tuple[Consequence, ...]
    stopped: bool = False

    def groups(self, pair: Pair) -> dict[str, list[Consequence]]:
        """The consequences for one trigger and output by symptom, the plainest first; none that is empty."""
        found: dict[str, list[Consequence]] = {name: [] for name in SYMPTOMS}
        for one in self.consequences:
            found[symptom(self.own[pair], one.answers[pair])].append(one)
        return {name: group for name, group in found.items() if group}

    def rows(self, pair: Pair) -> list[WhatIfRow]:
        """What can go wrong at one output, in short; what changes nothing there is left out."""
        found: list[WhatIfRow] = []
        for name, group in self.groups(pair).items():
            kinds = dict.fromkeys(one.mistake.kind for one in group) if name != "as-planned" else {}
            for kind in kinds:
                alike = [one for one in group if one.mistake.kind == kind]
                cells = dict.fromkeys(one.mistake.cell for one in alike if one.mistake.cell is not None)
                seen = dict.fromkeys(one.answers[pair].text for one in alike)
                found.append(WhatIfRow(name, kind, tuple(cells), tuple(seen)))
        return found

    def as_data(self) -> dict[str, Any]:
        """All of it as JSON shows it."""
        return {
            "rules": self.rules,
            "own": seen_data(self.own),
            "mistakes": [
                {
                    **one.mistake.as_data(),
                    "answers": [
                        {**data, "symptom": symptom(self.own[pair], one.answers[pair])}
                        for pair, data in zip(one.answers, seen_data(one.answers), strict=True)
                    ],
                }
                for one in self.consequences
            ],
            "stopped": self.stopped,
        }


@checked
def what_if(
    plan: Plan, rules: RuleSet | str | None = None, trigger: str | None = None, progress: Progress | None = None
) -> WhatIf:
    """Build the plan with every single mistake, and press each trigger, or the one named.

    `progress` is told how far it is, and stops it by returning True. A slow world is not among the mistakes: it makes
    every time longer by the same factor. Raises UsageError for a plan without triggers or outputs.

    >>> from tickwright.plan import loads
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", r = "repeater east", L = "lamp"}
    ... layer = [{rows = "###"}, {rows = "brL"}]
    ... triggers = {press = [0, 0, 1]}
    ... outputs = {lamp = [2, 0, 1]}''')
    >>> groups = what_if(plan).groups(("press", "lamp"))
    >>> [one.mistake.text for one in groups["later"]][0]
    'the repeater at (1, 0, 1) has 2 ticks instead of 1 tick'
    """
    ruleset = rules_for(plan, rules)
    validate(plan, ruleset)
    for what, table in (("trigger", plan.triggers), ("output", plan.outputs)):
        if not table:
            raise UsageError(f"The plan names no {what}: add one under [{what}s], such as {what} = [x, y, z].")
    setup = Setup(plan, ruleset)
    bench = Bench(setup, plan.outputs, [trigger] if trigger is not None else plan.triggers)
    all_mistakes = single_mistakes(setup)
    found: list[Consequence] = []
    pressed = bench.press_each((mistake,) for mistake in all_mistakes)
    for number, mistake in enumerate(all_mistakes):
        if progress is not None and progress(f"{number} of {len(all_mistakes)} mistakes tried"):
            return WhatIf(plan, ruleset.name, bench.own, tuple(found), stopped=True)
        try:
            found.append(Consequence(mistake, next(pressed)))
        except KeyboardInterrupt:
            if progress is None:  # nobody asks whether it was stopped
                raise
            return WhatIf(plan, ruleset.name, bench.own, tuple(found), stopped=True)
    return WhatIf(plan, ruleset.name, bench.own, tuple(found))
