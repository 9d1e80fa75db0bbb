"""The BLIF reader: what it reads, held against integers and published rows; what it refuses, with line and reason."""

from __future__ import annotations

import pytest
from tests.netlist.texts import adder, netlist

from tickwright.errors import NetlistError
from tickwright.netlist import Latch, parse_blif, plan_names, read_netlist


def test_c17_gives_the_published_rows():
    # ISCAS-85 netlist; rows counted up over N1 N2 N3 N6 N7, first row leftmost: checks of the project, computed.
    network = netlist("c17.blif")
    cases = 32
    given = {
        name: sum((row >> (4 - place) & 1) << row for row in range(cases)) for place, name in enumerate(network.inputs)
    }
    values = network.values(given, cases)
    rows = {name: "".join(str(values[name] >> row & 1) for row in range(cases)) for name in ("N22", "N23")}
    assert f"{int(rows['N22'], 2):08x}" == "00fc0fff"
    assert f"{int(rows['N23'], 2):08x}" == "54fc54fc"


def test_an_adder_adds():
    network = parse_blif(adder(4))
    for a in range(16):
        for b in range(16):
            given = {f"a[{i}]": a >> i & 1 for i in range(4)} | {f"b[{i}]": b >> i & 1 for i in range(4)}
            values = network.values(given, 1)
            got = sum(values[f"s[{i}]"] << i for i in range(4)) + (values["co"] << 4)
            assert got == a + b


def test_latches_of_all_kinds_and_starts():
    text = (
        ".model m\n.inputs d c\n.outputs p q r\n.latch d p re c 0\n.latch d q fe c 2\n.latch d \\\n r al c 3\n.end\n"
        "this is after the end"
    )
    assert parse_blif(text).latches == (
        Latch("d", "p", "re", "c", 4),
        Latch("d", "q", "fe", "c", 5),
        Latch("d", "r", "al", "c", 6),
    )


def test_a_latch_without_a_clock_takes_the_one_given():
    text = ".inputs d\n.outputs q\n.latch d q 0"
    assert parse_blif(text, "tick").inputs == ("d", "tick")
    assert parse_blif(text).latches[0].clock == "clock"


def test_constants_and_an_input_that_is_an_output():
    network = parse_blif(".inputs a\n.outputs a one zero\n.names one\n1\n.names zero\n")
    values = network.values({"a": 0b10}, 2)
    assert (values["a"], values["one"], values["zero"]) == (0b10, 0b11, 0)


REFUSED = [
    (
        ".model m\n.inputs a\n.outputs y\n.names a y\n2 1\n",
        5,
        'The row "2" does not fit 1 inputs: give each 0, 1 or -.',
    ),
    (".inputs a\n.outputs y\n.names a y\n1 1\n0 0\n", 5, '"y" has rows for 1 and rows for 0: a cover has one kind.'),
    (".inputs a\n.outputs y\n", 2, 'Nothing drives "y". Known: a.'),
    (".inputs a\n.outputs a\n.names b a\n1 1\n", 3, '"a" is driven a second time, first in line 1'),
    (
        ".inputs a\n.outputs y\n.names x y\n1 1\n.names y x\n1 1\n",
        3,
        "The signals y → x → y hear one another in a ring",
    ),
    (".inputs d c\n.outputs q\n.latch d q re c 1\n", 3, 'The latch "q" starts at 1: latches are built to start at 0'),
    (".inputs d c\n.outputs q\n.latch d q ah c\n", 3, 'The latch "q" of type ah is open while its clock is 1'),
    (".inputs a\n.outputs y\n.subckt inv a=a y=y\n", 3, ".subckt is not read: flatten the netlist"),
    (".inputs a\n.outputs y\n11 1\n", 3, '"11 1" belongs to no .names'),
    (".inputs a\n.output a\n", 2, 'There is no .output. Did you mean ".outputs"?'),
    (".inputs a\n", 1, "The netlist has no outputs"),
    (".inputs a b\n.inputs a\n.outputs y\n.names a y\n1 1\n", 2, '"a" is named twice among the inputs: name it once.'),
    (".model a\n.outputs y\n.names y\n1\n.end\n.model b\n", 6, "There is a second model"),
]


@pytest.mark.parametrize(("text", "line", "message"), REFUSED, ids=[case[2][:24] for case in REFUSED])
def test_what_is_wrong_is_said_with_its_line(text, line, message):
    with pytest.raises(NetlistError) as refused:
        parse_blif(text)
    assert refused.value.line == line
    assert refused.value.message.startswith(message)


def test_names_are_made_fit_for_a_plan():
    assert plan_names(["a[0]", "a_0", "x.y", "ok-1"]) == {"a[0]": "a_0-2", "a_0": "a_0", "x.y": "x_y", "ok-1": "ok-1"}
    assert plan_names(["a[0]"]) == {"a[0]": "a_0"}


def test_a_file_of_another_kind_is_refused(tmp_path):
    path = tmp_path / "gates.txt"
    path.write_text("")
    with pytest.raises(NetlistError, match=r"neither \.blif nor \.v"):
        read_netlist(path)
