"""Random briefs, and what a plan composed from one must show: read off the tables that the brief was written from.

Nothing of the package is used here: neither its notation nor its solver.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from random import Random

HELD = {"short-button": 20, "long-button": 30}
QUIET = 60  # steps after which the next act of a hand comes at the latest, when all is over
Edge = tuple[int, bool]


@dataclass
class Shows:
    """An output away from rest: from `start` steps after `trigger` for `length`, `count` times every `every` steps.

    With `until` it ends `start_of_end` steps after that trigger instead. `rests_on`: it is off then, and else on.
    """

    name: str
    drives: str
    trigger: str = ""
    start: int = 0
    length: int = 0
    count: int = 1
    every: int = 0
    until: str = ""
    rests_on: bool = False
    states: tuple[str, ...] = ()  # of the machine, in which it is on
    late: int = 0


@dataclass
class Machine:
    """States, and transitions as (state, event, to): an event is a trigger's name, or a number of steps."""

    states: tuple[str, ...]
    transitions: list[tuple[str, str | int, str]]


@dataclass
class Table:
    """A brief as tables."""

    part: str
    triggers: list[str]
    outputs: list[Shows]
    ignored: dict[str, str] = field(default_factory=dict)  # trigger -> the output at whose end it listens again
    machine: Machine | None = None

    def text(self) -> str:
        """The brief."""
        shows = [_claim(one) for one in self.outputs]
        for trigger, output in self.ignored.items():
            one = next(shown for shown in self.outputs if shown.name == output)
            shows.append(f"{trigger}: ignored until {output} {'on' if one.rests_on else 'off'}")
        lines = ['format = "tickwright brief 1"', 'rules = ["standard", "older-wire"]', "[inputs]"]
        lines += [f'{name} = {{part = "{self.part}"}}' for name in self.triggers]
        lines += ["[outputs]", *(f'{one.name} = {{drives = "{one.drives}"}}' for one in self.outputs)]
        if self.machine:
            texts = [
                f"{state}: {f'after {event // 2} ticks' if isinstance(event, int) else event} -> {to}"
                for state, event, to in self.machine.transitions
            ]
            lines += ["[[machine]]", 'name = "m"', f"states = {json.dumps(self.machine.states)}"]
            lines += [f"transitions = {json.dumps(texts)}"]
        return "\n".join([*lines, "[[chart]]", f"shows = {json.dumps(shows)}", ""])

    def hand(self, random: Random, acts: int, deaf: int) -> list[tuple[int, str]]:
        """Presses, none of which comes where the tables leave open whether it counts."""
        found: list[tuple[int, str]] = []
        step = 0
        over = {one: self._over(one) for one in self.triggers}
        last: dict[str, int] = {}
        for _ in range(acts):
            name = random.choice(self.triggers)
            soonest = max(step + random.choice((5, 9, 30, 47, 80, 133)), last.get(name, -999) + HELD[self.part] + 2)
            if self.machine is None and name in last:
                soonest = max(soonest, last[name] + over[name] + QUIET) if name not in self.ignored else soonest
            while self.machine is not None and self._just_before(found, soonest, deaf):
                soonest += 1
            found.append((soonest, name))
            last[name] = step = soonest
        return found

    def _over(self, trigger: str) -> int:
        ends = [one.start + one.length + one.every * (one.count - 1) for one in self.outputs
                if trigger in (one.trigger, one.until)]  # fmt: skip
        return max(ends, default=0)

    def _just_before(self, acts: list[tuple[int, str]], step: int, deaf: int) -> bool:
        """Whether the step is the one before the machine listens again, or one in which it moves by itself."""
        moves = [at for at, _ in self.moves(acts, step + 1, deaf)]
        return any(step - at == deaf - 1 or step == at for at in moves)

    def moves(self, acts: list[tuple[int, str]], steps: int, deaf: int) -> list[tuple[int, str]]:
        """When the machine enters which state, step by step."""
        assert self.machine is not None
        state, since = self.machine.states[0], None
        found: list[tuple[int, str]] = []
        by_step: dict[int, list[str]] = {}
        for step, name in acts:
            by_step.setdefault(step, []).append(name)
        for step in range(steps):
            here = by_step.get(step, [])
            lost = since is not None and 0 < step - since < deaf
            for before, event, to in self.machine.transitions:
                if before != state:
                    continue
                falls = since is not None and step - since == event if isinstance(event, int) else event in here
                if falls and (isinstance(event, int) or not lost):
                    found.append((step, to))
                    state, since = to, step
                    break
        return found

    def wanted(self, acts: list[tuple[int, str]], steps: int, deaf: int) -> dict[str, list[bool]]:
        """Of each output whether it is on in each step."""
        if self.machine is not None:
            return self._following(acts, steps, deaf)
        taken: list[tuple[int, str]] = []
        free: dict[str, int] = {}
        for step, name in acts:
            if step < free.get(name, 0):
                continue
            taken.append((step, name))
            if name in self.ignored:
                one = next(shown for shown in self.outputs if shown.name == self.ignored[name])
                free[name] = step + one.start + one.length + one.every * (one.count - 1)
        found = {}
        for one in self.outputs:
            away = [False] * steps
            for step, name in taken:
                if name != one.trigger:
                    continue
                for number in range(one.count):
                    begin = step + one.start + number * one.every
                    end = begin + one.length
                    if one.until:
                        ends = [at + one.length for at, who in taken if who == one.until]
                        end = min((at for at in ends if at > begin), default=steps)
                    for at in range(begin, min(end, steps)):
                        away[at] = True
            found[one.name] = [one.rests_on != value for value in away]
        return found

    def _following(self, acts: list[tuple[int, str]], steps: int, deaf: int) -> dict[str, list[bool]]:
        assert self.machine is not None
        moves = self.moves(acts, steps, deaf)
        states, state, place = [], self.machine.states[0], 0
        for step in range(steps):
            while place < len(moves) and moves[place][0] <= step:
                state, place = moves[place][1], place + 1
            states.append(state)
        first = self.machine.states[0]
        return {
            one.name: [(states[step - one.late] if step >= one.late else first) in one.states for step in range(steps)]
            for one in self.outputs
        }


