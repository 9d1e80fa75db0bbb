"""Rule sets as data: the two there are, files of the user's, and what is said of wrong ones."""

from __future__ import annotations

import pytest

from tickwright import loads, measure, run
from tickwright.errors import PlanError, RuleSetError
from tickwright.rules import load_rules, values_of

LAMP = """format = "tickwright plan 1"
rules = "{rules}"
legend = {{"#" = "block", b = "short-button", L = "lamp"}}
layer = [{{rows = "##"}}, {{rows = "bL"}}]
triggers = {{press = [0, 0, 1]}}
outputs = {{lamp = [1, 0, 1]}}
"""


def test_older_wire_differs_in_pointing_alone():
    standard, older = values_of(load_rules("standard")), values_of(load_rules("older-wire"))
    assert {key for key in standard if standard[key] != older[key]} == {"wire.pointing"}
    assert list(standard) == list(older)


def test_a_file_of_the_users_changes_what_it_names(tmp_path):
    (tmp_path / "slow.toml").write_text('based_on = "older-wire"\n[button]\nshort = 40\n', encoding="utf-8")
    rules = load_rules("slow.toml", tmp_path)
    assert (rules.name, rules.button.short, rules.button.long, rules.wire.pointing) == ("slow", 40, 30, "through")
    (tmp_path / "slower.toml").write_text('based_on = "slow.toml"\n[lamp]\noff_delay = 10\n', encoding="utf-8")
    plan = loads(LAMP.format(rules="slower.toml"), tmp_path / "lamp.toml")
    assert measure(plan)[0].hold_steps == 50
    assert run(plan, ["0:press"], 60).rules == "slower"


def test_what_carries_is_data_too(tmp_path):
    (tmp_path / "bare.toml").write_text('based_on = "standard"\n[carries]\nblock = false\n', encoding="utf-8")
    with pytest.raises(PlanError, match=r"short-button at \(0, 0, 1\) has no support"):
        loads(LAMP.format(rules="bare.toml"), tmp_path / "lamp.toml")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("[torch]\ndelay = 4\n", 'says no based_on: write, say, based_on = "standard" at its top.'),
        ('based_on = "mine.toml"\n', "is based on itself"),
        ('based_on = "standart"\n', 'There is no rule set "standart". Did you mean "standard"?'),
        ('based_on = "standard"\n[torch]\ndelai = 4\n', '[torch] has no "delai". Did you mean "delay"?'),
        ('based_on = "standard"\n[torches]\ndelay = 4\n', 'there is no "torches". Did you mean "torch"?'),
        ('based_on = "standard"\n[torch]\ndelay = "4"\n', "Expected `int`, got `str` - at `$.torch.delay`"),
        ('based_on = "standard"\n[torch]\ndelay = 0\n', "torch.delay is 0: it must be 1 to 1000000."),
        ('based_on = "standard"\n[conducts]\nwirre = true\n', '[conducts] names the part "wirre", which is none.'),
        ('based_on = "standard"\n[wire]\npointing = "round"\n', "$.wire.pointing"),
        ('based_on = "standard"\n[item]\nvanish = 9\n', "item.vanish is 9, item.rest 10: a stack must rest before"),
        ("based_on = \n", "cannot be read"),
    ],
)
def test_a_wrong_file_gets_one_message(tmp_path, text, message):
    (tmp_path / "mine.toml").write_text(text, encoding="utf-8")
    with pytest.raises(RuleSetError) as error:
        load_rules("mine.toml", tmp_path)
    assert message in str(error.value)
    assert "\n" not in str(error.value)
