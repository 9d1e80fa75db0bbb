"""Netlists made at random, read and worked against an evaluator written here, row by row; a few are placed and played.

The evaluator keeps the netlist as it was made up, not as it was read: it shares nothing with the reader.
"""

from __future__ import annotations

from random import Random

import pytest

from tickwright.engine import run
from tickwright.layout.judging import Stepper
from tickwright.layout.laying import lay
from tickwright.layout.placed import finish, wanted
from tickwright.netlist import map_network, parse_blif, plan_names
from tickwright.plan import dumps, loads
from tickwright.rules import load_rules


class Made:
    """A netlist made up: covers in an order in which each hears those before it, latches, and the BLIF of it all."""

    def __init__(self, seed: int) -> None:
        random = Random(seed)
        self.inputs = [f"i{k}" for k in range(random.randint(2, 6))]
        held = [f"q{k}" for k in range(random.choice((0, 0, 1, 2, 3)))]
        known = [*self.inputs, *held]
        self.covers = []
        for number in range(random.randint(3, 15)):
            heard = random.sample(known, min(random.choice((0, 1, 1, 2, 2, 2, 2, 3, 3)) if number else 2, len(known)))
            count = random.randint(1, 3) if heard else random.randint(0, 1)
            rows = ["".join(random.choice("01-") for _ in heard) for _ in range(count)]
            name = f"{random.choice(('g', 'n$', 'w.'))}{number}"
            self.covers.append((name, heard, rows, random.choice("1110")))
            known.append(name)
        names = [cover[0] for cover in self.covers]
        self.outputs = [*random.sample(names, random.randint(1, min(4, len(names)))), *held[:1]]
        if random.random() < 0.2:
            self.outputs.append(self.inputs[0])
        clock = random.choice(self.inputs)
        kinds = ("re", "re", "fe", "al")
        self.latches = [(random.choice(known), name, random.choice(kinds), clock) for name in held]
        lines = [".model made", ".inputs " + " ".join(self.inputs), ".outputs " + " ".join(self.outputs)]
        lines += [" ".join((".latch", *latch, random.choice("023"))) for latch in self.latches]
        for name, heard, rows, value in random.sample(self.covers, len(self.covers)):
            lines += [" ".join((".names", *heard, name)), *(f"{row} {value}".strip() for row in rows)]
        self.text = "\n".join([*lines, ".end"])

    def values(self, given: dict[str, int]) -> dict[str, int]:
        """Every signal, row by row; a cover without rows is 0."""
        on = dict(given)
        for name, heard, rows, value in self.covers:
            hit = any(all(c in ("-", str(on[one])) for c, one in zip(row, heard, strict=True)) for row in rows)
            on[name] = int(hit == (value == "1")) if rows else 0
        return on

    def after(self, given: dict[str, int], before: dict[str, int]) -> dict[str, int]:
        """Every signal once all rests after a change of inputs."""
        held = {name: before[name] for _, name, _, _ in self.latches}
        for _ in range(20):
            now = self.values({**given, **held})
            following = {}
            for data, name, kind, clock in self.latches:
                edge = (before[clock], now[clock]) == ((0, 1) if kind == "re" else (1, 0))
                taken = now[data] if kind == "al" and not now[clock] else before[data] if edge else now[name]
                following[name] = taken if kind == "al" or edge else now[name]
            if following == held and now == before:
                return now
            before, held = now, following
        raise AssertionError("it never rests")

    def start(self) -> dict[str, int]:
        given = dict.fromkeys([*self.inputs, *(latch[1] for latch in self.latches)], 0)
        return self.after(dict.fromkeys(self.inputs, 0), self.values(given))


@pytest.mark.parametrize("seed", range(60))
def test_what_is_read_does_what_was_made_up(seed):
    made = Made(seed)
    network = parse_blif(made.text)
    stepper = Stepper(network)
    state, random = stepper.start(), Random(seed)
    wanted_now = made.start()
    given = dict.fromkeys(made.inputs, 0)
    for _ in range(40):
        values = stepper.values(state)
        assert {name: values[name] for name in made.outputs} == {name: wanted_now[name] for name in made.outputs}
        name = random.choice(made.inputs)
        given[name] ^= 1
        state = stepper.flipped(state, network.inputs.index(name))
        wanted_now = made.after(given, wanted_now)


@pytest.mark.parametrize("seed", [2, 4, 10])
def test_what_is_laid_of_tiles_does_what_was_made_up(seed):
    made = Made(seed)
    network = parse_blif(made.text)
    names = plan_names([*network.inputs, *network.outputs, *network.covers, *(one.output for one in network.latches)])
    asked = wanted(network, map_network(network))
    layout = lay(asked.instances, asked.nets, seed=1)
    placed = finish(network, asked, layout, names, False, (load_rules(),), 1, 0.0)
    assert placed.placed, placed.reasons
    plan = loads(dumps(placed.plan))
    wait, random = (placed.judgement.settle_steps or 400) + 3, Random(seed)
    acts, step = [], 60 + wait
    given, now = dict.fromkeys(made.inputs, 0), made.start()
    wants = [(step - 1, now)]
    for _ in range(40):
        name = random.choice(made.inputs)
        acts.append(f"{step}:{names[name]}")
        given[name] ^= 1
        now = made.after(given, now)
        step += wait
        wants.append((step - 1, now))
    trace = run(plan, acts, step + 1).trace
    for at, values in wants:
        for name in made.outputs:
            shown = [value for when, value in trace.changes[names[name]] if when <= at][-1]
            assert (shown > 0) == bool(values[name]), (name, at)
