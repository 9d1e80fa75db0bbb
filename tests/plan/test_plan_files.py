"""Reading, writing and reading again: what is said stays said, and what did not change keeps its layout."""

from __future__ import annotations

import os
import pickle
import random
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from plan_texts import LANDING, plans

from tickwright.errors import PlanError
from tickwright.kinds import PARTS, Part, parse_part
from tickwright.plan import Expectation, Plan, dumps, load, loads, place, remove, save
from tickwright.plan.reading import read_plan

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"

# The same plan with tables in braces, dotted keys, one-line strings, literal strings and odd key characters.
OTHER_LAYOUTS = (
    (
        'format="tickwright plan 1"\nlegend={"#"="block", "\\\\"="wire"}\n'
        "layer=[{rows=\"##.#\\n# #\"},{rows='''\n\\\\'''}]\ntriggers.a=[0,0,1]\ntriggers.b=[5,1,1]\n"
    ),
    (
        'format="tickwright plan 1"\nlayer=[{rows=""}]\nexpect=[{trigger="a",output="b",never=true}]\n'
        "triggers={a=[1,1,1]}\noutputs={b=[1,1,2]}\n"
    ),
    (
        'format="tickwright plan 1"\nlegend."#"="block"\nlegend.w="wire"\n[[layer]]\nrows="##\\nww"\n'
        '[outputs]\no=[0,0,0]\n[[expect]]\ntrigger="t"\noutput="o"\nhold="1 '
        's"\n[triggers]\nt=[0,0,0]\n[[expect]]\ntrigger="t"\noutput="o"\npulses=3'
    ),
)
TEXTS = (LANDING, LANDING.replace("\n", "\r\n"), "\ufeff" + LANDING, *OTHER_LAYOUTS)


def test_the_landing_is_read():
    plan = loads(LANDING)
    assert plan.cells[(1, 0, 1)] == parse_part("repeater east delay=2")
    assert (len(plan.cells), plan.size, plan.title, plan.rules) == (8, (4, 1, 2), "Gangway lamp", "standard")
    assert (dict(plan.triggers), dict(plan.outputs)) == ({"press": (0, 0, 1)}, {"lamp": (3, 0, 1)})
    assert plan.expectations == (Expectation("press", "lamp", hold_steps=20, within_steps=2),)


@pytest.mark.parametrize(
    ("rows", "size", "cells"),
    [
        ('""', (0, 0, 1), []),
        ('"#"', (1, 1, 1), [(0, 0)]),
        ('"#\\n"', (1, 1, 1), [(0, 0)]),
        ('"#\\n\\n"', (1, 2, 1), [(0, 0)]),
        ('"""\n\n #\n#  .\n"""', (4, 3, 1), [(1, 1), (0, 2)]),
        ("'''\n##\n'''", (2, 1, 1), [(0, 0), (1, 0)]),
        ('"""\n#\\\n   #\n"""', (2, 1, 1), [(0, 0), (1, 0)]),
    ],
)
def test_rows_are_padded_and_a_last_newline_makes_no_row(rows, size, cells):
    plan = loads(f'format = "tickwright plan 1"\nlegend = {{"#" = "block"}}\n[[layer]]\nrows = {rows}\n')
    assert plan.size == size
    assert sorted(plan.cells) == sorted((x, y, 0) for x, y in cells)


@given(plans())
def test_a_new_file_reads_as_the_plan(plan):
    text = dumps(plan)
    again, _ = read_plan(text)
    assert again == plan
    assert dumps(replace(again, source=text)) == text


