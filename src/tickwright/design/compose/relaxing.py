"""What to write instead of what cannot be had: changes tried one by one, the least first, until there is a network."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

from tickwright.charts.notation import Claim, Names, While, condition_atoms, names_in
from tickwright.charts.parsing import NotationError, parse_claim, parse_transition
from tickwright.design.compose.brief import Brief
from tickwright.design.compose.events import DEAF_STEPS, condition_text
from tickwright.design.compose.moments import steps_text
from tickwright.design.compose.planning import network_of
from tickwright.design.compose.refusing import Refusal, Relaxation
from tickwright.durations import parse_duration
from tickwright.plan.model import Machine

MOST_CHANGED = 12  # claims changed until a brief can be had, or is given up
MOST_TRIED = 300  # changes tried in all
BY_STEPS = (1, 2, 4, 6, 8, 10, 12, 16, 20, 24, 30, 40, 50, 60, 80, 100, 140, 200, 300, 500)
LENGTHS = (20, 40, 100, 200)  # steps tried in place of an end that cannot be had
BEGINS, PULSES = "1 s", 3  # tried in place of a beginning, and of a number of pulses, that cannot be had
DURATION = re.compile(r"\b\d+(?:\.\d+)? (?:steps?|ticks?|s|min)\b")
ORDINAL = re.compile(r"\b(?:every )?\d+(?:st|nd|rd|th) ")


def relaxed(brief: Brief, refusal: Refusal) -> tuple[Relaxation, ...]:
    """What to write instead, so that the brief gets as far as a network; nothing where all that was tried fails."""
    return _Trials().tried(brief, refusal, MOST_CHANGED)


class _Trials:
    def __init__(self) -> None:
        self.left = MOST_TRIED

    def tried(self, brief: Brief, refusal: Refusal, most: int) -> tuple[Relaxation, ...]:
        """Changes that do together; a refusal's own first."""
        own = len(refusal.relax)
        for place, one in enumerate((*refusal.relax, *candidates(brief, refusal))):
            if self.left <= 0:
                return ()
            changed = with_change(brief, one)
            if changed is None:
                continue
            self.left -= 1
            try:
                network_of(changed)
            except Refusal as further:
                if place >= own and further.claim in (one.instead, refusal.claim):
                    continue
                if most and (more := self.tried(changed, further, most - 1)):
                    return _both(one, more)
                continue
            return (one,)
        return ()


def _both(one: Relaxation, more: tuple[Relaxation, ...]) -> tuple[Relaxation, ...]:
    """A change and those after it; one of the same claim, changed again, is one change."""
    again = next((later for later in more if later.claim == one.instead), None)
    if again is None:
        return (one, *more)
    whole = Relaxation(one.claim, again.instead, one.amount_steps + again.amount_steps)
    return (whole, *(later for later in more if later is not again))


def with_change(brief: Brief, one: Relaxation) -> Brief | None:
    """The brief with a claim, a transition or the deaf time of a machine in other words; None if they say nothing."""
    known = Names.of(brief.inputs, brief.outputs, brief.machines)
    try:
        claims = tuple(parse_claim(one.instead, known) if it.text == one.claim else it for it in brief.claims)
        automata, machines = list(brief.automata), list(brief.machines)
        for place, machine in enumerate(machines):
            if deaf_text(machine) == one.claim:
                machines[place] = replace(machine, deaf_steps=DEAF_STEPS)
                automata[place] = replace(automata[place], deaf_steps=DEAF_STEPS)
            if one.claim in machine.transitions:
                lines = tuple(one.instead if line == one.claim else line for line in machine.transitions)
                moves = tuple(parse_transition(line, known, machine.states) for line in lines)
                machines[place] = replace(machine, transitions=lines)
                automata[place] = replace(automata[place], transitions=moves)
    except NotationError:
        return None
    return replace(brief, claims=claims, machines=tuple(machines), automata=tuple(automata))


def deaf_text(machine: Machine) -> str:
    """How long a machine is deaf, as its table says it; empty if it does not."""
    return "" if machine.deaf_steps is None else f'{machine.name}: deaf = "{steps_text(machine.deaf_steps)}"'


def candidates(brief: Brief, refusal: Refusal) -> Iterator[Relaxation]:
    """Changes that may do, the least first."""
    claim = next((one for one in brief.claims if one.text == refusal.claim), None)
    lines = [refusal.claim]
    if claim is not None:
        for machine in brief.machines:
            if machine.name in names_in(claim):
                lines += machine.transitions
                if (deaf := deaf_text(machine)) and machine.deaf_steps is not None:
                    instead = f'{machine.name}: deaf = "{steps_text(DEAF_STEPS)}"'
                    yield Relaxation(deaf, instead, abs(machine.deaf_steps - DEAF_STEPS))
    yield from _other_times(lines)
    for line in lines:
        for instead in _other_words(line):
            yield Relaxation(line, instead, 0)
    if claim is not None:
        for instead in _other_claims(brief, claim):
            yield Relaxation(claim.text, instead, 0)
    yield from _fewer_ways(brief, lines)


def _other_times(lines: list[str]) -> Iterator[Relaxation]:
    """Each duration longer or shorter."""
    for by in BY_STEPS:
        for line in lines:
            for found in DURATION.finditer(line):
                steps = parse_duration(found[0])
                for changed in (steps + by, steps - by):
                    if changed > 0:
                        instead = line[: found.start()] + steps_text(changed) + line[found.end() :]
                        yield Relaxation(line, instead, by)


def _other_words(line: str) -> Iterator[str]:
    """Without an ordinal, without a condition, with another policy, with a length for an end."""
    if ORDINAL.search(line):
        yield ORDINAL.sub("", line, count=1)
    if " if " in line:
        yield re.sub(r" if .*?(?= for | until | ->|[,;]|$)", "", line, count=1)
    for word in ("restarts", "extends"):
        if f"{word} until" in line:
            yield line.replace(f"{word} until", "ignored until", 1)
    if " from " in line and " until " in line:
        for steps in LENGTHS:
            yield re.sub(r" until [^,;]*", f" for {steps_text(steps)}", line, count=1)


def _other_claims(brief: Brief, claim: Claim) -> Iterator[str]:
    """What an output follows made simpler; what nothing can be made of in the words of another claim of the output."""
    for clause in claim.clauses:
        if isinstance(clause, While):
            late = f", late by {steps_text(clause.late_steps)}" if clause.late_steps else ""
            for atom in condition_atoms(clause.condition):
                yield f"{claim.name}: on while {condition_text(atom)}{late}"
    if not claim.is_policy:
        yield re.sub(r"[;,] level at (?:least|most) \d+", "", claim.text)
        yield re.sub(r"\bpulses of (.*?) until [^,;]*", rf"{PULSES} pulses of \1", claim.text, count=1)
        for trigger in brief.inputs:
            begun = re.sub(r" from .*?(?= for | until |[,;]|$)", f" from {trigger} + {BEGINS}", claim.text, count=1)
            yield begun
            yield re.sub(r" until [^,;]*", f" for {BEGINS}", begun, count=1)
    yield from (one.text for one in brief.claims if one.name == claim.name and one.text != claim.text)


def _fewer_ways(brief: Brief, lines: list[str]) -> Iterator[Relaxation]:
    """A transition that leads where another one leads."""
    for automaton in brief.automata:
        for move in automaton.transitions:
            for to in dict.fromkeys(one.to for one in automaton.transitions):
                if move.text in lines and to != move.to and to not in move.states:
                    yield Relaxation(move.text, f"{move.text.rpartition('->')[0]}-> {to}", 0)
