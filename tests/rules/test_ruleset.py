"""Rule sets as data: the two there are, files of the user's, and what is said of wrong ones."""

from __future__ import annotations

import pytest

from tickwright import loads, measure, run
from tickwright.errors import PlanError, RuleSetError
from tickwright.rules import confine_rules, load_rules, values_of

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


BASE = 'based_on = "standard"\n'
NESTED = f"x = {'[' * 5_000}{']' * 5_000}\n"
RULE = 'a line is a [table], a # comment, or name = value with text in quotes, such as "w" = "wire".'

# (the file's text, what is said after its name)
WRONG = [
    (
        "[torch]\ndelay = 4\n",
        'line 1, column 1: A rule set says what it is based on: write, say, based_on = "standard" as its first line.',
    ),
    ("based_on = 7\n", 'line 1, column 1: based_on is 7: write a name or a file in quotes, such as "standard".'),
    (
        'based_on = "mine.toml"\n',
        (
            'line 1, column 1: based_on = "mine.toml" leads back to a file that is based on this one: it must lead to '
            '"standard" or "older-wire".'
        ),
    ),
    (
        'based_on = "standart"\n',
        (
            'line 1, column 1: There is no rule set "standart". Did you mean "standard"? It may also be a TOML file '
            "beside the plan."
        ),
    ),
    (BASE + "[torch]\ndelai = 4\n", 'line 3, column 1: [torch] has no "delai". Did you mean "delay"?'),
    (BASE + "[torches]\ndelay = 4\n", 'line 2, column 1: A rule set has no "torches". Did you mean "torch"?'),
    (BASE + "torch = 4\n", "line 2, column 1: torch is 4: it must be a table; write [torch] on a line of its own."),
    (
        BASE + "[torch]\ndelay = '4'\n",
        'line 3, column 1: torch.delay is "4": write a whole number from 1 to 1,000,000.',
    ),
    (BASE + "[torch]\ndelay = 0\n", "line 3, column 1: torch.delay is 0: write a whole number from 1 to 1,000,000."),
    (
        BASE + "[torch]\ndelay = true\n",
        "line 3, column 1: torch.delay is true: write a whole number from 1 to 1,000,000.",
    ),
    (
        BASE + f"[torch]\ndelay = {'9' * 4_000}\n",
        "line 3, column 1: torch.delay is a number of over 38 digits: write a whole number from 1 to 1,000,000.",
    ),
    (
        BASE + f"[torch]\ndelay = {'9' * 5_000}\n",
        "line 3, column 9: This number has thousands of digits: write a smaller one.",
    ),
    (
        BASE + "[torch]\ndelay = inf\n",
        "line 3, column 1: torch.delay is inf: write a whole number from 1 to 1,000,000.",
    ),
    (BASE + NESTED, "line 1, column 1: The file nests lists or tables too deeply: three levels say all that is read."),
    (
        BASE + f"{'a.' * 2_000}a = 1\n",
        "line 2, column 1: A rule set has no ",
    ),
    (
        BASE + "[conducts]\nwirre = true\n",
        'line 3, column 1: [conducts] names the part "wirre", which is none. Did you mean "wire"?',
    ),
    (BASE + "[conducts]\nwire = 1\n", "line 3, column 1: conducts.wire is 1: write true or false."),
    (BASE + "[wire]\npointing = 'round'\n", 'line 3, column 1: wire.pointing is "round": write "joined" or "through".'),
    (BASE + "[piston]\nhears_above = 1\n", "line 3, column 1: piston.hears_above is 1: write true or false."),
    (
        BASE + "[item]\nvanish = 9\n",
        "line 2, column 1: item.vanish is 9, item.rest 10: a stack must rest before it vanishes.",
    ),
    (BASE + "title = 7\n", 'line 2, column 1: The title is 7: write it as text in quotes, such as "...".'),
    (BASE + 'title = ""\n', "line 2, column 1: The title has 0 characters: it must have 1 to 200."),
    (
        BASE + 'title = "Salt\\u001b[2Jmarsh"\n',
        'line 2, column 1: The title is "Salt\\x1b[2Jmarsh": it may hold printable characters only.',
    ),
    (BASE + 'name = "a\\u0007b"\n', 'line 2, column 1: The name is "a\\x07b": it may hold printable characters only.'),
    (BASE + '"a\\u001bb" = 1\n', 'line 2, column 1: A rule set has no "a\\x1bb".'),
    ("based_on = \n", f"line 1, column 12: This is not TOML (Invalid value), based_on =: {RULE}"),
    (BASE + f"# {'x' * 100_000}\n", None),
]


