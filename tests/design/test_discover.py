"""Discover: counts and pruning against plain enumeration, winners against the reference, stopping, a cluster."""

from __future__ import annotations

import json
import math
import random
import signal
import time
from dataclasses import replace
from itertools import product
from pathlib import Path

import pytest

from pressing import PATIENCE_SECONDS, Program
from tickwright import load, load_rules, measure
from tickwright.design.discovery import KINDS_TRIED, Annealing, Search, anneal, ask, certify, encoded, go_on, resumed
from tickwright.design.discovery.alphabet import alphabet
from tickwright.design.discovery.annealing import Moves
from tickwright.design.discovery.behaviours import parse_behaviour
from tickwright.design.discovery.question import START_STEPS
from tickwright.engine.interface import Job
from tickwright.engine.native.batch import Batch
from tickwright.engine.native.layouts import MOST_VERDICTS, Pattern, go_through
from tickwright.errors import UsageError
from tickwright.kinds.part import mirrored, turned
from tickwright.plan import validate
from tickwright.space import beside

RULES = load_rules()
PARTS = alphabet(KINDS_TRIED)
NONE = [0] * MOST_VERDICTS


CARRIES = [False, *(RULES.carries.get(part.kind, False) for part in PARTS)]
PRESSED = [False, *(part.behaviour == "button" for part in PARTS)]
NEED = [None, *({"below": "down", "facing": part.facing}.get(part.row.support) for part in PARTS)]


def plain_layouts(size):
    """All layouts of a box with one button, as options cell by cell; written apart from the library, and slow."""
    nx, ny, nz = size
    cells = [(x, y, z) for y in range(ny) for x in range(nx) for z in range(nz)]
    under = {(cell, way): beside(cell, way) for cell in cells for way in {need for need in NEED if need}}
    columns = [
        column
        for column in product(range(len(NEED)), repeat=nz)
        if all(NEED[one] != "down" or (z and CARRIES[column[z - 1]]) for z, one in enumerate(column))
    ]
    pressed = [column for column in columns if sum(PRESSED[one] for one in column) == 1]
    others = [column for column in columns if not any(PRESSED[one] for one in column)]
    for at in range(nx * ny):
        for chosen in product(*(pressed if n == at else others for n in range(nx * ny))):
            options = sum(chosen, ())
            held = dict(zip(cells, (CARRIES[one] for one in options), strict=True))
            if all(not NEED[one] or held.get(under[cell, NEED[one]]) for cell, one in zip(cells, options, strict=True)):
                yield options


def mirrors(size):
    """Each mirror image, as which cell comes where, and what each option becomes."""
    nx, ny, nz = size
    cells = [(x, y, z) for y in range(ny) for x in range(nx) for z in range(nz)]
    for flip_x, flip_y, swap in product((False, True), (False, True), (False, True) if nx == ny else (False,)):
        places = []
        for x, y, z in cells:
            moved = (nx - 1 - x if flip_x else x), (ny - 1 - y if flip_y else y)
            places.append(cells.index((*(moved[::-1] if swap else moved), z)))
        becomes = [0]
        for part in PARTS:
            image = mirrored(part, "x") if flip_x else part
            image = mirrored(image, "y") if flip_y else image
            becomes.append(PARTS.index(turned(mirrored(image, "y"), 1) if swap else image) + 1)
        yield places, becomes


@pytest.mark.parametrize("size", [(2, 2, 2), (4, 1, 2)])
def test_counts_are_those_of_a_plain_enumeration(size):
    question = ask("hold 20 steps", size, KINDS_TRIED, RULES)
    counts = go_through(question.box, (), NONE, lambda _: 0, lambda *_: 0)
    ways = list(mirrors(size))
    first, valid = set(), 0
    for options in plain_layouts(size):
        valid += 1
        images = []
        for places, becomes in ways:
            image = [0] * len(options)
            for place, option in zip(places, options, strict=True):
                image[place] = becomes[option]
            images.append(image)
        first.add(tuple(min(images)))
    assert (counts.valid, counts.canonical) == (valid, len(first))


