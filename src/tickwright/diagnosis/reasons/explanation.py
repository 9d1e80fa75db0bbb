"""All sentences about a plan: for each trigger and output what a press comes to, why, and how short it may be."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from tickwright.arguments import checked
from tickwright.diagnosis.reasons.pressed import Pressed
from tickwright.diagnosis.reasons.sentences import Figure, Sentence, pieces
from tickwright.diagnosis.reasons.telling import tell_output
from tickwright.engine.running import rules_for
from tickwright.errors import UsageError, near
from tickwright.measurement import find_trigger
from tickwright.measurement.measuring import hold_of, kind_of, scan_lengths
from tickwright.measurement.observe import Runs, observe
from tickwright.measurement.press import Trigger, takes_length
from tickwright.plan.edits import place
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.plan.validate import validate
from tickwright.rules import RuleSet

MOST_KNOBS = 3
LONGEST_DELAY = 4


@dataclass(frozen=True, slots=True)
class Explained:
    """The sentences of one plan, with the press that each trigger's were read off: the step, and how far it was run."""

    plan: Plan
    rules: RuleSet
    sentences: tuple[Sentence, ...]
    presses: dict[str, tuple[int, int]]

    def as_data(self) -> dict[str, Any]:
        """The explanation as JSON shows it, the plan's name left out."""
        return {"sentences": [sentence.as_data() for sentence in self.sentences]}


@checked
def why(
    plan: Plan, trigger: str | None = None, output: str | None = None, rules: RuleSet | str | None = None
) -> Explained:
    """Explain what one press of each trigger (or the one named) does to each output (or the one named).

    Raises UsageError if the plan names no such trigger or output, PlanError if the rules refuse it.

    >>> from tickwright.plan import loads
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", r = "repeater east delay=2", L = "lamp"}
    ... layer = [{rows = "###"}, {rows = "brL"}]
    ... triggers = {press = [0, 0, 1]}
    ... outputs = {lamp = [2, 0, 1]}''')
    >>> for sentence in why(plan).sentences[:3]:
    ...     print(sentence.text)
    One press lights the lamp for 1.2 s, 0.2 s after it.
    The repeater takes all of the 0.2 s before it.
    1.2 s = 1 s (the press) + 0.2 s (the lamp).
    """
    ruleset = rules_for(plan, rules)
    validate(plan, ruleset)
    for what, name, table in (("trigger", trigger, plan.triggers), ("output", output, plan.outputs)):
        if not table:
            raise UsageError(f"The plan names no {what}: add one under [{what}s], such as {what} = [x, y, z].")
        if name is not None and name not in table:
            raise UsageError(f'The plan has no {what} "{name}".{near(name, table)}')
    told: list[Sentence] = []
    presses: dict[str, tuple[int, int]] = {}
    runs = Runs()
    setup = Setup(plan, ruleset)
    for name in [trigger] if trigger is not None else plan.triggers:
        pressed = Pressed(setup, find_trigger(setup, name))
        presses[name] = (pressed.at, pressed.run.sim.now + 1)
        outputs = [output] if output is not None else list(plan.outputs)
        least = _least(setup, pressed.trigger, outputs, runs)
        for one in outputs:
            about = list(tell_output(pressed, one))
            told += about
            told += _shorter(setup, pressed.trigger, one, least.get(one), runs)
            if any(sentence.kind == "sum" for sentence in about):
                told += _knobs(pressed, one)
    return Explained(plan, ruleset, tuple(told), presses)


def _least(setup: Setup, trigger: Trigger, outputs: list[str], runs: Runs) -> dict[str, int | None]:
    if not takes_length(trigger):
        return {}
    return {name: found[0] for name, found in scan_lengths(setup, trigger, outputs, runs=runs).items()}


def _shorter(setup: Setup, trigger: Trigger, output: str, least: int | None, runs: Runs) -> Iterator[Sentence]:
    """How short a press may be, and what a shorter one does instead."""
    if least is None:
        return
    figure = Figure(least, "steps", ("least", output))
    words = pieces("a press must last ", figure, " at least.")
    yield Sentence("least", output, trigger.name, words, (), 2)
    length = least - 1
    if length < 1:
        return
    seen = observe(setup, trigger, length, runs=runs)
    found, kind, rests_on = seen.pulses(output), kind_of(seen, output), seen.rest(output) == "on"
    press = Figure(length, "steps", ("length", length))
    if kind == "train":
        count = Figure(len(found), "count", ("pulses", output, length), word=True)
        gives = pieces(" gives ", count, f" pulses at {output}.")
        if rests_on:
            gives = pieces(f" turns {output} off ", count, " times.")
        says = pieces("a press of ", press, gives)
    elif kind == "one-shot":
        hold = Figure(hold_of(found) or 0, "steps", ("hold", output, length))
        holds = f" turns {output} off for " if rests_on else f" holds {output} for "
        says = pieces("a press of ", press, holds, hold, ".")
    else:
        what = {
            "none": "does nothing to",
            "latched": "turns off for good" if rests_on else "never ends at",
            "clock": "starts a clock at",
        }.get(kind)
        if what is None:
            return
        says = pieces("a press of ", press, f" {what} {output}.")
    yield Sentence("shorter", output, trigger.name, says, (), 2)


def _knobs(pressed: Pressed, output: str) -> Iterator[Sentence]:
    """What one tick more at a repeater does, as the chains of causes foretell it; said only if a run agrees."""
    starts, stops = pressed.leaves_and_returns(pressed.plan.outputs[output])
    ways = [[change.cell for change in pressed.chain(edge)] for edge in (starts[0], stops[-1])]
    told = 0
    for cell in dict.fromkeys(ways[1] + ways[0]):
        part = pressed.plan.cells.get(cell)
        if part is None or part.behaviour != "repeater" or told == MOST_KNOBS:
            continue
        more = 1 if part.delay < LONGEST_DELAY else -1
        per_tick = pressed.rules.repeater.steps_per_delay
        foretold = more * per_tick * (ways[1].count(cell) - ways[0].count(cell))
        changed = place(pressed.plan, cell, part._replace(delay=part.delay + more))
        if foretold == 0 or _hold_of(changed, pressed, output) != _hold_of(pressed.plan, pressed, output, foretold):
            continue
        told += 1
        by = Figure(abs(foretold), "steps", ("edit", cell, part._replace(delay=part.delay + more), output))
        way = "longer" if foretold > 0 else "shorter"
        tick = "one tick more" if more > 0 else "one tick less"
        says = pieces(f"{tick} at ", pressed.names.part(cell), " makes it ", by, f" {way}.")
        yield Sentence("knob", output, pressed.trigger.name, says, (), 1)


def _hold_of(plan: Plan, pressed: Pressed, output: str, more: int = 0) -> int | None:
    setup = Setup(plan, pressed.rules)
    seen = observe(setup, find_trigger(setup, pressed.trigger.name))
    hold = hold_of(seen.pulses(output)) if seen.decided else None
    return None if hold is None else hold + more
