"""Timing checks of a standard as claims on small plans, and timing tables of textbooks as machines over traces.

Sources: IEEE Std 1364-2005 (Verilog), clause 15 "Timing checks": $width and $period report a pulse or a period that is
shorter than the limit, so that one equal to it passes; $setup and $hold report data that changes less than the limit
before or after the reference event. M. M. Mano and M. D. Ciletti, Digital Design: tables of the D latch, the JK and T
flip-flops, the ring counter and the switch-tail (Johnson) counter. Both from memory.
"""

from __future__ import annotations

import random
from itertools import product

import pytest

from charts.landing import chart, machine
from tickwright import check_charts, loads
from tickwright.charts import Timeline, Wave, judge, parse_claim, parse_transition, watched
from tickwright.charts.machines import with_machines
from tickwright.charts.notation import Automaton, Names

# A button, a wire (`early`), a repeater of two ticks, a wire (`late`, 4 steps after it); nothing reaches `alarm`.
LINE = """format = "tickwright plan 1"
legend = {"#" = "block", b = "short-button", w = "wire", r = "repeater east delay=2"}
layer = [{rows = "######"}, {rows = "bwrw.w"}]
triggers = {press = [0, 0, 1]}
outputs = {early = [1, 0, 1], late = [3, 0, 1], alarm = [5, 0, 1]}
"""
BUTTON_STEPS = 20  # a short button is down for a second
VIOLATED = "alarm: on while check is bad"  # nothing lights the alarm: kept if nothing was violated


def keeps(claim: str, hand: list[str], states: list[str] | None = None, transitions: list[str] | None = None) -> bool:
    watcher = machine("check", states, transitions) if states and transitions else ""
    return check_charts(loads(LINE + watcher + chart([claim], hand=hand, watch="10 s")))[0].passed


@pytest.mark.parametrize(("limit", "passes"), [(-1, True), (0, True), (1, False)])
def test_width(limit, passes):
    claim = f"early: on from press for {BUTTON_STEPS + limit} steps, otherwise free"
    assert keeps(claim, ["0: press"]) is passes


@pytest.mark.parametrize(("limit", "passes"), [(-1, True), (0, True), (1, False)])
def test_period(limit, passes):
    period = 30
    after = period + limit - 1  # from the step after on the next edge may come
    transitions = ["free: early on -> busy", "busy: early on -> bad", f"busy: after {after} steps -> free"]
    assert keeps(VIOLATED, ["0: press", f"{period}: press"], ["free", "busy", "bad"], transitions) is passes


@pytest.mark.parametrize(("data", "reference"), [("early", "late"), ("late", "early")], ids=["setup", "hold"])
@pytest.mark.parametrize(("limit", "passes"), [(-1, True), (0, True), (1, False)])
def test_setup_and_hold(data, reference, limit, passes):
    first, second = (data, reference) if data == "early" else (reference, data)
    transitions = [f"idle: {first} on -> open", f"open: after {4 + limit} steps -> idle", f"open: {second} on -> bad"]
    assert keeps(VIOLATED, ["0: press"], ["idle", "open", "bad"], transitions) is passes


# --- tables of textbooks ------------------------------------------------------------------------------------------

STEPS = 800
PERIOD_STEPS = 10


def wave(values: list[int]) -> Wave:
    toggles = [step for step in range(1, len(values)) if values[step] != values[step - 1]]
    return Wave(bool(values[0]), tuple(toggles))


def automaton(name: str, states: tuple[str, ...], texts: list[str], inputs: tuple[str, ...]) -> Automaton:
    names = Names((), inputs, {name: states})
    return Automaton(name, states, tuple(parse_transition(text, names, states) for text in texts))


def states_at(made: Automaton, traces: dict[str, list[int]]) -> list[str]:
    """The state of the machine at the end of every step."""
    timeline = Timeline(STEPS, {name: wave(values) for name, values in traces.items()})
    entries = dict(watched([made], timeline)[made.name])
    found, now = [], made.states[0]
    for step in range(STEPS):
        now = entries.get(step, now)
        found.append(now)
    return found


