"""What commands answer with --json keeps to the schema, on every example; fields that it does not list are refused."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from tickwright.cli.app import COMMANDS as PROGRAM
from tickwright.schemas import COMMANDS, RECORDS, answers_schema, fields_of
from tickwright.schemas.records import ONE_PLAN

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
PLANS = sorted(path.stem for path in EXAMPLES.glob("*.toml"))
LONG = ("hour-counter", "hopper-clock", "drain-timer", "counter", "shuttle-clock")  # `why` and --full take long there
STRICT = answers_schema(strict=True)
# What is asked of every example; the others are asked of a few plans below.
OF_EVERY_PLAN = (
    ("run", "--for", "3 s"),
    ("measure",),
    ("check",),
    ("bill",),
    ("chart", "--for", "3 s"),
    ("export", "--svg", "--dry-run"),
    ("sheet", "--dry-run"),
    ("prove", "--claim", "settles", "--states", "300"),
)
OF_SOME = (
    ("measure", "taps", "--full"),
    ("measure", "latch", "--full"),
    ("measure", "torch-clock", "--full"),
    ("why", "taps"),
    ("why", "latch"),
    ("why", "toggle"),
    ("diagnose", "flat-loop-8"),
    ("diagnose", "flat-loop-2", "--what-if"),
    ("diagnose", "flat-loop-2", "--observed", "delay 0.3 s"),
    ("prove", "flat-loop-2", "--chart", "what it does"),
    ("prove", "taps", "--claim", "holds", "--at-most", "1 s"),
    ("compare", "taps", "--prove", "settles"),
    ("compare", "latch"),
    ("tune", "taps", "--hold", "2.5 s", "--within", "1 s"),
    ("tune", "flat-loop-2", "--chart", "what it does"),
    ("sweep", "taps", "--set", "2,0,1:delay=1..2", "--workers", "1"),
    ("sweep", "taps", "--chart", "what it does", "--workers", "1"),
    ("sweep", "taps", "--do", "0:press", "--for", "2 s", "--workers", "1"),
    ("sweep", "taps", "--set", "2,0,1:delay=1..2", "--dry-run"),
)
WITHOUT_PLAN = (
    ("choose", "--hold", "3 s"),
    ("choose", "--hold", "3 s", "--room", "2x2x2"),
    ("explain",),
    ("explain", "loop-never-fades"),
    ("parts",),
    ("parts", "repeater"),
    ("rules",),
    ("rules", "older-wire"),
    ("rules", "diff", "standard", "older-wire"),
    ("schema", "plan"),
    ("demo",),
)


def wrong(command: str, text: str) -> list[str]:
    """What in an answer goes against the schema of its command, at the end of the line that goes deepest."""
    schema = {**STRICT, "anyOf": [{"$ref": f"#/$defs/answer-{command}"}]}
    return [line for error in Draft202012Validator(schema).iter_errors(json.loads(text)) for line in leaves(error)]


def leaves(error) -> list[str]:
    if not error.context:
        return [f"{error.json_path}: {error.message[:200]}"]
    return [line for inner in error.context for line in leaves(inner)]


def test_the_schema_is_one_and_knows_every_command():
    Draft202012Validator.check_schema(answers_schema())
    Draft202012Validator.check_schema(STRICT)
    assert set(COMMANDS) == set(PROGRAM) - {"workbench"}
    for record in RECORDS:
        names = [field.name for field in fields_of(record)[0]]
        assert len(names) == len(set(names)), record


@pytest.mark.parametrize("plan", PLANS)
def test_what_is_asked_of_every_plan_is_answered_by_the_schema(call, plan):
    for name, *words in OF_EVERY_PLAN:
        if plan in LONG and name in ("prove", "chart"):
            continue
        _, out, _ = call(name, EXAMPLES / f"{plan}.toml", *words, "--json")
        assert wrong(name, out) == [], name


@pytest.mark.parametrize("words", OF_SOME, ids=" ".join)
def test_what_is_asked_of_some_plans_is_answered_by_the_schema(call, words, tmp_path):
    name, plan, *more = words
    if name == "sweep":
        more += ["--into", str(tmp_path / "points.sqlite")]
    code, out, _ = call(name, EXAMPLES / f"{plan}.toml", *more, "--json")
    assert code in (0, 1)
    assert wrong(name, out) == []


@pytest.mark.parametrize("words", WITHOUT_PLAN, ids=" ".join)
def test_what_takes_no_plan_is_answered_by_the_schema(call, words):
    code, out, _ = call(*words, "--json")
    assert code in (0, 1)
    assert wrong(words[0], out) == []


def test_a_mended_plan_is_answered_by_the_schema(call, tmp_path):
    plan = EXAMPLES / "standing-light.toml"
    text = plan.read_text(encoding="utf-8")
    (tmp_path / "plan.toml").write_text(text, encoding="utf-8")
    _, out, _ = call("diagnose", tmp_path / "plan.toml", "--mend", tmp_path / "mended.toml", "--json")
    assert wrong("diagnose", out) == []


def test_a_composed_and_a_placed_answer_keep_to_the_schema(call, tmp_path):
    brief = EXAMPLES / "briefs" / "no-whole-ticks.toml"
    _, out, _ = call("compose", brief, "--save", tmp_path / "made", "--json")
    assert wrong("compose", out) == []
    netlist = tmp_path / "wire.blif"
    netlist.write_text(".model wire\n.inputs a\n.outputs b\n.names a b\n1 1\n.end\n", encoding="utf-8")
    _, out, _ = call("place", netlist, "--save", tmp_path / "laid", "--minutes", "0.05", "--json")
    assert wrong("place", out) == []


def test_errors_and_several_plans_keep_to_the_schema(call, tmp_path):
    bad = tmp_path / "bad.toml"
    bad.write_text("format = 3\n", encoding="utf-8")
    for name in ONE_PLAN:
        several = [] if name in ("tune", "why") else [(EXAMPLES / "latch.toml", bad)]
        for plans in ((bad,), *several):
            words = {"prove": ["--claim", "settles"], "export": ["--svg", "--dry-run"]}.get(name, [])
            code, out, _ = call(name, *plans, *words, "--json")
            assert code == 2
            assert wrong(name, out) == [], name


def test_an_answer_that_breaks_the_schema_is_seen(call):
    out = call("bill", EXAMPLES / "latch.toml", "--json")[1]
    data = json.loads(out)
    for broken in ({**data, "more": 1}, {**data, "number": "3"}, {key: data[key] for key in data if key != "items"}):
        assert wrong("bill", json.dumps(broken)) != []
    plain = {**answers_schema(), "anyOf": [{"$ref": "#/$defs/answer-bill"}]}
    assert Draft202012Validator(plain).is_valid({**data, "more": 1})  # what readers are told to pass over
