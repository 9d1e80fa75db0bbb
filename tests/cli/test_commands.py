"""The command line as a user meets it: documents, exit codes, and one message for bad input."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from vcd.reader import TokenKind, tokenize

from tickwright.cli import demo

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
PLAN = """format = "tickwright plan 1"
title = "Gangway lamp"
[legend]
"#" = "block"
b = "short-button"
r = "repeater east delay=2"
w = "wire"
L = "lamp"
[[layer]]
rows = "####"
[[layer]]
rows = "brwL"
[triggers]
press = [0, 0, 1]
[outputs]
lamp = [3, 0, 1]
"""


@pytest.fixture(name="plan")
def plan_file(tmp_path):
    path = tmp_path / "lamp.toml"
    path.write_text(PLAN, encoding="utf-8")
    return path


def test_run_prints_the_value_of_step_0_and_each_change(call, plan):
    # Pressed in step 5: the repeater's 2 ticks later, in step 9, the lamp is on; the button is off in step 25, the
    # repeater in 29, the lamp in 33.
    code, out, _ = call("run", plan, "--do", "5:press", "--for", "50 steps", "--json")
    assert code == 0
    assert json.loads(out) == {
        "plan": str(plan),
        "rules": "standard",
        "engine": "reference",
        "steps": 50,
        "outputs": {"lamp": [[0, 0], [9, 15], [33, 0]]},
        "findings": [],
    }


def test_run_takes_acts_in_any_order_of_steps_and_watches_more_cells(call, plan):
    acts = ["--do", "30:3,0,1:place=block", "--do", "0:press"]
    code, out, _ = call("run", plan, *acts, "--for", "2 s", "--watch", "2,0,1", "--json", "--rules", "older-wire")
    data = json.loads(out)
    assert (code, data["rules"], data["outputs"]["2,0,1"]) == (0, "older-wire", [[0, 0], [4, 15], [24, 0]])
    assert data["outputs"]["lamp"] == [[0, 0], [4, 15], [28, 0]]


def test_run_draws_lanes_and_writes_a_vcd_that_a_strict_reader_reads(call, plan, tmp_path):
    vcd = tmp_path / "lamp.vcd"
    code, out, _ = call("run", plan, "--do", "5:press", "--for", "50 steps", "--vcd", vcd)
    assert code == 0
    assert "lamp" in out
    assert "seconds" in out
    changes, now = [], 0
    with vcd.open("rb") as file:
        for token in tokenize(file):
            if token.kind is TokenKind.CHANGE_TIME:
                now = token.data
            elif token.kind is TokenKind.CHANGE_VECTOR:
                changes.append((now, token.data.value))
    assert [change for change in changes if change[0]] == [(450, 15), (1650, 0)]  # 50 ms a step


def test_lanes_are_plain_where_the_terminal_is(call, plan, monkeypatch):
    monkeypatch.setenv("COLUMNS", "20")
    code, out, _ = call("run", plan, "--for", "1 s")
    assert code == 0
    assert max(map(len, out.splitlines())) <= 44


def test_measure_answers_in_the_words_of_the_contract(call, plan):
    code, out, _ = call("measure", plan, "--json")
    data = json.loads(out)
    (result,) = data["results"]
    expected = {
        "trigger": "press", "output": "lamp", "delay_steps": 4, "hold_steps": 24, "pulses": [[4, 24]], "ends": True,
        "kind": "one-shot", "minimum_trigger_steps": 1, "margin_steps": 19, "trigger_length_steps": 20,
    }  # fmt: skip
    assert code == 0
    assert {key: result[key] for key in expected} == expected


def test_measure_shows_seconds_of_a_slower_world(call, plan):
    code, out, _ = call("measure", plan, "--rate", "10", "--json")
    (result,) = json.loads(out)["results"]
    assert (code, result["hold_steps"], result["hold_seconds"]) == (0, 24, 2.4)
    assert "10 steps a second" in call("measure", plan, "--rate", "10")[1]


def test_check_passes_fails_and_reports(call, plan, tmp_path):
    report = tmp_path / "report.xml"
    assert call("check", plan)[0] == 2  # it expects nothing
    wish = '[[expect]]\ntrigger = "press"\noutput = "lamp"\nhold = "{}"\npulses = 1\n'
    plan.write_text(PLAN + wish.format("12 ticks"), encoding="utf-8")
    assert call("check", plan)[0] == 0
    plan.write_text(PLAN + wish.format("12 ticks") + "level_at_least = 15\n", encoding="utf-8")
    assert "level at least 15\n" in call("check", plan)[1]  # once, not what was seen and what was expected
    plan.write_text(PLAN + wish.format("2 s"), encoding="utf-8")
    code, out, _ = call("check", plan, "--junit", report, "--json")
    assert code == 1
    assert json.loads(out)["failed"] == 1
    assert "expected 2 s (20 ticks), measured 1.2 s (12 ticks)" in report.read_text(encoding="utf-8")


def test_a_plan_that_expects_nothing_is_named_and_spoils_no_batch(call, plan, tmp_path):
    good = tmp_path / "good.toml"
    wish = '[[expect]]\ntrigger = "press"\noutput = "lamp"\n'
    good.write_text(PLAN + wish + 'hold = "12 ticks"\nminimum_trigger_at_most = "2 s"\n', encoding="utf-8")
    code, out, _ = call("check", plan, good)
    assert code == 0
    assert f"{plan}\n  expects nothing" in out
    assert "minimum trigger 0.05 s (0.5 ticks), expected at most 2 s (20 ticks)" in out
    code, out, _ = call("check", plan, good, "--json")
    document = json.loads(out)
    assert (code, document["without"], document["passed"], document["failed"]) == (0, [str(plan)], 2, 0)
    good.write_text(PLAN + wish + 'hold = "11 ticks"\n', encoding="utf-8")
    assert call("check", plan, good)[0] == 1
    code, _, err = call("check", plan, plan)
    assert (code, "expects nothing" in err) == (2, True)


def test_a_trigger_that_is_a_block_is_told_with_file_and_line(call, plan):
    text = PLAN.replace("press = [0, 0, 1]", "press = [0, 0, 0]")
    assert text != PLAN
    plan.write_text(text, encoding="utf-8")
    line = next(number for number, one in enumerate(text.splitlines(), 1) if "press = [0, 0, 0]" in one)
    code, _, err = call("measure", plan)
    assert code == 2
    assert f"{plan}, line {line}, column" in err
    assert 'The trigger "press" is a block, which cannot be pressed' in err


def test_the_bill_has_the_items(call, tmp_path):
    path = tmp_path / "crates.toml"
    path.write_text(
        'format = "tickwright plan 1"\nlegend = {c = "crate items=100", h = "hopper into=east items=58"}\n'
        'layer = [{rows = "hc"}]\n',
        encoding="utf-8",
    )
    assert "158 (2 stacks of 64 and 30)" in " ".join(call("bill", path)[1].split())
    assert json.loads(call("bill", path, "--json")[1])["items"] == 158


def test_every_example_keeps_its_expectations(call):
    plans = sorted(EXAMPLES.glob("*.toml"))
    assert len(plans) >= 15
    code, out, _ = call("check", *plans, "--json")
    failed = [result for result in json.loads(out)["results"] if not result["passed"]]
    assert (code, failed) == (0, [])


def test_parts_and_rules_are_listed(call):
    assert {part["kind"] for part in json.loads(call("parts", "--json")[1])["parts"]} >= {"wire", "pull-piston"}
    assert "delay=1..4" in call("parts", "repeater")[1]
    assert json.loads(call("rules", "standard", "--json")[1])["values"]["torch.delay"] == 2
    differences = json.loads(call("rules", "diff", "standard", "older-wire", "--json")[1])["differences"]
    assert differences == [{"value": "wire.pointing", "a": "joined", "b": "through"}]


def test_a_bill_counts_parts_and_prices_them_by_the_users_table(call, plan, tmp_path):
    data = json.loads(call("bill", plan, "--json")[1])
    assert (data["number"], data["total"]) == (8, 8)
    prices = tmp_path / "prices.toml"
    prices.write_text("[prices]\nblock = 0.5\nwire = 1\nlamp = 4\nrepeater = 3\nshort-button = 1\n", encoding="utf-8")
    data = json.loads(call("bill", plan, "--prices", prices, "--json")[1])
    assert data["lines"][0] == {"kind": "block", "number": 4, "price": 0.5, "cost": 2.0}
    assert data["total"] == 11
    assert "total" in call("bill", plan)[1]
    prices.write_text("[prices]\nblock = 0.5\n", encoding="utf-8")
    assert call("bill", plan, "--prices", prices)[0] == 2


def test_the_demo_tells_its_story_from_runs(call, monkeypatch):
    found = []
    real = demo.composed
    monkeypatch.setattr(demo, "composed", lambda file: found.append(real(file)) or found[0])
    code, out, _ = call("demo")
    assert code == 0
    assert "Saltmarsh ferry landing" in out
    assert "WCAG 2.3.1" in out
    gate, _ = found[0]
    assert f"{len(gate.plan.cells)} parts in {' x '.join(map(str, gate.plan.size))} cells" in out
    assert "4 of 4 claims are kept in runs" in out
    assert f"{gate.proof.states:,} states: proved" in out
    monkeypatch.setattr(demo, "composed", lambda _: found[0])  # composed once: it takes seconds
    data = json.loads(call("demo", "--json")[1])
    assert data["composed"] == gate.as_data(None)
    assert data["composed"]["composed"]
    assert len(data["circuits"]) == 3
    assert all(circuit["lamp"]["kind"] == "one-shot" for circuit in data["circuits"])
    assert data["too_short"]["kind"] == "train"


def test_the_demo_ends_without_the_gate_where_the_fast_engine_is_missing(call, monkeypatch):
    monkeypatch.setattr(demo, "is_installed", lambda _: False)
    code, out, _ = call("demo")
    assert code == 0
    assert "needs the fast engine, which is not installed here" in out
    assert json.loads(call("demo", "--json")[1])["composed"] is None


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["run", "nowhere.toml"], 'There is no file "nowhere.toml"'),
        (["run", "PLAN", "--do", "0:pres"], 'neither a trigger of the plan nor a cell x,y,z. Did you mean "press"?'),
        (["run", "PLAN", "--do", "0:press:flip"], 'A short-button at (0, 0, 1) cannot take "flip"'),
        (["run", "PLAN", "--do", "x:press"], 'The step "x" in "x:press" is not a whole number from 0'),
        (["run", "PLAN", "--do", "0:press:place=wier"], 'There is no part "wier". Did you mean "wire"?'),
        (["run", "PLAN", "--for", "12"], 'The duration "12" has no unit'),
        (["run", "PLAN", "--for", "0.03 s"], 'use "0 s" or "0.05 s"'),
        (["run", "PLAN", "--for", "0 s"], "A run of 0 steps cannot be made"),
        (["run", "PLAN", "--rules", "standart"], 'There is no rule set "standart". Did you mean "standard"?'),
        (["run", "PLAN", "--engine", "quick"], 'There is no engine "quick"'),
        (["run", "PLAN", "--order", "random"], 'There is no order "random"'),
        (["run", "PLAN", "--watch", "1,2"], '"1,2" is no cell to watch'),
        (["run", "PLAN", "--vcd", "no/such/folder.vcd"], "no/such/folder.vcd"),
        (["measure", "PLAN", "--trigger", "pres"], 'The plan has no trigger "pres". Did you mean "press"?'),
        (["measure", "PLAN", "--rate", "0"], "A world of 0 steps a second cannot be shown"),
        (["parts", "reapeter"], 'There is no part "reapeter". Did you mean "repeater"?'),
        (["rules", "diff", "standard"], "Write tickwright rules"),
    ],
)
def test_bad_input_gets_one_message_and_exit_code_2(call, plan, words, message):
    code, out, err = call(*(plan if word == "PLAN" else word for word in words))
    assert (code, out) == (2, "")
    assert message in err
    assert err.startswith("tickwright: ")
    assert err.count("\n") == 1


FUL, TOLD = '"--ful"', "--help tells what there is."


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("measur", "x"), 'There is no command "measur". Did you mean "measure"?'),
        (
            ("measure", "x", "--ful"),
            f"There is no option {FUL} here. Did you mean --full or --rules? tickwright measure {TOLD}",
        ),
        (
            ("measure", "x", "--rate", "abc"),
            "Invalid value for '--rate': 'abc' is not a valid float. tickwright measure --help tells what there is.",
        ),
        (("place", "x.blif"), "Missing option '--save'. tickwright place --help tells what there is."),
        (("run",), "Missing argument 'PLAN...'. tickwright run --help tells what there is."),
    ],
)
def test_what_is_typed_wrong_gets_one_message_as_all_else_does(call, words, message):
    assert call(*words) == (2, "", f"tickwright: {message}\n")
    code, out, err = call(*words, "--json")
    assert (code, json.loads(out)["error"]["message"], err) == (2, message, "")


def test_rules_to_fit_to_are_asked_for(call):
    code, _, err = call("rules", "fit")
    assert (code, "tickwright rules fit MEASURED" in err) == (2, True)
