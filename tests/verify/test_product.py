"""The compiled product of states and observers against the explorer in Python, on the same graph of states."""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path

import pytest
from test_ways import pressable

from tickwright.engine.reference import Simulation
from tickwright.measurement import find_trigger
from tickwright.measurement.observe import settle
from tickwright.plan import load
from tickwright.plan.setup import Setup
from tickwright.rules import load_rules
from tickwright.verify.claims import Claim, Limits, Outlook
from tickwright.verify.product_proof import ProductProver
from tickwright.verify.proving import Prover, Question
from tickwright.verify.ways import FastWays

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
RULES = load_rules()


def both(plan, claim, hands=None, grid=1, limit=100_000, order="canonical"):
    """The proof of the compiled product and that of the explorer, without the seconds that they took."""
    triggers = [find_trigger(Setup(plan, RULES), name) for name in plan.triggers]
    setup = Setup(plan, RULES, order)
    sim = Simulation(setup, plan.outputs)
    first, settled = settle(sim)
    question = Question(
        claim, tuple(plan.outputs), tuple(triggers), hands, grid, RULES.name, order, first, settled
    )  # fmt: skip
    proofs = []
    for prover in (ProductProver, Prover):
        ways = FastWays(setup, triggers, hands, first)
        proof = prover(question, ways, limit).prove(None)
        proofs.append(replace(proof, seconds=0.0))
    return proofs


def random_claim(rng, outputs):
    """A claim of one to three limits, half of the time with a judge of the hands-off future."""
    limits = []
    for _ in range(rng.randint(1, 3)):
        within = rng.choice([None, 0, 2, 4, 9])
        limits.append(
            Limits(
                rng.randrange(outputs),
                within,
                rng.choice([None, 5, 12, 40]) if within is not None else None,
                rng.choice([None, None, 15, 60, 300]),
                rng.choice([None, None, None, 8, 15]),
                rng.random() < 0.05,
            )
        )
    most = rng.choice([10, 60, 400])

    def judge(outlook: Outlook) -> str | None:
        if outlook.rest_steps is None or outlook.rest_steps > most:
            return "takes too long"
        return None

    return Claim("holds", "what was drawn", tuple(limits), judge if rng.random() < 0.5 else None)


@pytest.mark.parametrize("first", range(0, 60, 12))
def test_proofs_of_random_claims_are_those_of_the_explorer(first):
    verdicts = set()
    for seed in range(first, first + 12):
        rng = random.Random(seed)
        plan = pressable(seed)
        if not plan.triggers or not plan.outputs:
            continue
        for _ in range(4):
            hands, grid = rng.choice([None, None, 1, 2, 3]), rng.choice([1, 1, 2, 5])
            claim = random_claim(rng, len(plan.outputs))
            limit = rng.choice([30, 200, 600])
            fast, slow = both(plan, claim, hands, grid, limit, rng.choice(["canonical", "reversed"]))
            assert fast == slow
            verdicts.add(fast.verdict)
    assert "refuted" in verdicts
    assert len(verdicts) > 1


@pytest.mark.parametrize(
    ("limits", "verdict"),
    [
        (Limits(0, within=4), "proved"),
        (Limits(0, within=4, at_least=20), "proved"),
        (Limits(0, at_most=3000), "proved"),
        (Limits(0, at_most=20), "refuted"),
        (Limits(0, never=True), "refuted"),
        (Limits(0, within=0), "refuted"),
    ],
    ids=str,
)
def test_every_limit_of_one_output_is_judged_alike(limits, verdict):
    fast, slow = both(load(EXAMPLES / "flat-loop-4.toml"), Claim("holds", "it holds", (limits,)))
    assert fast == slow
    assert fast.verdict == verdict, fast.detail


def test_a_search_that_is_stopped_says_how_far_it_came(monkeypatch):
    monkeypatch.setattr("tickwright.verify.product_proof.SHARE", 40)
    plan = load(EXAMPLES / "flat-loop-4.toml")
    setup = Setup(plan, RULES)
    triggers = [find_trigger(setup, name) for name in plan.triggers]
    question = Question(
        Claim("holds", "", (Limits(0, within=40),)), tuple(plan.outputs), tuple(triggers), None, 1, "standard",
        "canonical", 1, True,
    )  # fmt: skip
    asked = []

    def stop(states: int, seen: int) -> bool:
        asked.append((states, seen))
        return len(asked) == 3

    proof = ProductProver(question, FastWays(setup, triggers, None, 1), 10**6).prove(stop)
    assert proof.verdict == "undecided"
    assert proof.detail.startswith("stopped by hand")
    assert 0 < asked[0][0] < asked[1][0] < asked[2][0] == proof.states
