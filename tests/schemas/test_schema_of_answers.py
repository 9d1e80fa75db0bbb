"""What commands answer with --json keeps to the schema, on every example; fields that it does not list are refused.

The fixture `call` holds every answer to it, here and in all other tests.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from answers import held, wrong
from tickwright.cli.app import COMMANDS as PROGRAM
from tickwright.design import table
from tickwright.schemas import COMMANDS, RECORDS, answers_schema, fields_of
from tickwright.schemas.records import ONE_PLAN

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
PLANS = sorted(path.stem for path in EXAMPLES.glob("*.toml"))
# Where commands take long: from two seconds to some minutes of an hour's or a clock's steps.
LONG = {
    "counter": ("tune",),
    "hopper-clock": ("diagnose", "tune", "why"),
    "hour-counter": ("chart", "compare", "diagnose", "tune", "why"),
    "shuttle-clock": ("tune",),
    "taps-loop": ("tune",),
}
# What is asked of every example; the rest is asked of a few plans below.
OF_EVERY_PLAN = (
    ("run", "--for", "3 s"),
    ("measure",),
    ("check",),
    ("bill",),
    ("chart", "--for", "3 s"),
    ("export", "--svg", "--dry-run"),
    ("sheet", "--dry-run"),
    ("prove", "--claim", "settles", "--states", "300"),
    ("diagnose",),
    ("why",),
    ("compare",),
    ("tune", "--hold", "2 s", "--within", "1 s"),
    ("sweep", "--dry-run"),
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
    ("tune", "flat-loop-2", "--chart", "what it does"),
    ("sweep", "taps", "--set", "2,0,1:delay=1..2", "--workers", "1"),
    ("sweep", "taps", "--chart", "what it does", "--workers", "1"),
    ("sweep", "taps", "--do", "0:press", "--for", "2 s", "--workers", "1"),
    ("sweep", "taps", "--set", "2,0,1:delay=1..2", "--dry-run"),
)
WITHOUT_PLAN = (
    ("choose", "--hold", "3 s"),
    ("explain",),
    ("explain", "loop-never-fades"),
    ("parts",),
    ("parts", "repeater"),
    ("rules",),
    ("rules", "older-wire"),
    ("rules", "diff", "standard", "older-wire"),
    ("rules", "bench"),
    ("schema", "plan"),
)
BRIEF = """format = "tickwright brief 1"
[inputs]
press = {part = "short-button"}
[outputs]
lamp = {drives = "lamp"}
[[chart]]
shows = ["lamp: on from press + 0.5 s for 2 s"]
"""
BRIEFS = sorted(path.stem for path in (EXAMPLES / "briefs").glob("*.toml"))


def test_the_schema_is_one_and_knows_every_command():
    Draft202012Validator.check_schema(answers_schema())
    Draft202012Validator.check_schema(answers_schema(strict=True))
    assert set(COMMANDS) == set(PROGRAM) - {"workbench"}
    for record in RECORDS:
        fields, is_open = fields_of(record)
        names = [field.name for field in fields]
        assert len(names) == len(set(names)), record
        assert not is_open or record == "schema"


def answered(call, name, *words):
    """The answer, which the program's caller holds to the schema."""
    code, out, err = call(name, *words, "--json")
    assert (code in (0, 1), err) == (True, ""), out
    return json.loads(out)


@pytest.mark.parametrize("plan", PLANS)
def test_what_is_asked_of_every_plan_is_answered_by_the_schema(call, plan, tmp_path):
    for name, *words in OF_EVERY_PLAN:
        if name not in LONG.get(plan, ()):
            into = ("--into", tmp_path / "points.sqlite") if name == "sweep" else ()
            assert answered(call, name, EXAMPLES / f"{plan}.toml", *words, *into)


@pytest.mark.parametrize("words", OF_SOME, ids=" ".join)
def test_what_is_asked_of_some_plans_is_answered_by_the_schema(call, words, tmp_path):
    name, plan, *more = words
    if name == "sweep":
        more += ["--into", str(tmp_path / "points.sqlite")]
    assert answered(call, name, EXAMPLES / f"{plan}.toml", *more)


@pytest.mark.parametrize("words", WITHOUT_PLAN, ids=" ".join)
def test_what_takes_no_plan_is_answered_by_the_schema(call, words):
    assert answered(call, *words)


def test_the_table_of_designs_is_answered_by_the_schema(call, monkeypatch):
    monkeypatch.setattr(table, "LAST_TICK", 12)
    assert set(answered(call, "choose", "--table")) == set(table.TABLE_TRIGGERS)


def test_advice_that_takes_several_wishes_is_answered_by_the_schema(call):
    words = ("--hold", "3 s", "--room", "2x2x2", "--delay-at-most", "2 steps", "--have", "comparator 0")
    data = answered(call, "choose", *words)
    assert any(one["with"] for one in data["relax"])


