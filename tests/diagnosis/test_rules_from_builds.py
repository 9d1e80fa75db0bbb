"""Rules from builds: worlds with other rules are found from what was measured in them by the reference engine."""

from __future__ import annotations

import json
import random

import pytest

from tickwright import check_charts, load_rules
from tickwright.diagnosis.world import bench_names, bench_plan, fit_rules, load_measured, measured_text, with_values
from tickwright.diagnosis.world.bench import bench_measured
from tickwright.diagnosis.world.runs import Runs
from tickwright.errors import PlanError
from tickwright.rules import values_of
from variations import World, found_in, measured_in

LAMP = '[[measured]]\nplan = "bench:button-lamp"\nobserved = ["lamp: on from go for {}"]\n'
FEW = ("button-lamp", "long-button", "torch-line", "through-lamp")


@pytest.fixture(name="measured")
def file_of(tmp_path):
    """Write a file of what was measured, and read it."""

    def write(text: str):
        path = tmp_path / "measured.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def test_every_circuit_of_the_bench_keeps_its_chart_under_standard():
    assert len(bench_names()) == 31
    for name in bench_names():
        assert all(verdict.passed for verdict in check_charts(bench_plan(name))), name


def test_a_lamp_that_glows_longer_is_a_longer_button_or_a_longer_glow_until_more_is_built(measured):
    # 20 steps of the button and 4 of the lamp are 24; 28 are 8 of the lamp or 24 of the button, by hand.
    fitted = fit_rules(load_measured(measured(LAMP.format("1.4 s"))))
    assert [one.changes for one in fitted.explained] == [{"button.short": 24}, {"lamp.off_delay": 8}]
    assert fitted.next_circuit is not None
    assert "wire.loss" in fitted.undecided
    # The long button's lamp tells: 30 + 8.
    more = LAMP.format("1.4 s") + (
        '[[measured]]\nplan = "bench:long-button"\nobserved = ["lamp: on from go + 0.1 s for 1.9 s"]\n'
    )
    fitted = fit_rules(load_measured(measured(more)))
    assert [one.changes for one in fitted.explained] == [{"lamp.off_delay": 8}]
    assert fitted.next_circuit is None


def test_two_values_that_alter_the_same_circuits_are_told_apart(measured, monkeypatch):
    world = World({"button.short": 11, "lamp.off_delay": 5})
    monkeypatch.setattr("variations.bench_names", lambda: FEW)
    fitted = fit_rules(load_measured(measured(measured_in(world, 0, random.Random(1)))))
    assert found_in(fitted, world)
    assert [one.changes for one in fitted.explained] == [world.changes]


def test_a_clock_that_is_off_leaves_values_that_will_do_as_well(measured):
    fitted = fit_rules(load_measured(measured(LAMP.format("1.5 s, give or take 0.2 s"))))
    lamp = next(one for one in fitted.explained if "lamp.off_delay" in one.changes)
    assert lamp.changes == {"lamp.off_delay": 10}  # 30 steps, just so
    assert lamp.as_well["lamp.off_delay"] == [6, 7, 8, 9, 11, 12, 13, 14]


def test_what_standard_gives_needs_no_change(measured):
    fitted = fit_rules(load_measured(measured(measured_text(FEW))))
    assert [one.changes for one in fitted.explained] == [{}]


def test_both_engines_say_the_same_of_a_changed_world():
    changes = {"lamp.off_delay": 9, "torch.delay": 5, "repeater.steps_per_delay": 3}
    rules = load_rules()
    for name in bench_names():
        if name != "ejector-plate":  # five minutes on the reference engine
            runs = Runs([bench_measured(name)], rules)
            assert runs.judged(0, changes).broken == runs._plain(0, tuple(sorted(changes.items()))).broken, name


def test_a_rule_set_with_values_has_them():
    rules = with_values(load_rules(), {"torch.delay": 5, "conducts.lamp": False})
    changed = {name for name, value in values_of(rules).items() if values_of(load_rules())[name] != value}
    assert changed == {"torch.delay", "conducts.lamp"}


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("", "Nothing was measured"),
        ('[[measured]]\nplan = "bench:button-lamb"\nobserved = ["lamp: never on"]', "button-lamp"),
        ('[[measured]]\nplan = "bench:button-lamp"\nobserved = ["lamb: never on"]', "lamp"),
        ('[[measured]]\nplan = "bench:button-lamp"\nobserved = []', "Nothing was observed"),
        ('[[measured]]\nplan = "bench:button-lamp"\nobserved = ["lamp: never on"]\nsecen = 1', "has no"),
        ('[[measured]]\nplan = "gone.toml"\nobserved = ["lamp: never on"]', "no file"),
        ('[[measured]]\nplan = "bench:button-lamp"\nobserved = ["lamp: never on"]\nwatch = "soon"', "soon"),
    ],
)
def test_what_cannot_be_read_is_said_with_its_place(measured, text, complaint):
    with pytest.raises(PlanError, match=complaint):
        load_measured(measured(text))


def test_the_command_writes_a_rule_set_that_gives_what_was_measured(call, measured, tmp_path):
    path, world = measured(LAMP.format("1.4 s")), tmp_path / "world.toml"
    code, out, _ = call("rules", "fit", path, "--save", world, "--json")
    found = json.loads(out)
    assert code == 0
    assert found["explanations"][0]["changes"] == [{"value": "button.short", "was": 20, "is": 24, "or": []}]
    assert load_rules(str(world)).button.short == 24
    code, out, _ = call("rules", "fit", path, "--based-on", world)
    assert code == 0
    assert "as they are" in out


def test_the_command_says_that_nothing_fits(call, measured):
    text = LAMP.format("1.4 s") + LAMP.format("1.6 s")
    code, out, _ = call("rules", "fit", measured(text))
    assert code == 1
    assert "No rule set" in out


def test_the_bench_is_written_with_its_sheet_and_form(call, tmp_path):
    code, out, _ = call("rules", "bench", "--save", tmp_path / "bench")
    assert code == 0
    assert "31 circuits" in out
    assert "button-lamp" in (tmp_path / "bench" / "sheet.md").read_text("utf-8")
    assert len(load_measured(tmp_path / "bench" / "measured.toml")) == 31


def test_a_value_that_alters_a_circuit_only_together_with_another_is_found(measured, monkeypatch):
    # The short pulses of the sensor light no lamp under standard, whose off delay then shows in nothing there.
    few = ("button-lamp", "through-lamp", "long-button", "sensor-comparators")
    monkeypatch.setattr("variations.bench_names", lambda: few)
    world = World({"lamp.off_delay": 16, "repeater.steps_per_delay": 3})
    fitted = fit_rules(load_measured(measured(measured_in(world, 0, random.Random(1)))))
    assert found_in(fitted, world), [one.changes for one in fitted.explained]


def test_values_that_will_do_as_well_hide_no_other_explanation(measured):
    """With clocks that are off, dozens of values of one name fit: one of each name is tried before all of them."""
    world = World({"plate.counting_look": 24, "torch.burnout_rest": 248, "plate.item_look": 19})
    whole = load_measured(measured(measured_in(world, 4, random.Random("worlds 6"))))
    few = [one for one in whole if one.name in ("bench:counting-plate", "bench:ejector-plate", "bench:torch-burn-out")]
    found = fit_rules(few)
    assert {frozenset(one.changes) for one in found.explained} > {frozenset(world.changes)}
    assert found_in(found, world)
