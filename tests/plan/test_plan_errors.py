"""Each way a plan file can be wrong: the whole message, with its line and column."""

from __future__ import annotations

import pytest
from plan_texts import LANDING

from tickwright.errors import PlanError
from tickwright.plan import load, loads

TOML_RULE = 'a line is a [table], a # comment, or name = value with text in quotes, such as "w" = "wire".'
OPEN_QUOTE = (
    "The text that begins here is never closed: end it with the quotes that it begins with; only text in three quotes "
    "may run over several lines."
)
CARRIERS = "block, change-sensor, crate, ejector, hopper, insulator, lamp, piston, power-block, pull-piston"

# (text to replace, once, in LANDING; the new text; the message)
WRONG = [
    # The file as a whole
    (
        'format = "tickwright plan 1"\n',
        "",
        'line 1, column 1: The file does not say what it is: write format = "tickwright plan 1" as its first line.',
    ),
    (
        "plan 1",
        "plan 2",
        'line 1, column 1: The format is "tickwright plan 2": this version reads format = "tickwright plan 1".',
    ),
    ("[outputs]", "[output]", 'line 26, column 1: A plan file has no "output". Did you mean "outputs"?'),
    ('"Gangway lamp"', "7", 'line 2, column 1: The title is 7: write it as text in quotes, such as "...".'),
    (
        '"Gangway lamp"',
        '"Gangway\\u001blamp"',
        'line 2, column 1: The title is "Gangway\\x1blamp": it may hold printable characters only.',
    ),
    ("Gangway lamp", "x" * 201, "line 2, column 1: The title has 201 characters: the most is 200."),
    (
        "title =",
        'rules = "oldwire"\ntitle =',
        (
            'line 2, column 1: There is no rule set "oldwire". Did you mean "older-wire"? It may also be a TOML file '
            "beside "
            "the plan."
        ),
    ),
    # TOML
    (
        '"wire" ',
        "wire ",
        f'line 7, column 7: This is not TOML (Invalid value), "w" = wire                  # copper: {TOML_RULE}',
    ),
    ('"Gangway lamp"', '"Gangway lamp', f"line 2, column 9: {OPEN_QUOTE}"),
    ('"""   # along', "   # along", f"line 18, column 8: {OPEN_QUOTE}"),
    (
        "press = [0, 0, 1]",
        "press = [0, 0, 1]\npress = [1, 0, 1]",
        'line 25, column 1: "triggers.press" is given twice, first in line 24: give it once, or another name.',
    ),
    (
        "# names",
        "[legend]",
        (
            'line 22, column 1: "legend" is given twice, first in line 5: write its table once; a list of tables, such '
            "as [[layer]], has two brackets each time."
        ),
    ),
    (
        "[[layer]]\nrows",
        "[layer]\nrows",
        (
            'line 17, column 1: "layer" is given twice, first in line 12: write its table once; a list of tables, '
            "such as "
            "[[layer]], has two brackets each time."
        ),
    ),
    (
        "# the end",
        "x = " + "[" * 2000 + "]" * 2000,
        "line 1, column 1: The file nests lists or tables too deeply: three levels say all that is read.",
    ),
    (
        "# the end",
        "a." * 2200 + "a = 1",
        "line 35, column 1: The file nests lists or tables too deeply: three levels say all that is read.",
    ),
    (
        "# the end",
        "end\0",
        f"line 35, column 4: This is not TOML (Expected '=' after a key in a key/value pair), end\\x00: {TOML_RULE}",
    ),
    # Key
    ('"wire"', '"wier"', 'line 7, column 1: There is no part "wier". Did you mean "wire"?'),
    (
        '"w" =',
        '"ww" =',
        'line 7, column 1: [legend] has "ww", which is not one printable character: use one, such as w.',
    ),
    ('"w" =', '"" =', 'line 7, column 1: [legend] has "", which is not one printable character: use one, such as w.'),
    (
        '"w" =',
        '"\\t" =',
        'line 7, column 1: [legend] has "\\t", which is not one printable character: use one, such as w.',
    ),
    ('"w" =', '"." =', 'line 7, column 1: [legend] has ".", which means an empty cell: use another.'),
    ('"w" =', '" " =', 'line 7, column 1: [legend] has " ", which means an empty cell: use another.'),
    (
        '"wire" ',
        "15 ",
        'line 7, column 1: The part for "w" is 15: write it as text in quotes, such as "...".',
    ),
    ("[legend]", "[key]", "line 5, column 1: [key] is called [legend] now: write [legend] in its place."),
    (
        "[legend]",
        "[[legend]]",
        "line 5, column 1: legend is a list: it must be a table; write [legend] on a line of its own.",
    ),
    # Layers and rows
    (
        "brcw",
        "brxw",
        (
            'line 19, column 3: The character "x" at (2, 0, 1) is not in [legend]: add "x" = "..." there, or use . for '
            "an empty "
            "cell. Known: # w b r c"
        ),
    ),
    (
        "brcw",
        "\\u0062r\\\n  xw",
        (
            'line 20, column 3: The character "x" at (2, 0, 1) is not in [legend]: add "x" = "..." there, or use . for '
            "an empty "
            "cell. Known: # w b r c"
        ),
    ),
    (
        "brcw",
        "br\tw",
        "line 19, column 3: A tab at (2, 0, 1): a row has one character for each cell; use . or spaces for empty ones.",
    ),
    ("brcw", "w" * 4097, "line 19, column 4097: The row has 4,097 cells: the most is 4,096."),
    ("brcw", "." + "\n." * 4096, "line 18, column 1: The layer has 4,097 rows: the most is 4,096."),
    ("# names", '[[layer]]\nrows = ""\n' * 255, "line 530, column 1: The plan has 257 layers: the most is 256."),
    (
        'rows = """\nbrcw\n"""',
        'row = """\nbrcw\n"""',
        'line 18, column 1: A layer has no "row". Did you mean "rows"?',
    ),
    ('rows = """\nbrcw\n"""', "", 'line 17, column 1: This layer has no rows: write rows = """...""" under it.'),
    (
        'rows = """\nbrcw\n"""',
        'rows = ["brcw"]',
        'line 18, column 1: The rows are a list: write them as text, rows = """...""".',
    ),
    # Names
    (
        "press =",
        '"the rope" =',
        'line 24, column 1: The name "the rope" is not 1 to 64 letters (a-z), digits, - and _: rename it.',
    ),
    (
        "press =",
        f"{'p' * 65} =",
        f'line 24, column 1: The name "{"p" * 39}…" is not 1 to 64 letters (a-z), digits, - and _: rename it.',
    ),
    (
        "[0, 0, 1]",
        "[0, 0]",
        "line 24, column 1: press is [0, 0]: write its cell as three whole numbers, [x, y, z].",
    ),
    (
        "[0, 0, 1]",
        "[0, 0.5, true]",
        "line 24, column 1: press is [0, 0.5, true]: write its cell as three whole numbers, [x, y, z].",
    ),
    (
        "[0, 0, 1]",
        '"rope"',
        'line 24, column 1: press is "rope": write its cell as three whole numbers, [x, y, z].',
    ),
    ("[0, 0, 1]", "[0, -1, 1]", "line 24, column 1: The y of press is -1: y runs from 0 to 4095."),
    ("[0, 0, 1]", "[0, 0, 256]", "line 24, column 1: The z of press is 256: z runs from 0 to 255."),
    (
        "[0, 0, 1]",
        f"[0x{'f' * 5000}, 0, 0]",
        "line 24, column 1: The x of press is a number of over 38 digits: x runs from 0 to 4095.",
    ),
    # Expectations
    ("within =", "withn =", 'line 33, column 1: An expectation has no "withn". Did you mean "within"?'),
    (
        'trigger = "press"',
        'trigger = "pres"',
        'line 30, column 1: There is no trigger "pres" in [triggers]. Did you mean "press"?',
    ),
    (
        'output = "lamp"',
        "output = 3",
        "line 31, column 1: There is no output 3 in [outputs]. Known: lamp.",
    ),
    (
        "lamp = [3, 0, 1]",
        "",
        'line 31, column 1: There is no output "lamp" in [outputs]. [outputs] is empty: name a cell there.',
    ),
    (
        'output = "lamp"\n',
        "",
        "line 29, column 1: This expectation names no output: write output = and one of [outputs].",
    ),
    (
        'hold = "1 s"  # as long as a crossing\nwithin = "1 tick"\n',
        "",
        (
            "line 29, column 1: This expectation asks for nothing: give it one or more of hold, delay, recovery, "
            "settles_within, minimum_trigger_at_most, pulses, level_at_least, never."
        ),
    ),
    (
        'hold = "1 s"  # as long',
        "pulses = 1  # as long",
        "line 33, column 1: within has nothing to widen: it belongs to one of hold, delay, recovery.",
    ),
    (
        'hold = "1 s"',
        'hold = "1 second"',
        (
            'line 32, column 1: hold: The duration "1 second" has the unknown unit "second": use one of ms, s, min, '
            "h, tick, "
            'ticks, step, steps, such as "1 s".'
        ),
    ),
    (
        'hold = "1 s"',
        'hold = "1.01 s"',
        (
            'line 32, column 1: hold: The duration "1.01 s" is not a whole number of steps of 0.05 s: use '
            '"1 s" or "1.05 s".'
        ),
    ),
    (
        'hold = "1 s"',
        "hold = 1",
        'line 32, column 1: The hold is 1: write it as text in quotes, such as "5 s".',
    ),
    (
        'hold = "1 s"',
        'hold = "1 s"\nnever = false',
        "line 33, column 1: never is false: write never = true, or leave it out.",
    ),
    (
        'hold = "1 s"',
        'hold = "1 s"\nlevel_at_least = 16',
        "line 33, column 1: level_at_least is 16: write a whole number from 1 to 15.",
    ),
    (
        'hold = "1 s"',
        'hold = "1 s"\npulses = -1',
        "line 33, column 1: pulses is -1: write a whole number from 0 to 1,000,000.",
    ),
    (
        "[[expect]]",
        "[expect]",
        "line 29, column 1: expect is a table: write [[expect]], with two brackets, before each one.",
    ),
    # The circuit
    (
        "####",
        "#.##",
        (
            "line 19, column 2: The repeater at (1, 0, 1) has no support: the cell (1, 0, 0), below it, holds nothing. "
            f"Put a part there that carries ({CARRIERS}), or remove the repeater."
        ),
    ),
    (
        "####",
        "#w##",
        (
            "line 14, column 2: The wire at (1, 0, 0) has no support: the cell (1, 0, -1), below it, holds nothing. "
            f"Put a part there that carries ({CARRIERS}), or remove the wire."
        ),
    ),
    (
        "lamp = [3",
        "lamp = [4",
        (
            'line 27, column 1: The output "lamp" watches (4, 0, 1), an empty cell that no piston reaches: name a '
            "cell that "
            "holds a part."
        ),
    ),
]