def holds_of(batch, question, cells, places):
    """How long each cell is on after one press, if it is on once; on the batch engine, not by the search."""
    layout = batch.add(cells, places, RULES)
    steps = START_STEPS + question.behaviour.watch_steps
    done = batch.run([Job(layout, question.script(cells))], steps)
    return [
        done.last_off[row] - done.first_on[row] if done.pulses[row] == 1 and done.last[row] == 0 else None
        for row in range(len(places))
    ]


def test_no_layout_that_is_left_out_has_fewer_parts():
    question = ask("hold 20 steps", (2, 2, 2), KINDS_TRIED, RULES)
    least: dict[int, int] = {}

    def judge(pattern: Pattern) -> int:
        two = len(pattern.edges) == 2 and not (pattern.rests_on or pattern.goes_on)
        steps = pattern.edges[1] - pattern.edges[0] if two else 0
        return steps if steps < MOST_VERDICTS else 0

    def take(verdict, _options, _place, parts):
        least[verdict] = parts
        return parts - 1

    go_through(question.box, (), [8] * MOST_VERDICTS, judge, take)
    assert least == {18: 8, 20: 2, 24: 7}
    chance = random.Random(20261130)
    options, cells = len(PARTS) + 1, question.box.cells()
    tried = 0
    while tried < 30:
        some = [chance.choice((0, 1, 1, chance.randrange(options))) for _ in cells]
        counts = go_through(question.box, some, NONE, lambda _: 0, lambda *_: 0)
        if not counts.canonical or counts.live:
            continue
        tried += 1
        laid = question.box.layout(some)
        places = [cell for cell, part in laid.items() if part.behaviour != "button"]
        for held in holds_of(Batch(), question, laid, places):
            assert held is None or least[held] < len(laid)


@pytest.mark.parametrize(
    ("behaviour", "parts"), [("hold 20 steps", 2), ("inverter", 3), ("hold 24 steps", 7), ("latch", None)]
)
def test_winners_do_it_on_both_engines(behaviour, parts):
    search = Search(ask(behaviour, (2, 2, 2), KINDS_TRIED, RULES))
    assert go_on(search, workers=1)
    made = certify(search)
    assert (made.proved, made.parts) == (True, parts)
    assert made.counts["valid"] == 157_692
    for winner in made.winners:
        assert (winner.works_in == winner.of) is not winner.order_sensitive


def test_a_table_of_holds_has_the_smallest_of_each():
    search = Search(ask("holds", (2, 2, 2), KINDS_TRIED, RULES))
    assert go_on(search, workers=1)
    made = certify(search)
    assert [(one.hold_steps, one.parts, one.works_in) for one in made.winners] == [
        (18, 8, 80),
        (20, 2, 80),
        (24, 7, 80),
    ]
    at_wires = Search(ask("holds", (2, 2, 2), KINDS_TRIED, RULES, ["wire"]))
    assert go_on(at_wires, workers=1)
    assert [(one.hold_steps, one.parts) for one in certify(at_wires).winners] == [(20, 4), (24, 7)]
    assert certify(at_wires).counts == made.counts


def test_a_claim_of_a_chart_is_looked_for():
    claim, plain = "out: on from press + 4 steps for 20 steps", "delay 4 steps"
    for behaviour in (claim, plain):
        search = Search(ask(behaviour, (2, 2, 2), KINDS_TRIED, RULES))
        assert go_on(search, workers=1)
        assert certify(search).parts == 4


def test_a_hold_that_is_found_is_measured_so(tmp_path):
    search = Search(ask("hold 24 steps", (2, 2, 2), KINDS_TRIED, RULES))
    go_on(search, workers=1)
    file = tmp_path / "found.toml"
    file.write_text(certify(search).winners[0].plan, encoding="utf-8")
    (seen,) = measure(load(file))
    assert (seen.hold_steps, len(load(file).cells)) == (24, 7)


def without_time(data):
    made = json.loads(data)
    made.pop("seconds")
    return made


