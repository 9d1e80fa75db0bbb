"""Proof: hold a claim against everything a hand can do to the triggers, by a search of all states that it reaches."""

from __future__ import annotations

from collections.abc import Callable, Sequence, Set

from tickwright.arguments import checked
from tickwright.engine.interface import is_installed
from tickwright.engine.order import check_order
from tickwright.engine.reference import Simulation
from tickwright.engine.running import rules_for
from tickwright.errors import UsageError, near
from tickwright.measurement.observe import settle
from tickwright.measurement.press import Trigger, find_trigger
from tickwright.memory import collection_paused
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.plan.validate import validate
from tickwright.rules import RuleSet
from tickwright.verify.claims import CLAIMS, Claim, expected, holds, never_sticks, settles
from tickwright.verify.product_proof import ProductProver
from tickwright.verify.proving import Proof, Prover, Question, prove_whole
from tickwright.verify.ways import FastWays, ReferenceWays, needs_reference

DEFAULT_STATES = 100_000
MOST_STATES = 10**9
MOST_TRIGGERS = 4
MOST_WORK = 50_000  # states times cells, about half a second; a longer search is begun anew with the fast engine


@checked
def prove(
    plan: Plan,
    claim: str,
    output: str | None = None,
    within_steps: int | None = None,
    at_least_steps: int | None = None,
    at_most_steps: int | None = None,
    hands: int | str = "any",
    grid_steps: int = 1,
    states: int = DEFAULT_STATES,
    triggers: Sequence[str] = (),
    rules: RuleSet | str | None = None,
    order: str = "canonical",
    progress: Callable[[int, int], bool] | None = None,
) -> Proof:
    """Prove or refute a claim for everything a hand can do: any press of any trigger (or those named) at any step.

    `claim` is "settles", "never-sticks", "holds" or "expectations", about `output` (the first if not given), with the
    limits in steps from the press. `hands` is "any" or the most presses; they fall on every `grid_steps`-th step, each
    trigger at most once a step, one after the other. At most `states` states are explored. `progress(states, seen)` is
    called now and then; if it returns true the search stops, undecided. Raises UsageError for what cannot be meant.

    >>> from tickwright.plan import loads
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", L = "lamp"}
    ... layer = [{rows = "#"}, {rows = "bL"}]
    ... triggers = {press = [0, 0, 1]}
    ... outputs = {lamp = [1, 0, 1]}''')
    >>> proof = prove(plan, "settles")
    >>> proof.verdict, proof.states, proof.worst_steps
    ('proved', 35, 24)
    """
    ruleset = rules_for(plan, rules)
    validate(plan, ruleset)
    check_order(order)
    check_numbers(hands, grid_steps, states)
    setup = Setup(plan, ruleset, order)
    pressed = chosen_triggers(setup, triggers)
    sim = Simulation(setup, plan.outputs)
    first, settled = settle(sim)
    sim.now = first - 1
    rests_on = {name for name, level in zip(plan.outputs, sim.shown(), strict=True) if settled and level}
    limits = (within_steps, at_least_steps, at_most_steps)
    wanted = _claim(Setup(plan, ruleset), claim, output, limits, rests_on)
    most = None if hands == "any" else int(hands)
    place = (tuple(plan.outputs), tuple(pressed), most, grid_steps, ruleset.name, order, first, settled)
    question = Question(wanted, *place)
    alone = needs_reference(plan, pressed) or not is_installed("fast")
    few = states if alone else min(states, -(-MOST_WORK // len(plan.cells)))
    proof = Prover(question, ReferenceWays(sim, pressed), few).prove(progress)
    if few == states or proof.verdict != "undecided" or proof.states < few:
        return proof
    with collection_paused():
        ways = FastWays(setup, pressed, most, first)
        whole = not (wanted.limits or wanted.of_absence) and most is None and grid_steps == 1
        found = prove_whole(question, ways, states, progress) if whole else None
        prover = Prover if any(one.rests_on for one in wanted.limits) else ProductProver
        return found or prover(question, ways, states).prove(progress)


def check_numbers(hands: int | str, grid_steps: int, states: int) -> None:
    """Refuse numbers that no proof can be made with."""
    if isinstance(hands, str) and hands != "any" and not (hands.isascii() and hands.isdigit()):
        raise UsageError(f'The hand cannot press "{hands}" times: use any, or a whole number of presses.')
    if hands != "any" and not 0 <= int(hands) <= 1000:
        raise UsageError(f"The hand cannot press {hands} times: use any, or 0 to 1000.")
    if not 1 <= grid_steps <= 10_000:
        raise UsageError(f"A grid of {grid_steps} steps cannot be used: use 1 to 10,000 steps.")
    if not 1 <= states <= MOST_STATES:
        raise UsageError(f"{states} states cannot be explored: use 1 to {MOST_STATES:,}.")


def chosen_triggers(setup: Setup, names: Sequence[str]) -> list[Trigger]:
    """The triggers that the hand works: those named, else all; a UsageError for none or too many."""
    if not setup.plan.triggers:
        raise UsageError("The plan names no trigger: add one under [triggers], such as press = [x, y, z].")
    chosen = [find_trigger(setup, name) for name in dict.fromkeys(names or setup.plan.triggers)]
    if len(chosen) > MOST_TRIGGERS:
        raise UsageError(
            f"The hand would have {len(chosen)} triggers to press; at most {MOST_TRIGGERS} can be proved for: "
            "name those that matter with --trigger."
        )
    return chosen


def _claim(
    setup: Setup,
    name: str,
    output: str | None,
    limits: tuple[int | None, int | None, int | None],
    rests_on: Set[str],
) -> Claim:
    plan = setup.plan
    if name not in CLAIMS:
        raise UsageError(f'There is no claim "{name}".{near(name, CLAIMS)}')
    within, at_least, at_most = limits
    if name != "holds" and (at_least is not None or at_most is not None):
        raise UsageError(f'--at-least and --at-most belong to the claim "holds", not to "{name}".')
    if output is not None and output not in plan.outputs:
        raise UsageError(f'The plan has no output "{output}".{near(output, plan.outputs)}')
    if name == "settles":
        return settles(within)
    if name == "expectations":
        if within is not None or output is not None:
            raise UsageError('The claim "expectations" takes its outputs and limits from the plan: leave them out.')
        return expected(setup)
    if not plan.outputs:
        raise UsageError("The plan names no output: add one under [outputs], such as lamp = [x, y, z].")
    chosen = output if output is not None else next(iter(plan.outputs))
    place = list(plan.outputs).index(chosen)
    if name == "never-sticks":
        return never_sticks(place, chosen, within, chosen in rests_on)
    return holds(place, chosen, *limits, chosen in rests_on)
