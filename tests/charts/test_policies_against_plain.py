"""Policies against a plain reading of the page that defines them, over random circuits, hands and policies.

Source: the two were written from the same page of the project; the plain one asks a circuit for whole runs only.
"""

from __future__ import annotations

import os
import random
import re
from pathlib import Path

from charts import plain, plain_policies  # type: ignore[import-not-found]
from charts.landing import BUTTON_AND_TORCH, LAMP, SLOW, TORCH, chart
from tickwright import check_charts, loads, run
from tickwright.errors import PlanError

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
CASES = int(os.environ.get("TICKWRIGHT_CHART_POLICIES", "14"))
SHORT, LONG = 20, 30  # steps that the two buttons are down, by the page of rules

TWO_WAYS = '''format = "tickwright plan 1"
[legend]
"#" = "block"
"b" = "short-button"
"B" = "long-button"
"t" = "tread-plate"
"v" = "lever"
"w" = "wire"
"r" = "repeater east delay=D"
"L" = "lamp"
[[layer]]
rows = """
#####
..#..
#####
"""
[[layer]]
rows = """
PwwrL
..w..
Qwwww
"""
[triggers]
one = [0, 0, 1]
two = [0, 2, 1]
[outputs]
lamp = [4, 0, 1]
line = [2, 1, 1]
'''


def circuits(rng: random.Random) -> tuple[str, dict[str, int | None], frozenset[str]]:
    """A plan without charts, how long each trigger is held, and which of them are trodden."""
    sort = rng.randrange(6)
    if sort < 2:
        parts = {"short-button": SHORT, "long-button": LONG, "lever": None, "tread-plate": None}
        kinds = {"b": "short-button", "B": "long-button", "v": "lever", "t": "tread-plate"}
        letters = rng.choices("bBvt", (4, 2, 1, 1), k=2)
        text = TWO_WAYS.replace("P", letters[0]).replace("Q", letters[1]).replace("=D", f"={rng.randint(1, 4)}")
        named = dict(zip(("one", "two"), letters, strict=True))
        held = {name: parts[kinds[letter]] for name, letter in named.items()}
        return text, held, frozenset(name for name, letter in named.items() if letter == "t")
    if sort == 2:
        return LAMP.replace("delay=2", f"delay={rng.randint(1, 4)}"), {"press": SHORT}, frozenset()
    if sort == 3:
        return rng.choice([SLOW, BUTTON_AND_TORCH.replace("throw", "press")]), {"press": SHORT}, frozenset()
    if sort == 4:
        return TORCH.replace("throw", "press"), {"press": None}, frozenset()
    name = rng.choice(["flat-loop-2", "edge-detector", "pulse-shortener"])
    text = (EXAMPLES / f"{name}.toml").read_text("utf-8").split("[[chart]]")[0]
    return text, {"press": SHORT}, frozenset()


def circuit_of(text: str, held: dict[str, int | None], plates: frozenset[str]) -> plain_policies.Circuit:
    plan = loads(text)
    known: dict[tuple, dict[str, list[int]]] = {}

    def shown(acts: plain_policies.Acts, steps: int) -> dict[str, list[int]]:
        if (acts, steps) not in known:
            trace = run(plan, [f"{step}:{who}:{verb}" for step, who, verb in acts], steps).trace
            known[acts, steps] = {name: [trace.value_at(name, t) for t in range(steps)] for name in plan.outputs}
        return known[acts, steps]

    return plain_policies.Circuit(shown, held, plates, 330)