def test_a_stopped_search_goes_on_to_the_same_certificate():
    question = ask("hold 24 steps", (2, 2, 2), KINDS_TRIED, RULES)
    whole = Search(question)
    go_on(whole, workers=1)
    part = Search(question)
    assert not go_on(part, workers=1, progress=lambda search: len(search.done) >= 20)
    assert certify(part).proved is False
    again = resumed(encoded(certify(part)), question, "it")
    assert 20 <= len(again.done) < 63
    assert go_on(again, workers=2)
    assert without_time(encoded(certify(again))) == without_time(encoded(certify(whole)))
    with pytest.raises(UsageError, match="done already"):
        resumed(encoded(certify(whole)), question, "it")
    other = ask("hold 26 steps", (2, 2, 2), KINDS_TRIED, RULES)
    with pytest.raises(UsageError, match='is the certificate of "hold 24 steps"'):
        resumed(encoded(certify(part)), other, "it")


@pytest.mark.parametrize(
    ("text", "edges", "rests_on", "shown"),
    [
        ("hold 6 steps", (4, 10), False, True),
        ("hold 6 steps", (4, 10, 12, 14), False, False),
        ("hold 6 steps", (4, 10), True, False),
        ("delay 4 steps", (4, 24, 1004, 1054), False, True),
        ("delay 4 steps", (4, 24, 1004, 1055), False, False),
        ("rising pulse 2 steps", (3, 5, 1003, 1005), False, True),
        ("rising pulse 2 steps", (23, 25, 1053, 1055), False, False),
        ("falling pulse 2 steps", (23, 25, 1053, 1055), False, True),
        ("inverter", (2, 22, 1002, 1052), True, True),
        ("inverter", (2, 24, 1002, 1054), True, False),
        ("latch", (2,), False, True),
        ("latch", (2, 30), False, False),
        ("toggle", (2, 1002, 2002, 3002), False, True),
        ("toggle", (2, 22, 1002, 1022), False, False),
        ("holds", (4, 10), False, 6),
        ("holds", (4, 10), True, 0),
        ("out: on from press + 4 steps for 20 steps", (4, 24), False, True),
        ("out: on from press + 4 steps for 20 steps", (4, 25), False, False),
        ("out: on from press + 4 steps for 20 steps, give or take 1 step", (4, 25), False, True),
        ("out: 2 pulses of 4 steps every 10 steps from press", (0, 4, 10, 14), False, True),
        ("out: off from press for 20 steps", (0, 20), True, True),
        ("0: press, 5 s: press -> out: on from 1st press until 2nd press", (0, 100), False, True),
        ("0: press, 5 s: press -> out: on from 1st press until 2nd press", (0, 101), False, False),
    ],
)
def test_what_a_pattern_is(text, edges, rests_on, shown):
    assert parse_behaviour(text).shown(Pattern(edges, rests_on, False, False)) == shown
    assert parse_behaviour(text).shown(Pattern(edges, rests_on, True, False)) == 0


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("hold", "--box", "2x2x2"), "is no behaviour that can be looked for"),
        (("hold 0 steps", "--box", "2x2x2"), "of no length"),
        (("latch", "--box", "2x2"), "is no box"),
        (("latch", "--box", "9x9x9"), "cannot be searched"),
        (("latch", "--box", "2x2x2", "--kinds", "block,piston"), "is not searched"),
        (("latch", "--box", "2x2x2", "--kinds", "block,wire"), "Nothing can be pressed"),
        (("latch", "--box", "2x2x2", "--out", "lamp"), '"lamp" is to be the output, but is none of --kinds'),
        (("out: on form press", "--box", "2x2x2"), '"out: on form press": '),
        (("out: on from press - 1 s for 2 s", "--box", "2x2x2"), "begin 20 steps before time 0"),
        (("press: ignored until out off", "--box", "2x2x2"), "a further press is not tried here"),
        (("out: on from press released for 1 s", "--box", "2x2x2"), "count from press"),
        (("0: press, 1: press -> out: never on", "--box", "2x2x2"), "presses lie 50 steps apart"),
        (("9: press -> out: never on", "--box", "2x2x2"), "the first press is at 0"),
    ],
)
def test_what_cannot_be_asked_is_said(call, monkeypatch, tmp_path, words, message):
    monkeypatch.chdir(tmp_path)
    code, out, err = call("discover", *words)
    assert (code, out) == (2, "")
    assert message in err
    assert err.count("\n") == 1
    assert not list(tmp_path.iterdir())