@pytest.mark.parametrize(("text", "message"), WRONG, ids=range(len(WRONG)))
def test_a_wrong_file_gets_one_message(tmp_path, text, message):
    file = tmp_path / "mine.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(RuleSetError) as error:
        load_rules("mine.toml", tmp_path)
    said = str(error.value)
    assert "\n" not in said
    assert said.isprintable()
    if message is None:
        assert said == f'The file "{file}" is over 100,000 bytes: it is not a rule set.'
    else:
        assert said.startswith(f"{file}, {message}")


def chain(folder, length):
    """Rule sets each based on the next; the last on the standard one."""
    for number in range(length):
        base = f"{number + 1}.toml" if number + 1 < length else "standard"
        (folder / f"{number}.toml").write_text(f'based_on = "{base}"\n[lamp]\noff_delay = {number + 1}\n', "utf-8")


def test_a_chain_of_rule_sets_is_read_up_to_a_length_that_is_said(tmp_path):
    chain(tmp_path, 20)
    assert load_rules("0.toml", tmp_path).lamp.off_delay == 1
    chain(tmp_path, 1_200)
    with pytest.raises(RuleSetError, match="the 20th file of a chain of based_on: write all of it into one file"):
        load_rules("0.toml", tmp_path)


@pytest.mark.parametrize("data", [b"\xff\xfe", b"based_on = 'standard'\n\x00", b"\xef\xbb\xbfbased_on = 'x\x1b'\n"])
def test_bytes_that_are_no_rule_set_get_one_message(tmp_path, data):
    (tmp_path / "mine.toml").write_bytes(data)
    with pytest.raises(RuleSetError) as error:
        load_rules("mine.toml", tmp_path)
    assert str(error.value).isprintable()


@pytest.mark.parametrize("name", ["no\x1bne", "\x00", "x" * 5_000, "/", ".", ""])
def test_a_name_that_is_no_file_gets_one_message(tmp_path, name):
    with pytest.raises(RuleSetError) as error:
        load_rules(name, tmp_path)
    assert str(error.value).startswith("There is no rule set ")
    assert str(error.value).isprintable()
    assert len(str(error.value)) < 300


def test_a_confined_program_reads_rule_sets_of_its_folder_alone(tmp_path, monkeypatch):
    folder, outside = tmp_path / "open", tmp_path / "secret.toml"
    folder.mkdir()
    outside.write_text(BASE + "[lamp]\noff_delay = 9\n", encoding="utf-8")
    (folder / "mine.toml").write_text(BASE + "[lamp]\noff_delay = 7\n", encoding="utf-8")
    (folder / "link.toml").symlink_to(outside)
    (folder / "based.toml").write_text('based_on = "../secret.toml"\n', encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    assert load_rules(str(outside)).lamp.off_delay == load_rules("link.toml", folder).lamp.off_delay == 9
    confine_rules(folder)
    try:
        assert load_rules("mine.toml", folder).lamp.off_delay == 7
        assert load_rules("older-wire", folder).wire.pointing == "through"
        for name in (str(outside), "secret.toml", "../secret.toml", "link.toml", "based.toml", "/etc/hostname"):
            with pytest.raises(RuleSetError, match=r"There is no rule set .* in the folder that is open"):
                load_rules(name, folder)
    finally:
        confine_rules(None)
