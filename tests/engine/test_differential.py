"""Engines against each other on random worlds; and that this comparison can fail, shrinks and keeps what it finds."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace

import msgspec
import pytest

import fuzz
from tickwright.engine import Run, run
from tickwright.kinds import parse_part
from tickwright.plan import Plan, validate
from tickwright.rules import RuleSet, load_rules
from worlds.corpus import keep, kept
from worlds.differ import Difference, compare, examples, fast, reference
from worlds.generator import World, random_world
from worlds.rules import RULES
from worlds.seen import watching
from worlds.shrink import shrunk

WORLDS_FOR_EVERY_RULE = 500
COMPARED_WORLDS = 10  # in each of four tests; `python dev.py fuzz` compares as many as there is time for


def slow_torches(world: World, rules: RuleSet, order: str) -> Run:
    """A wrong engine: the reference with one number changed."""
    torch = msgspec.structs.replace(rules.torch, delay=rules.torch.delay + 1)
    return reference(world, msgspec.structs.replace(rules, torch=torch), order)


def step_of(difference: Difference | None) -> int | None:
    return None if difference is None else difference.step


def test_a_modest_number_of_worlds_reaches_every_rule():
    counts: Counter[str] = Counter()
    for seed in range(20):
        assert compare(random_world(seed), reference, reference, counts=counts) is None
    with watching(counts):
        for seed in range(20, WORLDS_FOR_EVERY_RULE):
            world = random_world(seed)
            run(world.plan, world.acts, world.steps)
    assert sorted(set(RULES) - set(+counts)) == []


@pytest.mark.parametrize("batch", range(4))
def test_both_engines_give_the_same_on_random_worlds(batch):
    for number in range(COMPARED_WORLDS):
        found = compare(random_world(1_000 * batch + number), reference, fast)
        assert found is None, str(found)


@pytest.mark.parametrize("world", examples(), ids=lambda world: world.name)
def test_both_engines_give_the_same_on_the_examples(world):
    assert compare(world, reference, fast) is None


def test_both_engines_give_the_same_on_every_world_that_was_kept():
    for world in kept():
        found = compare(world, reference, fast)
        assert found is None, str(found)


def test_the_hooks_leave_the_engine_as_it_was():
    world = random_world(3)
    before = reference(world, load_rules(), "canonical")
    with watching(Counter()):
        during = reference(world, load_rules(), "canonical")
    assert (during.trace, during.findings) == (before.trace, before.findings)
    counts: Counter[str] = Counter()
    with watching(counts):
        pass
    reference(world, load_rules(), "canonical")
    assert not counts


@pytest.mark.parametrize("static", [False, True])
def test_a_seed_gives_one_valid_world(static):
    for seed in range(40):
        world = random_world(seed, static)
        assert world == random_world(seed, static)
        validate(world.plan, load_rules())
        assert world.is_static() or not static
    assert random_world(0, static).plan != random_world(1, static).plan


def test_a_wrong_engine_is_found_and_the_world_shrinks_and_is_kept(tmp_path):
    found = next(
        difference
        for seed in range(100)
        if (difference := compare(random_world(seed), reference, slow_torches, ["standard"], ["canonical"]))
    )
    world, step = found.world, found.step
    assert f"step {step}, cell " in found.what
    assert f"{world.name}, rules standard, order canonical: " in str(found)

    def differs(smaller: World) -> int | None:
        return step_of(compare(smaller, reference, slow_torches, ["standard"], ["canonical"]))

    small = shrunk(world, differs)
    assert differs(small) is not None
    # A torch and what it is fixed to, what powers that, and one act or none: no part or act can be left out.
    assert len(small.plan.cells) <= 6
    assert len(small.acts) <= 1
    assert {"torch"} <= {part.kind for part in small.plan.cells.values()}
    keep(small, str(found), tmp_path)
    again = kept(tmp_path)
    assert [(one.plan, one.acts, one.steps) for one in again] == [(small.plan, small.acts, small.steps)]
    assert differs(again[0]) == differs(small)


def test_every_way_to_differ_is_said():
    cells = {(0, 0, 0): parse_part("block"), (0, 0, 1): parse_part("lever"), (1, 0, 1): parse_part("lamp")}
    world = World("by hand", Plan(cells), ("3:0,0,1:on",), 9)

    def dark(world: World, rules: RuleSet, order: str) -> Run:
        return reference(replace(world, acts=()), rules, order)

    def silent(world: World, rules: RuleSet, order: str) -> Run:
        done = reference(world, rules, order)
        return replace(done, findings=())

    def broken(world: World, rules: RuleSet, order: str) -> Run:
        raise ZeroDivisionError

    def said(other, acts=world.acts) -> str:
        found = compare(replace(world, acts=acts), reference, other)
        assert found is not None
        return found.what

    assert said(dark) == "step 3, cell 0,0,0 (block): 15 against 0"
    refused = ("3:0,0,1:on", "5:2,0,1:take")
    assert said(silent, refused).startswith("findings: only the first has Finding(code='act-refused'")
    assert said(broken) == "the first gives a run, the second crashed: ZeroDivisionError()"
    assert compare(world, reference, reference) is None
    assert compare(replace(world, acts=("nonsense",)), reference, reference) is None, "both refuse it alike"


def test_the_examples_are_compared_too():
    assert len(examples()) >= 3 * 20


@pytest.fixture
def two_engines(monkeypatch, tmp_path):
    """The fuzz command with a second engine of the test's choice, and a corpus of its own."""

    def choose(engine) -> None:
        monkeypatch.setattr(fuzz, "fast", engine)
        monkeypatch.setattr(fuzz, "keep", lambda world, why: keep(world, why, tmp_path))

    return choose


def test_the_fuzz_command_says_how_many_worlds_and_what_they_reached(two_engines, monkeypatch, capsys):
    two_engines(reference)
    monkeypatch.setattr("sys.argv", ["fuzz", "--only", "worlds", "--minutes", "0", "--seed", "5"])
    assert fuzz.main() == 0
    said = capsys.readouterr().out
    assert "the first random world has the seed 5" in said
    assert re.search(r"^\d+ worlds in \d+\.\d minutes, each through both engines under 3 rule sets", said, re.MULTILINE)
    assert re.search(r"^ +[1-9]\d* +lamp-lights +lamp, hand parts, plates: lights at once$", said, re.MULTILINE)


def test_the_fuzz_command_keeps_what_it_finds(two_engines, monkeypatch, capsys, tmp_path):
    two_engines(slow_torches)
    monkeypatch.setattr("sys.argv", ["fuzz", "--only", "worlds", "--minutes", "1"])
    assert fuzz.main() == 1
    said = capsys.readouterr().out
    assert "a difference: " in said
    (plan,) = tmp_path.glob("*.toml")
    assert plan.read_text("utf-8") in said
    assert plan.with_suffix(".hand").read_text("utf-8").startswith("# ")


def test_the_fuzz_command_ends_early_without_losing_count(two_engines, monkeypatch, capsys):
    def interrupted(world: World, rules: RuleSet, order: str) -> Run:
        if order == "reversed":
            raise KeyboardInterrupt
        return reference(world, rules, order)

    two_engines(interrupted)
    monkeypatch.setattr("sys.argv", ["fuzz", "--only", "worlds"])
    assert fuzz.main() == 130
    assert re.search(r"^ended early\n\d+ worlds", capsys.readouterr().out, re.MULTILINE)