def test_a_mended_plan_is_answered_by_the_schema(call, tmp_path):
    plan = EXAMPLES / "standing-light.toml"
    (tmp_path / "plan.toml").write_text(plan.read_text(encoding="utf-8"), encoding="utf-8")
    assert answered(call, "diagnose", tmp_path / "plan.toml", "--mend", tmp_path / "mended.toml")


def test_a_conversation_is_answered_by_the_schema(call):
    words = (EXAMPLES / "flat-loop-2.toml", "--ask")
    first = answered(call, "diagnose", *words)
    assert (first["next"]["kind"], len(first["rounds"])) == ("lit", 1)
    data = answered(call, "diagnose", *words, "--answer", "0,0,1", "--answer", "don't know")
    assert len(data["rounds"]) == 3
    assert all(one["mistakes"] for one in data["rounds"][-1]["leading"])


def test_what_stands_in_a_cell_is_told_as_the_part_is_written(call):
    seen = ("--observed", "2,0,1: repeater east delay=2", "--observed", "press -> lamp: never on")
    data = answered(call, "diagnose", EXAMPLES / "flat-loop-2.toml", *seen)
    assert [one["part"] for one in data["observed"]] == ["repeater east delay=2", None]


def test_rules_that_were_found_are_answered_by_the_schema(call, tmp_path):
    measured = tmp_path / "measured.toml"
    measured.write_text(
        '[[measured]]\nplan = "bench:button-lamp"\nobserved = ["lamp: on from go for 1.4 s"]\n', encoding="utf-8"
    )
    data = answered(call, "rules", "fit", measured, "--save", tmp_path / "world.toml")
    assert data["explanations"][0]["changes"]
    bench = answered(call, "rules", "bench", "--save", tmp_path / "bench")
    assert (tmp_path / "bench" / f"{bench['circuits'][0]['name']}.toml").exists()


def test_a_search_of_layouts_is_answered_by_the_schema(call, tmp_path):
    words = ("inverter", "--box", "2x1x2", "--kinds", "block,torch,lever", "--workers", "1")
    assert answered(call, "discover", *words, "--into", tmp_path / "found.json")["winners"]


@pytest.mark.parametrize("brief", BRIEFS)
def test_every_brief_is_answered_by_the_schema(call, brief, tmp_path):
    """Composing takes minutes; what ends before it begins to lay says all that there is but the plan's own figures."""
    assert answered(call, "compose", EXAMPLES / "briefs" / f"{brief}.toml", "--save", tmp_path, "--minutes", "0.0001")


def test_a_characterised_module_keeps_to_the_schema(call):
    found = answered(call, "characterise", "tile:not", "--rules", "standard")
    assert found["arcs"][0] == {
        "input": "a",
        "edge": "on",
        "output": "out",
        "to": "off",
        "least_steps": 2,
        "most_steps": 2,
    }
    assert (found["orders"], found["states"]) == (10, 2)


def test_a_composed_and_a_placed_answer_keep_to_the_schema(call, tmp_path):
    brief = tmp_path / "lamp.toml"
    brief.write_text(BRIEF, encoding="utf-8")
    assert answered(call, "compose", brief, "--save", tmp_path / "made")["proof"]["verdict"] == "proved"
    netlist = tmp_path / "wire.blif"
    netlist.write_text(".model wire\n.inputs a\n.outputs b\n.names a b\n1 1\n.end\n", encoding="utf-8")
    assert answered(call, "place", netlist, "--save", tmp_path / "laid", "--minutes", "0.05")["placed"]


def test_errors_and_several_plans_keep_to_the_schema(call, tmp_path):
    bad = tmp_path / "bad.toml"
    bad.write_text("format = 3\n", encoding="utf-8")
    for name in ONE_PLAN:
        several = [] if name in ("tune", "why") else [(EXAMPLES / "latch.toml", bad)]
        for plans in ((bad,), *several):
            words = {"prove": ["--claim", "settles"], "export": ["--svg", "--dry-run"]}.get(name, [])
            code, out, _ = call(name, *plans, *words, "--json")
            assert (code, bool(out)) == (2, True)


def test_an_answer_that_breaks_the_schema_is_seen(call):
    out = call("bill", EXAMPLES / "latch.toml", "--json")[1]
    data = json.loads(out)
    for broken in ({**data, "more": 1}, {**data, "number": "3"}, {key: data[key] for key in data if key != "items"}):
        assert wrong("bill", json.dumps(broken)) != []
        with pytest.raises(pytest.fail.Exception, match="goes against its schema"):
            held(("bill", "--json"), json.dumps(broken))
    plain = {**answers_schema(), "anyOf": [{"$ref": "#/$defs/answer-bill"}]}
    assert Draft202012Validator(plain).is_valid({**data, "more": 1})  # what readers are told to pass over