@given(plans(), st.sampled_from(TEXTS))
@example(loads(LANDING), OTHER_LAYOUTS[0])
@example(Plan({}, size=(2, 2, 3)), OTHER_LAYOUTS[1])  # named cells alone made that grid
def test_a_changed_file_reads_as_the_plan_and_keeps_its_comments(plan, source):
    text = dumps(replace(plan, source=source))
    assert read_plan(text)[0] == plan
    assert text.startswith("\ufeff") == source.startswith("\ufeff")
    assert ("\r\n" in text) == ("\r\n" in source)
    kept = ["# what is used at the landing", "# copper", "# the quay", "# names", "# the end"]
    assert all(comment in text for comment in kept if comment in source)


@pytest.mark.parametrize("source", TEXTS)
def test_an_unchanged_plan_gives_its_text_back(source):
    plan = replace(read_plan(source)[0], source=source)
    assert dumps(plan) == source
    cell = (2, 2, 2)
    assert dumps(remove(place(plan, cell, parse_part("lamp")), cell)) != source  # the grid keeps its new size
    assert dumps(replace(place(plan, (0, 0, 0), parse_part("lamp")), cells=plan.cells)) == source


def changed_lines(plan: Plan) -> list[str]:
    """The lines that a plan made from LANDING writes differently, removed ones first."""
    old, new = LANDING.splitlines(), dumps(plan).splitlines()
    return [f"-{line}" for line in old if line not in new] + [f"+{line}" for line in new if line not in old]


def test_only_what_changed_is_written_anew():
    plan = loads(LANDING)
    assert changed_lines(place(plan, (2, 0, 1), parse_part("torch"))) == ["-brcw", '+"t" = "torch"', "+brtw"]
    assert changed_lines(place(plan, (2, 0, 1), parse_part("wire"))) == ["-brcw", "+brww"]
    assert changed_lines(remove(plan, (3, 0, 1))) == ["-brcw", "+brc."]
    assert changed_lines(replace(plan, title="Bell")) == ['-title = "Gangway lamp"', '+title = "Bell"']
    assert changed_lines(replace(plan, title="")) == ['-title = "Gangway lamp"']
    assert changed_lines(replace(plan, rules="older-wire")) == ['+rules = "older-wire"']
    assert changed_lines(replace(plan, outputs={"lamp": (2, 0, 1)})) == [
        "-lamp = [3, 0, 1]   # the gangway lamp",
        "+lamp = [2, 0, 1]   # the gangway lamp",
    ]
    longer = replace(plan.expectations[0], hold_steps=110, within_steps=0, pulses=1)
    assert changed_lines(replace(plan, expectations=(longer,))) == [
        '-hold = "1 s"  # as long as a crossing',
        '-within = "1 tick"',
        '+hold = "5.5 s"  # as long as a crossing',
        "+pulses = 1",
    ]


