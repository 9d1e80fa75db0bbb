"""The evaluator against a plain interpreter written apart, over random runs and random claims.

Source: the two were written from the same page of the project, one step by step over arrays, one over spans.
"""

from __future__ import annotations

import os
import random

from charts import plain  # type: ignore[import-not-found]
from tickwright.charts import Timeline, Wave, judge, watched
from tickwright.charts.moments import EarlySpan
from tickwright.charts.notation import Automaton, Names
from tickwright.charts.parsing import parse_claim, parse_transition

PAIRS = int(os.environ.get("TICKWRIGHT_CHART_PAIRS", "600"))
OUTPUTS, TRIGGERS = ("a", "b", "c"), ("p", "q")
STATES = ("x", "y", "z")
NAMES = Names(TRIGGERS, OUTPUTS, {"m": STATES})


def random_run(rng: random.Random) -> plain.Line:
    """Three outputs and two triggers that go on and off now and then."""
    steps = rng.randint(5, 90)
    line = plain.Line(steps, {}, {}, {}, {}, {}, {})
    for name in (*OUTPUTS, *TRIGGERS):
        on = line.before[name] = rng.random() < 0.15
        if name in OUTPUTS:
            line.rest[name] = on
        values, levels = [], []
        level = rng.randint(1, 15)
        for _ in range(steps):
            if rng.random() < 0.08:
                on = not on
                level = rng.randint(1, 15)
            elif rng.random() < 0.05:
                level = rng.randint(1, 15)
            values.append(on)
            levels.append(level if on else 0)
        line.on[name], line.level[name] = values, levels
    for name in TRIGGERS:
        before = [line.before[name], *line.on[name][:-1]]
        pairs = list(zip(before, line.on[name], strict=True))
        line.worked[name] = [on and not was for was, on in pairs]
        line.released[name] = [was and not on for was, on in pairs]
    return line


def random_condition(rng: random.Random, depth: int = 0) -> tuple:
    sort = rng.random()
    if depth < 2 and sort < 0.15:
        return ("not", random_condition(rng, depth + 1))
    if depth < 2 and sort < 0.35:
        return (rng.choice(["and", "or"]), random_condition(rng, depth + 1), random_condition(rng, depth + 1))
    if sort < 0.5:
        return ("is", "m", rng.choice(STATES))
    return ("on", rng.choice([*OUTPUTS, *TRIGGERS]), rng.random() < 0.5)


def random_event(rng: random.Random, machine: bool = True) -> tuple:
    sort = rng.random()
    if machine and sort < 0.2:
        return ("m", rng.choice(["enters", "leaves"]), rng.choice(STATES))
    if sort < 0.6:
        return (rng.choice(OUTPUTS), rng.choice(["on", "off"]))
    return (rng.choice(TRIGGERS), rng.choice(["worked", "worked", "released"]))


def random_moment(rng: random.Random) -> dict:
    if rng.random() < 0.1:
        return {"steps": rng.randint(0, 40)}
    moment: dict = {"steps": rng.choice([0, 0, 1, 3, 8, -1]), "event": random_event(rng)}
    if rng.random() < 0.3:
        moment[rng.choice(["nth", "every"])] = rng.randint(1, 3)
    if rng.random() < 0.2:
        moment["if"] = random_condition(rng)
    return moment


def random_machine(rng: random.Random) -> dict:
    transitions = []
    for _ in range(rng.randint(1, 6)):
        one: dict = {"from": tuple(rng.sample(STATES, rng.randint(0, 2))), "to": rng.choice(STATES)}
        if rng.random() < 0.3:
            one["after"] = rng.randint(1, 12)
        else:
            one["event"] = random_event(rng, machine=False)
        if rng.random() < 0.3:
            one["if"] = random_condition(rng)
        transitions.append(one)
    return {"states": STATES, "transitions": transitions, "deaf": rng.choice([0, 0, 5])}


def moment_at(rng: random.Random, line: plain.Line, step: int) -> dict:
    """A moment that comes at this step, once, if one can be found."""
    for _ in range(6):
        event = random_event(rng)
        happened = [at for _, at in plain.times(line, {"steps": 0, "event": event})]
        if happened:
            index = rng.randrange(len(happened))
            return {"steps": step - happened[index], "event": event, "nth": index + 1}
    return {"steps": step}


def fitted_claim(rng: random.Random, line: plain.Line, output: str) -> dict:
    """A claim made from what the run shows, often a little wrong."""
    rest = line.rest[output]
    away = "off" if rest else "on"
    clauses = []
    on = line.on[output]
    for t in range(line.steps):
        was = on[t - 1] if t else line.before[output]
        if on[t] == rest or was != rest:
            continue
        end = next((u for u in range(t, line.steps) if on[u] == rest), None)
        wrong = rng.choice([0, 0, 0, 0, 0, 1, -1, 2])
        clause = {"sort": "span", "away": away, "from": moment_at(rng, line, max(0, t + wrong))}
        if end is not None:
            if rng.random() < 0.6:
                clause["for"] = max(1, end - t + rng.choice([0, 0, 0, 1]))
            else:
                clause["until"] = moment_at(rng, line, end)
        clauses.append(clause)
    if not clauses:
        return {"clauses": [{"sort": "never", "state": away}]}
    return {"clauses": clauses, "within": rng.choice([0, 0, 1, 2])}


