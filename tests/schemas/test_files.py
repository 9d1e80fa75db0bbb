"""The JSON Schemas of plans and briefs take what the readers take, and refuse slips an editor should mark."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from tickwright.errors import TickwrightError
from tickwright.kinds import PARTS, parse_part
from tickwright.plan import loads
from tickwright.schemas import brief_schema, plan_schema

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
SHELF = Path(__file__).resolve().parents[2] / "src" / "tickwright"
PLAN, BRIEF = Draft202012Validator(plan_schema()), Draft202012Validator(brief_schema())
PLANS = [
    path
    for root in (EXAMPLES, SHELF)
    for path in sorted(root.rglob("*.toml"))
    if "tickwright plan 1" in path.read_text("utf-8")
]
TEXT = """format = "tickwright plan 1"
title = "Lamp"
[legend]
"#" = "block"
b = "short-button"
r = "repeater east delay=2"
L = "lamp"
[[layer]]
rows = "###"
[[layer]]
rows = "brL"
[triggers]
press = [0, 0, 1]
[outputs]
lamp = [2, 0, 1]
[[expect]]
trigger = "press"
output = "lamp"
hold = "12 ticks"
within = "1 tick"
pulses = 1
"""


def test_the_schemas_are_schemas():
    Draft202012Validator.check_schema(plan_schema())
    Draft202012Validator.check_schema(brief_schema())
    assert len(PLANS) > 40


@pytest.mark.parametrize("path", PLANS, ids=lambda path: path.stem)
def test_every_plan_of_ours_keeps_to_the_schema(path):
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    assert [f"{error.json_path}: {error.message}" for error in PLAN.iter_errors(data)] == []


@pytest.mark.parametrize("path", sorted((EXAMPLES / "briefs").glob("*.toml")), ids=lambda path: path.stem)
def test_every_brief_of_ours_keeps_to_the_schema(path):
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    assert [f"{error.json_path}: {error.message}" for error in BRIEF.iter_errors(data)] == []


@pytest.mark.parametrize(
    ("was", "slip"),
    [
        ("tickwright plan 1", "tickwright plan 2"),
        ("title", "titel"),
        ("repeater east delay=2", "repeter east"),
        ("repeater east delay=2", "repeater"),
        ("repeater east delay=2", "repeater east delay=5"),
        ("repeater east delay=2", "repeater up"),
        ("repeater east delay=2", "repeater east dealy=2"),
        ("short-button", "short-button on=sideways"),
        ("press = [0, 0, 1]", "press = [0, 0]"),
        ("press = [0, 0, 1]", "press = [0, -1, 1]"),
        ("lamp = [2, 0, 1]", 'lamp = {cell = [2, 0, 1], shows = "level"}'),
        ('hold = "12 ticks"', "hold = 12"),
        ('hold = "12 ticks"', 'hold = "12"'),
        ('hold = "12 ticks"', 'holds = "12 ticks"'),
        ("pulses = 1", "pulses = true"),
        ('rows = "brL"', "rows = 3"),
        ('b = "short-button"', 'bb = "short-button"'),
    ],
)
def test_a_slip_is_marked_and_the_reader_refuses_it_too(was, slip):
    assert PLAN.is_valid(tomllib.loads(TEXT))
    loads(TEXT)
    text = TEXT.replace(was, slip, 1)
    assert text != TEXT
    assert not PLAN.is_valid(tomllib.loads(text))
    with pytest.raises(TickwrightError):
        loads(text)


@pytest.mark.parametrize("kind", PARTS.values(), ids=lambda kind: kind.name)
def test_every_way_to_write_a_part_is_taken(kind):
    legend = Draft202012Validator(plan_schema()["properties"]["legend"])
    written = [kind.name] if kind.direction is None or kind.default_direction is not None else []
    before = f"{kind.direction}=" if kind.direction else ""
    written += [f"{kind.name} {before}{side}" for side in kind.directions]
    for argument in kind.arguments:
        before = written[0]
        for value in (argument.choices[0], argument.choices[-1]):
            text = {True: "yes", False: "no"}[value] if isinstance(argument.default, bool) else value
            written.append(f"{before} {argument.name}={text}")
    for text in written:
        parse_part(text)
        assert legend.is_valid({"x": text}), text