def _claim(one: Shows) -> str:
    def ticks(steps: int) -> str:
        return f"{steps // 2} ticks"

    if one.states:
        return f"{one.name}: on while {' or '.join(f'm is {state}' for state in one.states)}, late by {ticks(one.late)}"
    away = "off" if one.rests_on else "on"
    if one.until:
        begin = f"{one.trigger} + {ticks(one.start)}"
        return f"{one.name}: {away} from {begin} until {one.until} + {ticks(one.length)}"
    if one.count > 1:
        every = f"{one.count} pulses of {ticks(one.length)} every {ticks(one.every)}"
        return f"{one.name}: {every} from {one.trigger} + {ticks(one.start)}"
    return f"{one.name}: {away} from {one.trigger} + {ticks(one.start)} for {ticks(one.length)}"


def random_table(seed: int) -> Table:
    """A brief with 1 to 3 triggers and 1 to 4 outputs; every second follows a machine. The same for the same seed."""
    random = Random(seed)
    triggers = [f"t{place}" for place in range(random.randint(1, 3))]
    part = random.choice(("short-button", "long-button"))
    outputs = [
        Shows(f"o{place}", random.choice(("line", "lamp", "piston-door"))) for place in range(random.randint(1, 4))
    ]
    table = Table(part, triggers, outputs)
    if seed % 2:
        _machine(random, table)
        return table
    for one in outputs:
        _spans(random, table, one)
    for name in triggers:
        mine = [one for one in outputs if one.trigger == name and not one.until]
        if mine and random.random() < 0.7:
            table.ignored[name] = max(mine, key=lambda one: one.start + one.length + one.every * (one.count - 1)).name
    return table


def _spans(random: Random, table: Table, one: Shows) -> None:
    one.trigger, other = random.choice(table.triggers), random.choice(table.triggers)
    one.start, one.length = random.randint(3, 40) * 2, random.randint(5, 60) * 2
    kind = random.random()
    if kind < 0.15 and other != one.trigger:
        one.start, one.length, one.until = random.randint(10, 20) * 2, 20, other
    elif kind < 0.35 and one.drives != "piston-door":
        one.start, one.length, one.count, one.every = 20, 8, random.randint(2, 5), random.randint(12, 20) * 2
    elif kind < 0.45:
        one.rests_on = True


def _machine(random: Random, table: Table) -> None:
    """Every state but the first has a wait or an act out of it, and no more than two ways."""
    states = tuple(f"s{place}" for place in range(random.randint(2, 4)))
    transitions: list[tuple[str, str | int, str]] = []
    for place, state in enumerate(states):
        onward = states[(place + 1) % len(states)]
        if place and random.random() < 0.6:
            transitions.append((state, random.randint(15, 100) * 2, random.choice((states[0], onward))))
        if not any(before == state for before, _, _ in transitions) or random.random() < 0.4:
            transitions.append((state, random.choice(table.triggers), onward))
    table.machine = Machine(states, transitions)
    reached = {states[0]}
    for _ in states:
        reached |= {to for before, _, to in transitions if before in reached}
    for one in table.outputs:
        shown = [state for state in states[1:] if state in reached]
        one.states = tuple(sorted(random.sample(shown, random.randint(1, len(shown)))))
        one.late = {"line": 14, "lamp": 16, "piston-door": 14}[one.drives] + random.choice((0, 0, 4))