def random_claim(rng: random.Random, line: plain.Line, output: str) -> dict:
    sort = rng.random()
    if sort < 0.45:
        return fitted_claim(rng, line, output)
    if sort < 0.5:
        return {"clauses": [{"sort": "never", "state": rng.choice(["on", "off"])}]}
    if sort < 0.58:
        return {"clauses": [{"sort": "level", "least": rng.random() < 0.5, "level": rng.randint(1, 15)}]}
    clauses: list[dict] = []
    for _ in range(rng.randint(1, 2)):
        clause: dict = {"away": "on", "from": random_moment(rng), "sort": "span"}
        if sort < 0.8:
            clause["away"] = rng.choice(["on", "on", "on", "off"])
            ending = rng.random()
            if ending < 0.6:
                clause["for"] = rng.randint(1, 20)
            elif ending < 0.9:
                clause["until"] = random_moment(rng)
        else:
            clause.update(sort="train", length=rng.randint(1, 4), every=rng.randint(5, 9))
            if rng.random() < 0.6:
                clause["number"] = rng.randint(2, 4)
            else:
                clause["until"] = random_moment(rng)
        clauses.append(clause)
    return {"clauses": clauses, "within": rng.choice([0, 0, 1, 3]), "free": rng.random() < 0.35}


def random_while(rng: random.Random, line: plain.Line, output: str) -> dict:
    """A claim of when the output is on, often of one that is not its own; give or take where both begin alike."""
    condition = random_condition(rng)
    own = rng.random()
    if own < 0.3:
        condition = ("on", output, True) if own < 0.2 else ("not", ("on", output, False))
    claim: dict = {"clauses": [{"sort": "while", "if": condition, "late": rng.choice([0, 0, 2, 5])}]}
    if plain.holds(line, condition, -1) == line.rest[output]:
        claim["within"] = rng.choice([0, 1, 2, 5])
    return claim


def to_timeline(line: plain.Line, machine: dict) -> Timeline:
    def wave(name: str) -> Wave:
        before = [line.before[name], *line.on[name][:-1]]
        pairs = zip(before, line.on[name], strict=True)
        return Wave(line.before[name], tuple(t for t, (was, on) in enumerate(pairs) if was != on))

    def steps_of(flags: list[bool]) -> tuple[int, ...]:
        return tuple(t for t, flag in enumerate(flags) if flag)

    timeline = Timeline(
        line.steps,
        {name: wave(name) for name in OUTPUTS},
        {name: wave(name) for name in TRIGGERS},
        {name: steps_of(line.worked[name]) for name in TRIGGERS},
        {name: steps_of(line.released[name]) for name in TRIGGERS},
        dict(line.rest),
        {name: tuple(enumerate(line.level[name])) for name in OUTPUTS},
    )
    texts = [plain.transition_text(one) for one in machine["transitions"]]
    read = tuple(parse_transition(text, NAMES, STATES) for text in texts)
    automaton = Automaton("m", STATES, read, machine["deaf"])
    return Timeline(
        line.steps, timeline.outputs, timeline.triggers, timeline.worked, timeline.released, timeline.rests_on,
        timeline.levels, watched([automaton], timeline),
    )  # fmt: skip


def one_pair(seed: int) -> str | None:
    """Draw a run and claims by this seed and judge them both ways: "kept", "broken" or "early"; they must agree."""
    rng = random.Random(seed)
    line = random_run(rng)
    machine = random_machine(rng)
    plain.watch_machines(line, {"m": machine})
    timeline = to_timeline(line, machine)
    states = [timeline.state("m", t) for t in range(line.steps)]
    assert states == line.state["m"], f"seed {seed}: the machine's states differ"
    output = rng.choice(OUTPUTS)
    claims = [random_claim(rng, line, output) for _ in range(rng.choice([1, 1, 1, 2]))]
    if rng.random() < 0.15:
        claims = [random_while(rng, line, output)]
    texts = [plain.claim_text(output, claim) for claim in claims]
    try:
        wanted = "kept" if plain.kept(line, output, claims) else "broken"
    except plain.BeforeTime:
        wanted = "early"
    try:
        verdicts = judge([parse_claim(text, NAMES) for text in texts], timeline)
        found = "kept" if all(verdict.passed for verdict in verdicts) else "broken"
    except EarlySpan:
        found = "early"
    assert found == wanted, f"seed {seed}: {texts} is {found}, the plain interpreter says {wanted}"
    return found


def test_the_evaluator_and_the_plain_interpreter_agree():
    found = [one_pair(seed) for seed in range(PAIRS)]
    assert {"kept", "broken", "early"} == set(found)
    assert found.count("kept") > PAIRS // 10