@pytest.mark.parametrize(("old", "new", "message"), WRONG, ids=[f"{index}" for index in range(len(WRONG))])
def test_a_wrong_plan_is_answered_with_its_place(old, new, message):
    assert old in LANDING
    with pytest.raises(PlanError) as caught:
        loads(LANDING.replace(old, new, 1))
    assert str(caught.value) == message


@pytest.mark.parametrize("ends", ["\n", "\r\n"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_places_do_not_depend_on_line_ends_or_a_byte_order_mark(ends, mark):
    with pytest.raises(PlanError) as caught:
        loads(mark + LANDING.replace("brcw", "brxw").replace("\n", ends))
    assert (caught.value.line, caught.value.column) == (19, 3)


def test_a_plan_without_layers_is_refused():
    with pytest.raises(PlanError) as caught:
        loads('format = "tickwright plan 1"\n')
    assert str(caught.value) == (
        'line 1, column 1: The plan has no layer: write [[layer]] and under it rows = """...""", the bottom layer '
        "first."
    )


def test_too_many_parts_are_refused(monkeypatch):
    monkeypatch.setattr("tickwright.plan.reading.MOST_PARTS", 200_000)
    layer = "[[layer]]\nrows = '''\n" + ("#" * 1000 + "\n") * 67 + "'''\n"
    with pytest.raises(PlanError) as caught:
        loads('format = "tickwright plan 1"\nlegend."#" = "block"\n' + layer * 3)
    assert str(caught.value) == "line 143, column 1: The plan has over 200,000 parts, the most that is read: split it."


def test_half_a_pair_is_no_text():
    with pytest.raises(PlanError) as caught:
        loads(LANDING.replace("Gangway", "Gang\ud800way"))
    assert (
        str(caught.value)
        == "line 2, column 14: The character U+D800 is half of a pair and no text by itself: remove it."
    )


def test_errors_in_a_file_begin_with_its_path(tmp_path):
    path = tmp_path / "landing.toml"
    path.write_text(LANDING.replace("brcw", "brxw"), encoding="utf-8")
    with pytest.raises(PlanError) as caught:
        load(path)
    assert str(caught.value).startswith(f'{path}, line 19, column 3: The character "x"')


def test_files_that_cannot_be_read(tmp_path):
    (tmp_path / "landing.toml").write_text(LANDING, encoding="utf-8")
    (tmp_path / "accents.toml").write_bytes("# é\n# dé".encode() + b"j\xe0\n")
    (tmp_path / "huge.toml").write_bytes(b"#" * 64_000_001)
    (tmp_path / "folder").mkdir()

    def answer(name: str) -> str:
        with pytest.raises(PlanError) as caught:
            load(tmp_path / name)
        return str(caught.value).replace(str(tmp_path), "~")

    assert answer("lending.toml") == 'There is no file "~/lending.toml". Did you mean "landing.toml"?'
    assert answer("folder") == '"~/folder" is a folder: name the file in it.'
    assert answer("huge.toml") == 'The file "~/huge.toml" is over 64,000,000 bytes, the most that is read: split it.'
    assert answer("hu\0ge.toml") == 'The file "~/hu\\x00ge.toml" cannot be read: embedded null byte.'
    assert answer("accents.toml") == (
        "~/accents.toml, line 2, column 6: The byte 0xe0 here is not UTF-8 text: save the file with the encoding UTF-8."
    )


def test_rules_are_sought_beside_the_plan(tmp_path):
    path = tmp_path / "landing.toml"
    path.write_text(LANDING.replace("title =", 'rules = "tides.toml"\ntitle ='), encoding="utf-8")
    rules = tmp_path / "tides.toml"
    rules.write_text('based_on = "standard"\n[carries]\nblock = false\n', encoding="utf-8")
    with pytest.raises(PlanError) as caught:
        load(path)
    assert (
        "line 20, column 1: The short-button at (0, 0, 1) has no support: the cell (0, 0, 0), below it, holds a block"
        in str(caught.value)
    )
    rules.write_text('based_on = "standard"\n', encoding="utf-8")
    assert load(path).rules == "tides.toml"
    rules.write_text('based_on = "standard"\n[wire]\nlos = 2\n', encoding="utf-8")
    with pytest.raises(PlanError) as caught:
        load(path)
    assert str(caught.value) == (
        f'{path}, line 2, column 1: {rules}, line 3, column 1: [wire] has no "los". Did you mean "loss"?'
    )