def test_the_command_writes_certificate_and_plans(call, tmp_path):
    into = tmp_path / "found.json"
    code, out, err = call("discover", "inverter", "--box", "2x1x2", "--into", into, "--workers", "1", "--json")
    said = json.loads(out)
    assert (code, err, said["proved"], said["parts"]) == (0, "", True, 3)
    assert set(said["counts"]) >= {"valid", "canonical", "live", "run"}
    plan = load(said["winners"][0]["file"])
    assert (list(plan.triggers), list(plan.outputs), len(plan.cells)) == (["press"], ["out"], 3)
    assert said["certificate"] == str(into)
    assert json.loads(into.read_bytes())["winners"][0]["works_in"] == 80
    code, out, err = call(
        "discover", "toggle", "--box", "2x1x2", "--into", tmp_path / "none.json", "--workers", "1", "--json"
    )
    assert (code, json.loads(out)["parts"], json.loads(out)["proved"]) == (1, None, True)


def test_stopped_in_time_it_says_not_proved(call, tmp_path):
    into = tmp_path / "found.json"
    words = ("discover", "latch", "--box", "3x2x2", "--into", into, "--minutes", "0.001", "--workers", "1", "--json")
    code, out, _ = call(*words)
    assert (code, json.loads(out)["proved"]) == (130, False)
    assert json.loads(into.read_bytes())["shares_done"] < json.loads(into.read_bytes())["shares_in_all"]


def test_a_search_without_proof_says_so_and_comes_again():
    question = ask("hold 24 steps", (2, 2, 2), KINDS_TRIED, RULES, unproved=True)
    first, second = (Annealing(question, seed=1, tries=6_000) for _ in range(2))
    for search in (first, second):
        assert anneal(search, None, lambda _: False)
    assert first.robust == second.robust != []
    made = certify(first)
    assert (made.proved, made.parts, made.without_proof) == (False, 7, {"seed": 1, "tries": 6_000})
    assert (made.winners[0].works_in, made.winners[0].of) == (80, 80)
    assert made.counts["run"] == first.tried >= 6_000
    with pytest.raises(UsageError, match="is done already"):
        resumed(encoded(made), ask("hold 24 steps", (2, 2, 2), KINDS_TRIED, RULES), "it")


def test_stopped_annealing_keeps_what_it_has():
    question = ask("hold 20 steps", (2, 2, 2), KINDS_TRIED, RULES, unproved=True)
    search = Annealing(question, seed=3, tries=10**9)
    assert not anneal(search, None, lambda one: bool(one.robust))
    assert search.robust
    assert not search.question.behaviour.shown(Pattern((2, 22), False, False, False))
    assert search.question.behaviour.shown(Pattern((2, 22, 1002, 1022), False, False, False))


def test_what_moves_and_what_holds_items_is_searched_without_proof_only(call, tmp_path):
    kinds = ["block", "wire", "torch", "comparator", "piston", "hopper", "short-button"]
    question = ask("hold 27 steps", (4, 3, 2), kinds, RULES, unproved=True)
    assert {part.items for part in question.parts if part.kind == "hopper"} == {0, 1, 2, 4, 8}
    search = Annealing(question, seed=1, tries=600)
    assert anneal(search, None, lambda _: False)
    assert search.tried >= 600
    words = ("discover", "hold 27 steps", "--box", "2x2x2", "--kinds", "block,hopper,lever", "--into")
    code, _, err = call(*words, tmp_path / "a.json")
    assert (code, "With --anneal it is searched, without proof" in err) == (2, True)
    code, out, _ = call(*words, tmp_path / "a.json", "--anneal", "--tries", "64")
    assert (code, "That proves nothing" in out) == (1, True)
    code, _, err = call(*words, tmp_path / "a.json", "--anneal", "--tries", "64")
    assert (code, "is there already" in err) == (2, True)


