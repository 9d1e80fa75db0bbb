"""`tickwright choose`: what it prints, the plans that it saves, and what it refuses."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tickwright import check, load

LOOP = Path(__file__).resolve().parents[2] / "examples/flat-loop-6.toml"
FLOOR = """\
format = "tickwright plan 1"

[legend]
"#" = "block"

[[layer]]
rows = \"\"\"
.........
.........
.........
........#
........#
\"\"\"

[[layer]]
rows = ""

[[layer]]
rows = ""

[[layer]]
rows = ""
"""


def test_the_json_names_wish_and_designs_and_saves_plans_that_check_holds(call, tmp_path):
    code, out, err = call("choose", "--hold", "5.4 s", "--save", tmp_path / "plans", "--json")
    assert (code, err) == (0, "")
    document = json.loads(out)
    assert document["wish"]["hold_steps"] == 108
    assert document["reason"] is None
    for design in document["designs"]:
        assert (design["hold_steps"], design["error_steps"]) == (108, 0)
        assert len(design["box"]) == 3
        plan = load(design["file"])
        assert sum(plan.bill().values()) == design["parts"]
        assert all(verdict.passed for verdict in check(plan))
        assert call("check", design["file"])[0] == 0


def test_what_is_there_is_not_written_over(call, tmp_path):
    assert call("choose", "--hold", "1 s", "--save", tmp_path)[0] == 0
    before = {path: path.read_text() for path in tmp_path.iterdir()}
    code, _, err = call("choose", "--hold", "1 s", "--save", tmp_path)
    assert code == 2
    assert "is there already" in err
    assert {path: path.read_text() for path in tmp_path.iterdir()} == before


def test_the_table_for_people_says_how_each_lies_in_the_room(call):
    code, out, _ = call("choose", "--hold", "12 s", "--room", "9x5x4", "--blocked", "2,0,1", "--blocked", "3,2,1")
    assert code == 0
    assert "For a hold of 12 s (120 ticks):" in out
    assert "corner at" in out
    assert "Times assume a world at its full 20 steps a second." in out


def test_a_floor_plan_is_the_room(call, tmp_path):
    floor = tmp_path / "floor.toml"
    floor.write_text(FLOOR, encoding="utf-8")
    words = ["choose", "--hold", "12 s", "--floor", floor, "--in", "west", "--save", tmp_path / "plans", "--json"]
    code, out, _ = call(*words)
    assert code == 0
    document = json.loads(out)
    assert document["wish"]["room"] == {
        "size": [9, 5, 4], "blocked": [[8, 3, 0], [8, 4, 0]], "enter": "west", "leave": None,
    }  # fmt: skip
    for design in document["designs"]:
        plan = load(Path(design["file"]))
        assert plan.triggers["press"][0] == 0
        assert not {(8, 3, 0), (8, 4, 0)} & set(plan.cells)
        assert sorted(plan.size) == sorted(design["box"])  # without the empty cells of the room


def test_nothing_that_fits_says_what_to_relax_and_ends_with_1(call):
    code, out, _ = call("choose", "--hold", "12 s", "--room", "3x3x3")
    assert code == 1
    assert "It can be had if you relax room: a free box of" in out


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ([], 'Say the hold that is wanted: --hold DURATION, such as --hold "12 s".'),
        (["--hold", "12"], 'The duration "12" has no unit'),
        (["--hold", "1 s", "--room", "9x5"], 'The room "9x5" is no box'),
        (["--hold", "1 s", "--blocked", "1,1,1"], "Blocked cells and sides need a room"),
        (["--hold", "1 s", "--room", "9x5x4", "--blocked", "9"], '--blocked "9" is no cell'),
        (["--hold", "1 s", "--have", "comparators"], '"comparators" is no number of parts'),
        (["--hold", "1 s", "--room", "9x5x4", "--floor", LOOP], "A size and a floor plan both say the room"),
        (["--hold", "1 s", "--pitch", "z=3"], 'The pitch "z=3" cannot be read'),
        (["--hold", "1 s", "--without", "hoper"], 'There is no part "hoper". Did you mean "hopper"?'),
        (["--hold", "1 s", "--trigger", "bell"], 'There is no trigger "bell" to choose for.'),
        (["--hold", "1 s", "--only", " "], "No kind of part may be used"),
        (["--hold", "1 s", "--states", "0"], "A proof within 0 states shows nothing"),
        (["--hold", "1 s", "--level", "16"], "There is no level 16 to wish for: use 1 to 15."),
        (["--hold", "1 s", "--distance", "-1"], "A distance of -1 cells is none"),
        (["--hold", "1 s", "--rules", "nope"], 'There is no rule set "nope". Known: older-wire, standard.'),
        (["--hold", "1 s", "--save", LOOP], f'"{LOOP}" is no folder'),
        (["--hold", "1 s", "--save", f"{LOOP}/new"], f'"{LOOP}" is a file: name a folder to write to.'),
        (["--table", "--hold", "1 s"], "--table is of all holds and takes no wish: give it without --hold."),
        (["--table", "--json", "--mash-proof"], "--table is of all holds and takes no wish: give it without --mash-pr"),
    ],
)
def test_bad_input_is_one_message_and_code_2(call, words, message):
    code, out, err = call("choose", *words)
    assert code == 2
    if "--json" in words:
        assert (json.loads(out)["error"]["message"][: len(message)], err) == (message, "")
        return
    assert out == ""
    assert err.startswith(f"tickwright: {message}")
    assert len(err.splitlines()) == 1


def test_the_table_of_smallest_designs_as_text_and_as_json(call, monkeypatch):
    monkeypatch.setattr("tickwright.design.table.LAST_TICK", 12)
    code, out, _ = call("choose", "--table")
    assert code == 0
    assert "| 12 ticks (1.2 s) | 1 | direct | – | lamp | 2 | 2 |" in out
    code, out, _ = call("choose", "--table", "--json")
    document = json.loads(out)
    assert list(document) == ["short-button", "long-button", "lever"]
    assert document["short-button"][-1]["parts"] == [2, 2]


def test_a_rule_set_of_one_s_own_is_found_from_the_saved_plans(call, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "world.toml").write_text('based_on = "standard"\n\n[lamp]\noff_delay = 6\n', encoding="utf-8")
    assert call("choose", "--hold", "1.3 s", "--rules", "world.toml", "--within", "1 tick", "--save", "plans")[0] == 0
    for path in (tmp_path / "plans").iterdir():
        assert all(verdict.passed for verdict in check(load(path)))
