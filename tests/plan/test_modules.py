"""Modules: uses laid flat on reading, kept on saving, turned as told; what cannot be is said with both places."""

from __future__ import annotations

import pytest

from tickwright.engine import run
from tickwright.errors import PlanError
from tickwright.kinds import parse_part
from tickwright.plan import dumps, load, loads, mirror, place, rotate, save
from tickwright.plan.modules import whereabouts

LAMP = """format = "tickwright plan 1"
legend = {"#" = "block", r = "repeater east", L = "lamp"}
[[layer]]
rows = "#"
[[layer]]
rows = "rL"
[outputs]
light = [1, 0, 1]
[ports]
in = {cell = [0, 0, 1], side = "west", role = "in"}
"""
WHOLE = """format = "tickwright plan 1"
legend = {"#" = "block", b = "short-button"}
# a button and a lamp module
[[layer]]
rows = "#"
[[layer]]
rows = "b"
[triggers]
press = [0, 0, 1]
[[use]]   # the lamp
plan = "lamp.toml"
at = [1, 0, 0]
name = "busy"
[[expect]]
trigger = "press"
output = "busy.light"
hold = "24 steps"
"""


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "lamp.toml").write_text(LAMP, encoding="utf-8")
    (tmp_path / "whole.toml").write_text(WHOLE, encoding="utf-8")
    return tmp_path


def refused(folder, text):
    path = folder / "bad.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(PlanError) as error:
        load(path)
    return error.value


def test_a_use_is_laid_flat_and_its_names_are_dotted(folder):
    plan = load(folder / "whole.toml")
    assert plan.cells[1, 0, 1] == parse_part("repeater east")
    assert plan.outputs == {"busy.light": (2, 0, 1)}
    assert plan.ports["busy.in"].cell == (1, 0, 1)
    assert run(plan, ["0:press"], 60).trace.changes["busy.light"] == ((0, 0), (2, 15), (26, 0))


def test_a_use_is_kept_on_saving_with_its_comments(folder):
    plan = load(folder / "whole.toml")
    assert dumps(plan) == WHOLE
    changed = place(plan, (0, 1, 0), parse_part("block"))
    save(changed, folder / "whole.toml")
    text = (folder / "whole.toml").read_text(encoding="utf-8")
    assert "[[use]]   # the lamp" in text
    assert load(folder / "whole.toml") == changed


# The lamp lies one east and one up of the module's own cell: [1, 0, 1] turned clockwise goes south, then west, north.
@pytest.mark.parametrize(
    ("turn", "mirrored", "lamp", "facing"),
    [
        (0, "false", (6, 5, 1), "east"),
        (90, "false", (5, 6, 1), "south"),
        (180, "false", (4, 5, 1), "west"),
        (270, "false", (5, 4, 1), "north"),
        (0, "true", (4, 5, 1), "west"),
        (90, "true", (5, 4, 1), "north"),
    ],
)
def test_a_module_turns_about_its_own_cell_after_it_was_mirrored(folder, turn, mirrored, lamp, facing):
    use = f'[[use]]\nplan = "lamp.toml"\nat = [5, 5, 0]\nturn = {turn}\nmirror = {mirrored}\nname = "m"\n'
    path = folder / "turned.toml"
    path.write_text('format = "tickwright plan 1"\n[[layer]]\nrows = "."\n' + use, encoding="utf-8")
    plan = load(path)
    assert plan.outputs["m.light"] == lamp
    assert plan.cells[5, 5, 1].facing == facing
    for other in (rotate(plan, 1), rotate(plan, 3), mirror(plan, "x"), mirror(plan, "y")):
        save(other, folder / "other.toml")
        assert load(folder / "other.toml").cells == other.cells


def test_an_overlap_names_both_places(folder):
    error = refused(folder, WHOLE.replace("at = [1, 0, 0]", "at = [0, 0, 0]"))
    assert error.message == (
        'In (0, 0, 0) the module "busy" has its block, its cell (0, 0, 0), where block stands in line 5, column 9: '
        "move one."
    )
    assert error.line == 10