def clocked(seed: int, inputs: str) -> dict[str, list[int]]:
    """A clock that rises in the middle of each period, and inputs that change at the beginning of some."""
    rng = random.Random(seed)
    traces = {"clk": [int(step % PERIOD_STEPS >= PERIOD_STEPS // 2) for step in range(STEPS)]}
    for name in inputs:
        values = [0, *(rng.randint(0, 1) for _ in range(1, STEPS // PERIOD_STEPS))]
        traces[name] = [values[step // PERIOD_STEPS] for step in range(STEPS)]
    return traces


JK = {(0, 0): (0, 1), (0, 1): (0, 0), (1, 0): (1, 1), (1, 1): (1, 0)}  # (J, K): Q after the edge for Q = 0 and 1


@pytest.mark.parametrize("seed", range(3))
def test_the_jk_flip_flop(seed):
    texts = ["q0: clk on if j on -> q1", "q1: clk on if k on -> q0"]
    traces, q = clocked(seed, "jk"), 0
    states = states_at(automaton("ff", ("q0", "q1"), texts, ("clk", "j", "k")), traces)
    seen = set()
    for step in range(STEPS):
        if step and traces["clk"][step] > traces["clk"][step - 1]:
            seen.add((traces["j"][step], traces["k"][step], q))
            q = JK[traces["j"][step], traces["k"][step]][q]
        assert states[step] == f"q{q}"
    assert seen == set(product((0, 1), repeat=3))


@pytest.mark.parametrize("seed", range(3))
def test_the_t_flip_flop(seed):
    texts = ["q0: clk on if t on -> q1", "q1: clk on if t on -> q0"]
    traces, q = clocked(seed, "t"), 0
    states = states_at(automaton("ff", ("q0", "q1"), texts, ("clk", "t")), traces)
    for step in range(STEPS):
        if step and traces["clk"][step] > traces["clk"][step - 1]:
            q ^= traces["t"][step]
        assert states[step] == f"q{q}"
    assert "q1" in states


@pytest.mark.parametrize("seed", range(3))
def test_the_d_latch(seed):
    """Open it follows D, shut it holds; D and the enable never change in one step here."""
    texts = [
        "q0: d on if en on -> q1", "q0: en on if d on -> q1", "q1: d off if en on -> q0", "q1: en on if not d on -> q0",
    ]  # fmt: skip
    rng = random.Random(seed)
    traces: dict[str, list[int]] = {"d": [0], "en": [0]}
    for step in range(1, STEPS):
        name = "d" if step % 2 else "en"
        for one, values in traces.items():
            values.append(1 - values[-1] if one == name and rng.random() < 0.3 else values[-1])
    states, q = states_at(automaton("latch", ("q0", "q1"), texts, ("d", "en")), traces), 0
    for step in range(STEPS):
        q = traces["d"][step] if traces["en"][step] else q
        assert states[step] == f"q{q}"
    assert set(states) == {"q0", "q1"}


RING = ("1000", "0100", "0010", "0001")
JOHNSON = ("0000", "1000", "1100", "1110", "1111", "0111", "0011", "0001")


@pytest.mark.parametrize("rows", [RING, JOHNSON], ids=["ring", "johnson"])
@pytest.mark.parametrize("slip", [False, True])
def test_the_ring_and_the_johnson_counter(rows, slip):
    """Each bit is on in the rows that the table says, under a machine that only counts; a late edge breaks its bit."""
    count = len(rows)
    states = tuple(f"s{number}" for number in range(count))
    texts = [f"s{number}: clk on -> s{(number + 1) % count}" for number in range(count)]
    clk = clocked(0, "")["clk"]
    row, bits = 0, {bit: [int(rows[0]["abcd".index(bit)])] for bit in "abcd"}
    for step in range(1, STEPS):
        row = (row + (clk[step] > clk[step - 1])) % count
        for number, bit in enumerate("abcd"):
            bits[bit].append(int(rows[row][number]))
    if slip:
        rise = next(step for step in range(1, STEPS) if bits["c"][step] > bits["c"][step - 1])
        bits["c"][rise] = 0
    made = automaton("count", states, texts, ("clk", *"abcd"))
    names = Names((), ("clk", *"abcd"), {"count": states})
    claims = []
    for number, bit in enumerate("abcd"):
        on = " or ".join(f"count is s{index}" for index, one in enumerate(rows) if one[number] == "1")
        claims.append(parse_claim(f"{bit}: on while {on}", names))
    timeline = Timeline(STEPS, {name: wave(values) for name, values in {"clk": clk, **bits}.items()})
    verdicts = judge(claims, with_machines(timeline, [made]))
    assert [verdict.passed for verdict in verdicts] == [True, True, not slip, True]