def test_what_is_added_stands_where_it_belongs():
    plan = place(loads(LANDING), (0, 0, 2), parse_part("torch"))
    plan = replace(
        plan,
        triggers={**plan.triggers, "rope": (1, 0, 1)},
        expectations=(*plan.expectations, Expectation("rope", "lamp", never=True)),
    )
    assert (
        dumps(plan)[len(LANDING) // 4 :]
        == (
            LANDING.replace('mode=difference"\n', 'mode=difference"\n"t" = "torch"\n')
            .replace("# along the rail\n", '# along the rail\n\n[[layer]]\nrows = """\nt...\n"""\n')
            .replace("press = [0, 0, 1]\n", "press = [0, 0, 1]\nrope = [1, 0, 1]\n")
            .replace(
                'within = "1 tick"\n',
                'within = "1 tick"\n\n[[expect]]\ntrigger = "rope"\noutput = "lamp"\nnever = true\n',
            )
        )[len(LANDING) // 4 :]
    )


def test_a_new_file_is_laid_out_for_reading():
    plan = replace(loads(LANDING), source=None)
    assert (
        dumps(plan)
        == '''\
format = "tickwright plan 1"
title = "Gangway lamp"

[legend]
"#" = "block"
"w" = "wire"
"r" = "repeater east delay=2"
"c" = "comparator east mode=difference"
"s" = "short-button"

[[layer]]
rows = """
####
"""

[[layer]]
rows = """
srcw
"""

[triggers]
press = [0, 0, 1]

[outputs]
lamp = [3, 0, 1]

[[expect]]
trigger = "press"
output = "lamp"
hold = "1 s"
within = "1 tick"
'''
    )


def test_there_are_key_characters_for_every_part_there_can_be():
    texts = [f"crate items={number}" for number in range(27 * 64 + 1)]
    cells = {(x % 50, x // 50, 0): parse_part(text) for x, text in enumerate(texts)}
    plan = Plan(cells)
    assert read_plan(dumps(plan))[0] == plan


def test_plans_that_no_file_can_say_are_refused():
    block = parse_part("block")

    def answer(plan: Plan) -> str:
        with pytest.raises(PlanError) as caught:
            dumps(plan)
        return str(caught.value)

    assert answer(Plan({})) == "The plan is empty: a plan file has at least one layer; place a part first."
    assert answer(Plan({(0, -1, 0): block})) == (
        "The cell (0, -1, 0) lies outside the grid, which starts at (0, 0, 0): move the plan east, south or up first."
    )
    assert answer(Plan({(0, 4096, 0): block})) == "The plan would be 4,097 cells along y: the most is 4,096; split it."
    assert answer(Plan({(0, 0, 0): Part("wire", delay=3)})) == (
        "The plan holds a part that no plan file can say: make its parts with parse_part."
    )
    assert answer(Plan({(0, 0, 0): block}, {"the rope": (0, 0, 0)})) == (
        'The plan cannot be written as a file: The name "the rope" is not 1 to 64 letters (a-z), digits, - and _: '
        "rename "
        "it."
    )
    assert answer(Plan({(0, 0, 0): block}, title="a\nb")) == (
        'The plan cannot be written as a file: The title is "a\\nb": it may hold printable characters only.'
    )


def test_saving_writes_the_whole_file_or_none(tmp_path):
    path = tmp_path / "landing.toml"
    path.write_bytes(LANDING.replace("\n", "\r\n").encode())
    path.chmod(0o640)
    plan = load(path)
    save(place(plan, (3, 0, 1), parse_part("torch")), path)
    assert load(path).cells[(3, 0, 1)].kind == "torch"
    assert b"brct\r\n" in path.read_bytes()
    if os.name == "posix":
        assert path.stat().st_mode & 0o777 == 0o640
    with pytest.raises(PlanError) as caught:
        save(plan, tmp_path / "none" / "landing.toml")
    assert str(caught.value).replace(str(tmp_path), "~") == (
        'The file "~/none/landing.toml" cannot be written: No such file or directory.'
    )
    with pytest.raises(PlanError):
        save(Plan({}), path)
    with pytest.raises(PlanError, match="cannot be written: "):
        save(plan, tmp_path)
    assert [entry.name for entry in tmp_path.iterdir()] == ["landing.toml"]
    assert not list(tmp_path.parent.glob(".*.new"))


# Pieces of plan files, right and wrong, for texts that are nearly plans.
PIECES = [
    'format = "tickwright plan 1"\n', "[legend]\n", '"#" = "block"\n', '"w" = "wire"\n', "[[layer]]\n", "[layer]\n",
    'rows = """\n#w\n"""\n', "rows = '#'\n", "[triggers]\n", "a = [0, 0, 0]\n", "[outputs]\n", "b = [1, 0, 0]\n",
    "[[expect]]\n", 'trigger = "a"\n', 'output = "b"\n', 'hold = "1 s"\n', 'within = "-1 s"\n', "pulses = 1e999\n",
    "legend.x = 1979-05-27\n", "expect = [1]\n", "layer = [{rows = '#'}, {}]\n", "title = ''\n", 'rules = ""\n',
    "'''", '"""', "\\", "\0", "\ufeff", "\r", "{", "[", "=", ".", "# ", "\t", "é", "🌊", "9" * 5000, "\ud800",
]  # fmt: skip


def outcome(read: Callable[[Any], Plan], given: object) -> Plan | PlanError:
    """The plan that was read, or the error; anything else fails the test."""
    try:
        return read(given)
    except PlanError as error:
        return error


def ends_well(text: str) -> None:
    """A text ends in a plan that is written as it was, or in one error with a place in the text and a message."""
    found = outcome(loads, text)
    if isinstance(found, Plan):
        assert dumps(found) == text
        return
    assert found.line is None or 1 <= found.line <= text.count("\n") + 1
    assert 20 <= len(found.message) <= 1000
    assert found.message.isprintable()  # on one line, too


@given(st.lists(st.sampled_from(PIECES), max_size=20).map("".join))
def test_texts_of_plan_pieces_end_in_a_plan_or_one_error(text):
    ends_well(text)
    ends_well(PIECES[0] + text)


@given(st.sampled_from(TEXTS), st.integers(0, 2**32), st.integers(1, 4))
def test_broken_plans_end_in_a_plan_or_one_error(text, seed, breaks):
    chance = random.Random(seed)
    for _ in range(breaks):
        at, to = sorted(chance.randrange(len(text) + 1) for _ in range(2))
        to = min(to, at + chance.choice([0, 1, 1, 1, 5, 80]))
        new = chance.choice(["", "", chance.choice(PIECES), chr(chance.randrange(0x110000)), text[to:at:-1]])
        text = text[:at] + new + text[to:]
    ends_well(text)


@given(st.sampled_from(TEXTS), st.integers(0, 2**32))
def test_an_odd_plan_can_be_changed(text, seed):
    chance = random.Random(seed)
    plan, _ = read_plan(text)
    for _ in range(8):  # lines gone or elsewhere, as long as it is a plan
        lines = text.splitlines(keepends=True)
        line = lines.pop(chance.randrange(len(lines)))
        if chance.random() < 0.5:
            lines.insert(chance.randrange(len(lines) + 1), line)
        odd = "".join(lines)
        found = outcome(lambda given: read_plan(given)[0], odd)
        if isinstance(found, Plan):
            text, plan = odd, found
    changed = replace(plan, source=text, cells={**plan.cells, (1, 1, 1): parse_part("crate")}, title="", outputs={})
    changed = replace(changed, expectations=())
    assert read_plan(dumps(changed))[0] == changed


@given(st.binary(max_size=40))
def test_bytes_end_in_a_plan_or_one_error(tmp_path_factory, data):
    path = tmp_path_factory.mktemp("bytes") / "plan.toml"
    path.write_bytes(LANDING.encode()[:100] + data + LANDING.encode()[100:])
    found = outcome(load, path)
    assert found.path == str(path)
    assert isinstance(found, Plan) or str(found).startswith(f"{path}, line ")


@pytest.mark.parametrize("kind", PARTS)
def test_every_kind_survives_a_file(kind):
    text = f"{kind} east" if PARTS[kind].direction == "" else kind
    plan = Plan({(0, 0, 0): parse_part(text)})
    assert read_plan(dumps(plan))[0] == plan


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.toml")), ids=lambda path: path.stem)
def test_an_example_keeps_its_text_when_saved_and_its_comments_when_changed(path):
    text = path.read_bytes().decode()
    plan = load(path)
    assert dumps(plan) == text
    x, y, z = plan.size
    bigger = place(plan, (x, y, z), parse_part("insulator"))
    changed = dumps(bigger)
    assert loads(changed, path) == bigger
    assert [line for line in text.splitlines() if "# " in line and line not in changed.splitlines()] == []


def test_a_plan_can_be_pickled_whole():
    plan = loads(LANDING, "landing.toml")
    copy = pickle.loads(pickle.dumps(plan))
    assert (copy, copy.path, copy.source) == (plan, plan.path, plan.source)