def test_layouts_tried_at_random_stand_and_have_one_trigger():
    question = ask("latch", (3, 3, 2), ["block", "wire", "torch", "hopper", "lever"], RULES, unproved=True)
    moves = Moves(question, random.Random(4))
    layout = moves.first()
    for _ in range(2_000):
        layout = moves.changed(layout)
        plan = question.plan(layout, 0)
        validate(replace(plan, outputs={}), RULES)
        assert sum(part.behaviour == "lever" for part in plan.cells.values()) == 1


CERTIFICATES = sorted((Path(__file__).resolve().parents[2] / "docs" / "certificates").glob("*.json"))
SMALL = [path for path in CERTIFICATES if math.prod(json.loads(path.read_bytes())["box"]) <= 8]


def test_certificates_of_six_boxes_are_kept():
    kept = [json.loads(path.read_bytes()) for path in CERTIFICATES]
    assert len({tuple(one["box"]) for one in kept}) == 6
    assert all(one["proved"] for one in kept)
    largest = next(one for one in kept if one["box"] == [3, 2, 2] and one["behaviour"] == "hold 36 steps")
    assert (largest["parts"], largest["counts"]["valid"], largest["counts"]["canonical"]) == (
        11,
        303_484_088,
        75_882_619,
    )


@pytest.mark.parametrize("path", SMALL, ids=lambda path: path.stem)
def test_a_certificate_comes_again(path):
    kept = json.loads(path.read_bytes())
    search = Search(ask(kept["behaviour"], tuple(kept["box"]), kept["kinds"], RULES, kept.get("outputs", ())))
    assert go_on(search, workers=1)
    made = without_time(encoded(certify(search)))
    assert made | {"version": kept["version"]} == without_time(path.read_bytes())


@pytest.mark.parametrize("size", [(1, 1, 12), (4, 2, 2), (16, 2, 1)])
def test_shares_are_soon_told_and_part_the_box(size):
    question = ask("hold 20 steps", size, KINDS_TRIED, RULES)
    shares = Search(question).shares
    assert 2_000 <= len(set(shares)) == len(shares) < 100_000


def test_plans_that_are_there_are_not_written_over(call, tmp_path):
    plan = tmp_path / "found-1.toml"
    plan.write_text("mine", encoding="utf-8")
    words = ("discover", "inverter", "--box", "2x1x2", "--into", tmp_path / "found.json", "--workers", "1")
    code, out, err = call(*words)
    assert (code, out, plan.read_text(encoding="utf-8")) == (2, "", "mine")
    assert "is there already" in err


def test_a_cluster_gives_the_same_certificate():
    distributed = pytest.importorskip("distributed")
    question = ask("hold 24 steps", (2, 2, 2), KINDS_TRIED, RULES)
    here, there = Search(question), Search(question)
    go_on(here, workers=1)
    words = {"n_workers": 2, "threads_per_worker": 1, "processes": True, "dashboard_address": None, "silence_logs": 50}
    with distributed.LocalCluster(**words) as cluster:
        assert go_on(there, cluster=cluster.scheduler_address)
    assert without_time(encoded(certify(there))) == without_time(encoded(certify(here)))


def test_killed_and_gone_on_with_it_loses_nothing(tmp_path):
    into = tmp_path / "found.json"
    program = Program("discover", "hold 36 steps", "--box", "3x2x2", "--into", into)
    end = time.monotonic() + PATIENCE_SECONDS
    while not into.exists() and time.monotonic() < end:
        time.sleep(0.1)
    ended = program.press(signal.SIGKILL, alone=True)
    assert ended.left == []
    kept = json.loads(into.read_bytes())
    assert (kept["proved"], kept["shares_done"]) == (False, len(kept["shares"]))
    assert kept["shares_done"] > 0
    search = resumed(into.read_bytes(), ask("hold 36 steps", (3, 2, 2), KINDS_TRIED, RULES), "it")
    again = Search(search.question)
    first = next(iter(search.done))
    go_on(again, workers=1, progress=lambda one: first in one.done)
    assert again.done[first] == search.done[first]
