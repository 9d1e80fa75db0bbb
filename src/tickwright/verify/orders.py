"""Order: whether a plan does the same in every telling order, turned and mirrored.

The order in which parts are told is a convention of the rules that no builder can choose: where a verdict depends on it
the circuit may behave differently when it is turned or moved, and a builder must be told.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from tickwright.arguments import checked
from tickwright.engine.running import rules_for
from tickwright.engine.trace import first_difference
from tickwright.measurement.measuring import hold_of, kind_of, scan_lengths
from tickwright.measurement.observe import Observation, Runs, observe
from tickwright.measurement.press import find_trigger, takes_length
from tickwright.measurement.pulses import Pulse
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.plan.validate import validate
from tickwright.rules import RuleSet
from tickwright.verify.copies import oriented

ORDERS = ("canonical", "reversed", *(str(seed) for seed in range(1, 9)))
ORIENTATIONS = tuple((turns, mirrored) for mirrored in (False, True) for turns in range(4))[1:]


class Answer(NamedTuple):
    """What must not depend on the order. `minimum_trigger_steps` is None too where it was not asked for."""

    kind: str
    delay_steps: int | None
    hold_steps: int | None
    pulses: tuple[Pulse, ...]
    minimum_trigger_steps: int | None = None


class Parting(NamedTuple):
    """A variant that answers a press differently, and the first step, from the press, at which the outputs part."""

    variant: str
    output: str
    step: int | None
    canonical_value: int | None
    value: int | None
    canonical_answer: Answer
    answer: Answer

    def as_data(self) -> dict[str, Any]:
        """The difference as JSON shows it."""
        data: dict[str, Any] = self._asdict()
        for key in ("canonical_answer", "answer"):
            data[key] = data[key]._asdict()
            data[key]["pulses"] = [list(pulse) for pulse in data[key]["pulses"]]
        return data


class OrderVerdict(NamedTuple):
    """For one trigger, the variants that were tried and those that answer differently from the canonical order."""

    trigger: str
    variants: tuple[str, ...]
    partings: tuple[Parting, ...]

    @property
    def sensitive(self) -> bool:
        """Whether any verdict depends on the order."""
        return bool(self.partings)

    def as_data(self) -> dict[str, Any]:
        """The verdict as JSON shows it."""
        return {
            "trigger": self.trigger,
            "sensitive": self.sensitive,
            "variants": list(self.variants),
            "differences": [parting.as_data() for parting in self.partings],
        }


@checked
def order_verdicts(
    plan: Plan,
    rules: RuleSet | str | None = None,
    trigger: str | None = None,
    minimum_trigger: bool = False,
    runs: Runs | None = None,
) -> list[OrderVerdict]:
    """Press each trigger (or the one named) in ten orders, and the plan turned and mirrored in seven more ways.

    Kind, delay, hold and pulses are compared; with `minimum_trigger` that too, which takes far longer. A variant with
    several outputs that differ is reported for each. `runs` as for `observe`, of the plan as it is.
    """
    shared = runs or Runs()
    ruleset = rules_for(plan, rules)
    validate(plan, ruleset)
    variants = [(order_text(order), plan, order, shared) for order in ORDERS]
    variants += [(turn_text(*how), oriented(plan, *how), "canonical", Runs()) for how in ORIENTATIONS]
    names = [trigger] if trigger is not None else list(plan.triggers)
    return [_verdict(Setup(plan, ruleset), name, variants, minimum_trigger) for name in names]


def _verdict(setup: Setup, name: str, variants: list[tuple[str, Plan, str, Runs]], minimum: bool) -> OrderVerdict:
    partings: list[Parting] = []
    first: Observation | None = None
    answers: dict[str, Answer] = {}
    for text, laid, order, runs in variants:
        variant = Setup(laid, setup.rules, order)
        place = find_trigger(variant, name)
        seen = observe(variant, place, runs=runs)
        lengths = minimum and takes_length(place)
        scan = scan_lengths(variant, place, list(setup.plan.outputs), runs) if lengths else {}
        now = {output: _answer(seen, output, scan.get(output, (None, None))[0]) for output in setup.plan.outputs}
        if first is None:
            first, answers = seen, now
            continue
        partings += [
            _parting(text, output, first, seen, answers[output], now[output])
            for output in setup.plan.outputs
            if not _alike(answers[output], now[output])
        ]
    return OrderVerdict(name, tuple(text for text, *_ in variants), tuple(partings))


def _answer(seen: Observation, output: str, minimum: int | None) -> Answer:
    kind, found = kind_of(seen, output), seen.pulses(output)
    ends = kind in ("one-shot", "train", "none")
    return Answer(kind, found[0].start if found else None, hold_of(found) if ends else None, tuple(found), minimum)


def _alike(one: Answer, other: Answer) -> bool:
    """Whether two answers are the same; of what never ends only pulses are compared that both runs saw to their end."""
    if one.kind in ("clock", "undecided") and one.kind == other.kind:
        seen = max(min(len(one.pulses), len(other.pulses)) - 1, 0)
        one, other = (answer._replace(pulses=answer.pulses[:seen]) for answer in (one, other))
    return one == other


def _parting(text: str, output: str, first: Observation, seen: Observation, answer: Answer, other: Answer) -> Parting:
    ends = (first.seen_steps, seen.seen_steps)
    at_rest = first.rest_steps is not None and seen.rest_steps is not None
    steps = (max(ends) if at_rest else min(ends)) + 1
    traces = [one.trace(steps) for one in (first, seen)]
    alone = [type(trace)(steps, {output: trace.changes[output]}) for trace in traces]
    found = first_difference(*alone)
    step, value_a, value_b = (found.step, found.value_a, found.value_b) if found else (None, None, None)
    return Parting(text, output, step, value_a, value_b, *(a._replace(pulses=a.pulses[:20]) for a in (answer, other)))


def order_text(order: str) -> str:
    """What a variant of that order is called."""
    return f"shuffle {order}" if order.isdigit() else order


def turn_text(turns: int, mirrored: bool) -> str:
    """What a variant turned and mirrored so is called."""
    words = ["mirrored"] if mirrored else []
    words += [f"turned by {90 * turns} degrees"] if turns else []
    return ", ".join(words)