def random_policy(rng: random.Random, line: plain.Line, trigger: str, last: bool) -> dict:
    outputs = list(line.level)
    if last and rng.random() < 0.3:
        event = rng.choice([(rng.choice(outputs), rng.choice(["on", "off", "off"])), (trigger, "released")])
        return {"word": "ready", "moment": {"steps": rng.choice([-8, 0, 0, 1, 6, 30]), "event": event}}
    if not last and rng.random() < 0.15:
        return {"word": "ignored", "if": ("on", rng.choice(outputs), rng.random() < 0.7)}
    word = rng.choice(["ignored", "extends", "extends", "restarts"])
    event = rng.choice([(rng.choice(outputs), rng.choice(["on", "off", "off"])), (trigger, "released")])
    return {"word": word, "moment": {"steps": rng.choice([-16, -8, -4, 0, 0, 1, 2, 5, 12]), "event": event}}


def spans_of_one_press(circuit: plain_policies.Circuit, acts: list, trigger: str) -> dict[str, list[dict]]:
    """Claims that say of each output what one press does, with some give or take."""
    line = circuit.line(tuple(act for act in acts if act[1] != trigger or act[0] == acts[0][0]))
    begun = acts[0][0]
    found: dict[str, list[dict]] = {}
    for name in line.level:
        away = "off" if line.rest[name] else "on"
        spans = plain_policies.spans_in([on != line.rest[name] for on in line.on[name]])
        clauses: list[dict] = []
        for begin, end in spans:
            moment = {"steps": begin - begun, "event": (trigger, "worked")}
            clauses.append({"sort": "span", "away": away, "from": moment, **({"for": end - begin} if end else {})})
        found[name] = [{"clauses": clauses or [{"sort": "never", "state": away}], "within": 1}]
    return found


def verb_of(name: str, held: dict[str, int | None], plates: frozenset[str]) -> str:
    return "press" if held[name] is not None else "tread" if name in plates else "flip"


def one_case(seed: int) -> list[bool]:
    """Draw a circuit, a hand and policies by this seed; both must say the same of every offset."""
    rng = random.Random(seed)
    text, held, plates = circuits(rng)
    circuit = circuit_of(text, held, plates)
    trigger = next(iter(held))
    start = rng.choice([0, 0, 3])
    acts = [(start, trigger, verb_of(trigger, held, plates))]
    if rng.random() < 0.4:
        acts.append((start + rng.randint(30, 60), trigger, acts[0][2]))
    others = [name for name in list(held)[1:] if rng.random() < 0.6]
    acts += [(rng.randint(0, 50), name, verb_of(name, held, plates)) for name in others]
    acts.sort(key=lambda act: act[0])
    line = circuit.line(tuple(acts))
    number = rng.choice([1, 1, 2])
    policies = [random_policy(rng, line, trigger, which == number - 1) for which in range(number)]
    watch = 160
    claims = spans_of_one_press(circuit, acts, trigger) if policies[-1]["word"] == "ready" else {}
    hand = [f"{step}: {who}:{verb}" for step, who, verb in acts]
    shows = [f"{trigger}: {plain_policies.policy_text(policy)}" for policy in policies]
    shows += [plain.claim_text(name, claim) for name, of in claims.items() for claim in of]
    try:
        verdicts = check_charts(loads(text + chart(shows, hand=hand, watch=f"{watch} steps")))[0].claims
    except PlanError as error:
        raise AssertionError(f"seed {seed}: {error}") from None
    answers = plain_policies.judge(circuit, tuple(acts), trigger, policies, claims, watch)
    for verdict, answer in zip(verdicts, answers, strict=False):
        told = f"seed {seed}: {hand} {shows}: {verdict.claim} is {verdict.detail!r}, plainly {answer}"
        assert verdict.passed == answer.kept, told
        if answer.wrong and "ready" not in verdict.claim:
            first = re.search(r"--do (\d+):[^ ]+( \(|$)", verdict.detail)
            assert f"({len(answer.wrong)} of {answer.asked} offsets)" in verdict.detail or answer.asked == 1, told
            assert first is not None, told
    return [answer.kept for answer in answers]


def test_policies_are_judged_as_a_plain_reading_judges_them():
    found = [kept for seed in range(CASES) for kept in one_case(seed)]
    assert {True, False} == set(found)