def test_two_modules_in_one_cell_are_named_both(folder):
    error = refused(folder, WHOLE + '[[use]]\nplan = "lamp.toml"\nat = [1, 0, 0]\nname = "idle"\n')
    assert 'the module "idle" has its' in error.message
    assert 'where the module "busy" of line 10 has one' in error.message


def test_a_ring_of_modules_is_refused(folder):
    (folder / "a.toml").write_text(LAMP + '[[use]]\nplan = "b.toml"\nat = [0, 3, 0]\nname = "b"\n')
    (folder / "b.toml").write_text(LAMP + '[[use]]\nplan = "a.toml"\nat = [0, 3, 0]\nname = "a"\n')
    with pytest.raises(PlanError, match=r"In the module b\.toml, line .*a\.toml → b\.toml → a\.toml"):
        load(folder / "a.toml")


def test_more_than_32_deep_is_refused(folder):
    for number in range(34):
        use = f'[[use]]\nplan = "m{number + 1}.toml"\nat = [0, 0, 0]\nname = "m"\n' if number < 33 else ""
        (folder / f"m{number}.toml").write_text(f'format = "tickwright plan 1"\n[[layer]]\nrows = "."\n{use}')
    assert load(folder / "m1.toml").cells == {}
    with pytest.raises(PlanError, match="Modules lie more than 32 deep"):
        load(folder / "m0.toml")


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('plan = "lamp.toml"', 'plan = "../lamp.toml"', "lies outside the folder of this plan"),
        ('plan = "lamp.toml"', 'plan = "lampe.toml"', 'There is no file "lampe.toml" beside this plan'),
        ('plan = "lamp.toml"', 'plan = "tile:lamb"', 'There is no tile "lamb" on the shelf'),
        ("at = [1, 0, 0]", "at = [1, 0]", "at is a list: write its cell as three whole numbers"),
        ('name = "busy"', 'name = "bu.sy"', 'The name "bu.sy" is not 1 to 64 letters'),
        ('name = "busy"', 'name = "busy"\nturn = 45', "turn is 45: write 0, 90, 180 or 270"),
    ],
)
def test_what_a_use_cannot_say_is_refused(folder, old, new, message):
    assert message in refused(folder, WHOLE.replace(old, new)).message


def test_an_error_inside_a_module_is_told_with_its_own_line(folder):
    (folder / "lamp.toml").write_text(LAMP.replace('L = "lamp"', 'L = "lump"'), encoding="utf-8")
    error = refused(folder, WHOLE)
    assert error.message.startswith('In the module lamp.toml, line 2, column 47: There is no part "lump"')
    assert error.line == 11


def test_a_changed_module_is_not_saved_in_the_whole(folder):
    plan = place(load(folder / "whole.toml"), (1, 0, 1), parse_part("repeater east delay=2"))
    with pytest.raises(PlanError, match=r"belongs to the module busy \(lamp\.toml\), and was changed"):
        dumps(plan)


def test_errors_name_the_cell_in_the_module_too(folder):
    (folder / "lamp.toml").write_text(LAMP.replace('rows = "#"', 'rows = "."'), encoding="utf-8")
    error = refused(folder, WHOLE)
    assert "In its module: (1, 0, 1) is (0, 0, 1) of busy (lamp.toml)." in error.message


def test_ports_and_nets_are_kept():
    text = LAMP + "[nets]\nsignal = [[0, 0, 1], [1, 0, 1]]\n"
    plan = loads(text)
    assert plan.nets == {"signal": ((0, 0, 1), (1, 0, 1))}
    assert loads(dumps(place(plan, (0, 1, 0), parse_part("block")))).nets == plan.nets
    assert loads(dumps(rotate(plan, 1))).ports["in"][:3] == ((0, 0, 1), "north", "in")


def test_whereabouts_go_through_modules_in_modules(folder):
    (folder / "outer.toml").write_text(
        'format = "tickwright plan 1"\n[[layer]]\nrows = "."\n'
        '[[use]]\nplan = "whole.toml"\nat = [2, 2, 0]\nname = "w"\n'
    )
    plan = load(folder / "outer.toml")
    assert plan.outputs == {"w.busy.light": (4, 2, 1)}
    assert whereabouts(plan, (3, 2, 1)) == (("w", "whole.toml", (1, 0, 1)), ("busy", "lamp.toml", (0, 0, 1)))
