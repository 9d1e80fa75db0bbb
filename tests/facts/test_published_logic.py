"""Published logic, built of blocks: ISCAS-85 c17 as a plan of NAND cells, each two torches on one wire.

Source: the ISCAS-85 netlist (shipped in the PyPI package `circuitgraph` as "c17"); the outputs of all 32 inputs,
counted up with N1 as the highest bit, computed: N22 = 00fc0fff and N23 = 54fc54fc, first row leftmost.
"""

from __future__ import annotations

import pytest

from tickwright import loads, run

# Two inputs point into a block each, with a torch on its far side; the torches light one wire: off only if both are on.
C17 = """format = "tickwright plan 1"
[legend]
"#" = "block"
"w" = "wire"
"t" = "torch on=west"
"l" = "lever"
[triggers]
N1 = [0, 0, 1]
N2 = [4, 4, 1]
N3 = [0, 4, 1]
N6 = [0, 8, 1]
N7 = [4, 10, 1]
[outputs]
N22 = [12, 2, 1]
N23 = [12, 7, 1]
[[layer]]
rows = '''
#############
#############
#############
#############
#############
#############
#############
#############
#############
#############
#############
'''
[[layer]]
rows = '''
lw#tw
....wwwwww#tw
ww#tw.......w
w.......ww#tw
l...lw#tw
w.......w
ww#tww#tww#tw
....w.......w
lw#tww#tww#tw
........w
....lw#tw
'''
"""
INPUTS = ("N1", "N2", "N3", "N6", "N7")
STEPS_EACH = 40  # far more than the three torches in a row take


@pytest.mark.parametrize("rules", ["standard", "older-wire"])
def test_c17_of_nand_cells(rules):
    hand = []
    for row in range(32):
        for place, name in enumerate(INPUTS):
            hand.append(f"{row * STEPS_EACH}:{name}:{'on' if row >> (4 - place) & 1 else 'off'}")
    trace = run(loads(C17), hand, steps=32 * STEPS_EACH, rules=rules).trace
    last = [row * STEPS_EACH + STEPS_EACH - 1 for row in range(32)]
    for name, published in (("N22", 0x00FC0FFF), ("N23", 0x54FC54FC)):
        read = "".join("1" if trace.value_at(name, step) else "0" for step in last)
        assert int(read, 2) == published, f"{name}: {read}"
