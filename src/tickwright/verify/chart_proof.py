"""Proof of a chart: its claims, policies and machines held after every sequence of presses, over a graph of states.

A state is the circuit's and the monitor's together, so that nothing but what was explored is said.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

from tickwright.arguments import checked
from tickwright.charts.checking import judge_run, machines_for, play_chart
from tickwright.charts.notation import HandLine, Moment, ReadChart
from tickwright.charts.playing import NeverRests, Stage
from tickwright.charts.reading import Charts, charts_of
from tickwright.engine.order import check_order
from tickwright.engine.reference import Simulation
from tickwright.engine.running import rules_for
from tickwright.errors import UsageError
from tickwright.kinds import BUTTONS
from tickwright.memory import collection_paused
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.plan.validate import validate
from tickwright.rules import RuleSet
from tickwright.verify.chart_ends import never_coming
from tickwright.verify.chart_monitor import ChartMonitor, Memory, Seen
from tickwright.verify.claims import Claim
from tickwright.verify.proof import DEFAULT_STATES, MOST_WORK, check_numbers, chosen_triggers
from tickwright.verify.proving import PROGRESS_EVERY, SHOWN_AFTER, Progress, Proof, Question, stimuli_texts
from tickwright.verify.search import Move, Search
from tickwright.verify.ways import FastWays, ReferenceWays, Step, Ways, needs_reference

WORKING = ("press", "drop", "tread", "put")


@checked
def prove_chart(
    plan: Plan,
    name: str,
    hands: int | str = "any",
    grid_steps: int = 1,
    states: int = DEFAULT_STATES,
    triggers: Sequence[str] = (),
    rules: RuleSet | str | None = None,
    order: str = "canonical",
    progress: Progress = None,
) -> Proof:
    """Prove or refute that a chart is kept after every sequence of presses: spans, policies and machines.

    Presses that the chart says are ignored are no events of it; those that extend or restart move what is wanted. The
    arguments are those of `prove`. Raises UsageError for claims that no step can tell, PlanError as `charts_of`.

    >>> from tickwright.plan import loads
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", L = "lamp"}
    ... layer = [{rows = "#"}, {rows = "bL"}]
    ... triggers = {press = [0, 0, 1]}
    ... outputs = {lamp = [1, 0, 1]}
    ... chart = [{name = "a press", shows = ["lamp: on from press for 1.2 s"]}]''')
    >>> prove_chart(plan, "a press").verdict
    'proved'
    """
    ruleset = rules_for(plan, rules)
    validate(plan, ruleset)
    check_order(order)
    check_numbers(hands, grid_steps, states)
    pressed = chosen_triggers(Setup(plan, ruleset), triggers)
    read = charts_of(plan)
    chart = read.chart(name)
    try:
        stage = Stage(Setup(plan, ruleset, order))
    except NeverRests:
        raise UsageError(
            "The circuit never rests, and a chart is proved from rest: check it for a run instead."
        ) from None
    watch = {**plan.outputs, **plan.triggers}
    seen_plan = replace(plan, outputs=watch)
    held = {
        trigger: ruleset.button_steps(part.kind)
        for trigger, cell in plan.triggers.items()
        if (part := plan.cells.get(cell)) is not None and part.kind in BUTTONS
    }
    rests_on = {output: value > 0 for output, value in zip(plan.outputs, stage.before, strict=True)}
    machines = machines_for(read, chart)
    monitor = ChartMonitor(chart, machines, tuple(plan.outputs), tuple(plan.triggers), rests_on, held)
    text = f'the chart "{chart.name}" is kept after every sequence of presses'
    claim = Claim("chart", text, left_out=monitor.left_out)
    most = None if hands == "any" else int(hands)
    first = stage.zero_step
    question = Question(
        claim, tuple(watch), tuple(pressed), most, grid_steps, ruleset.name, order, first, True, also=TICK_TEXT
    )
    turned = monitor.wrong_way()
    if turned is not None:
        return question.proof("refuted", turned, 0, 0, (), first + SHOWN_AFTER)
    setup = Setup(seen_plan, ruleset, order)
    sim = Simulation(setup, watch)
    sim.advance(first)
    sim.now = first - 1
    few = states if needs_reference(plan, pressed) else min(states, -(-MOST_WORK // len(plan.cells)))
    proof = _ChartProver(question, monitor, ReferenceWays(sim, pressed), few).prove(progress)
    if few != states and proof.verdict == "undecided" and proof.states >= few:
        with collection_paused():
            ways = FastWays(setup, pressed, most, first)
            proof = _ChartProver(question, monitor, ways, states).prove(progress)
    if proof.verdict == "refuted" and machines and _kept_in_some_order(stage, read, chart, proof.counterexample):
        close = "in this order of close acts, but another one keeps all claims, which this proof does not look at"
        return replace(
            proof, verdict="undecided", detail=f"{proof.detail} {close}", counterexample=(), replay_steps=None
        )
    return proof


def _kept_in_some_order(stage: Stage, read: Charts, chart: ReadChart, stimuli: Sequence[str]) -> bool:
    """Whether the claims are kept in a run of these acts, as `check` judges it, over all orders of close acts.

    A proof lets two close acts change places, `check` any number of them.
    """
    if not stimuli or any(claim.is_policy for claim in chart.claims):
        return False
    hand = []
    for text in stimuli:
        step, who, *act = text.split(":")
        hand.append(HandLine(Moment(int(step) - stage.zero_step), who, act[0] if act else None, text))
    asked = replace(chart, hand=tuple(hand), watch_steps=None)
    try:
        verdicts = judge_run(stage, read, asked, play_chart(stage, read, asked))
    except NeverRests:
        return False
    return all(verdict.passed for verdict in verdicts)


TICK_TEXT = "let go a tick before it is worked again"


class _ChartProver:
    """One search of the states of circuit and monitor together."""

    def __init__(self, question: Question, monitor: ChartMonitor, ways: Ways, limit: int) -> None:
        self.question, self.monitor, self.ways = question, monitor, ways
        self.names = {trigger.cell: trigger.name for trigger in question.triggers}
        start = (ways.start.state, monitor.start(ways.start.levels), 0)
        self.search: Search[Any] = Search([Move(start, ways.start.payload)], self._expand, limit)

    def _expand(self, key: Any, payload: Any) -> Iterator[Move[Any]]:
        _, memory, phase = key
        most = 0
        if phase == 0:
            spent = self.search.cost[self.search.index[key]][0]
            most = len(self.question.triggers) if self.question.hands is None else self.question.hands - spent
        phase = (phase + 1) % self.question.grid
        for step in self.ways.onward(payload, most):
            seen = self._seen(step)
            if not self.monitor.allowed(memory, seen.worked):
                continue
            after = self.monitor.step(memory, seen)
            yield Move((step.state, after, phase), step.payload, step.stimuli, len(step.stimuli))

    def _seen(self, step: Step) -> Seen:
        worked, released = [], []
        outputs = len(self.monitor.outputs)
        for stimulus in step.stimuli:
            name = self.names[stimulus.cell]
            on = step.levels[outputs + self.monitor.triggers.index(name)] > 0
            if stimulus.verb in WORKING or (stimulus.verb == "flip" and on):
                worked.append(name)
            else:
                released.append(name)
        return Seen(tuple(worked), tuple(released), step.levels)

    def prove(self, progress: Progress) -> Proof:
        """Search until all is known, a claim breaks, the limit is reached or `progress` stops it."""
        search, stopped, deep = self.search, False, 0
        for state in search:
            memory = search.keys[state][1]
            deep = search.cost[state][0]
            if not isinstance(memory, Memory):
                stimuli = stimuli_texts(self.question, search.acts_to(state))
                replay = self.question.first + search.cost[state][1] + SHOWN_AFTER
                return self.question.proof("refuted", memory, search.expanded, search.edges, stimuli, replay)
            if progress is not None and search.expanded % PROGRESS_EVERY == 0:
                stopped = progress(search.expanded, len(search.keys))
                if stopped:
                    break
        if search.finished:
            return self._finished()
        why = "stopped by hand" if stopped else f"the limit of {search.limit:,} states was reached"
        seen = f"no state found so far breaks the chart; {len(search.keys):,} states seen, up to {deep} presses"
        return self.question.proof("undecided", f"{why}: {seen}", search.expanded, search.edges)

    def _finished(self) -> Proof:
        """The answer once every state is known: proved, unless a claim waits for a moment that never comes."""
        search, question = self.search, self.question
        pressed = {trigger.name for trigger in question.triggers}
        left_out = question.claim.left_out
        few = question.hands is not None or question.grid > 1  # more presses, or others, might bring the moment
        for vain in never_coming(self.monitor, search):
            event = vain.event
            if event is not None and event.kind == "trigger" and (event.name not in pressed or few):
                left_out += (f"{vain.text} with these presses",)
            elif few:
                detail = f"with so few presses a claim waits in vain: {vain.text}; no other claim was broken"
                return question.proof("undecided", detail, search.expanded, search.edges)
            else:
                stimuli = stimuli_texts(question, search.acts_to(vain.state))
                replay = question.first + search.cost[vain.state][1] + SHOWN_AFTER
                return question.proof("refuted", vain.text, search.expanded, search.edges, stimuli, replay)
        asked = replace(question, claim=replace(question.claim, left_out=left_out))
        return asked.proved(search.expanded, search.edges, None)
