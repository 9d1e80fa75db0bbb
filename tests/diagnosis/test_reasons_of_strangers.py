"""Why circuits that are no examples hold as they do: ring, turns, loss and limit against hand calculation.

The formulas: a ring of n one-tick comparators takes 2 n steps a turn; a turn through two two-cell wires costs two of
the 15 levels, so that seven turns are left after the press. A lamp lets go four steps after its power. A repeater of d
ticks delays by 2 d steps. N items take 8 (N - 1) steps from the first to the last. With the clock of six items in
test_reasons these are twenty.
"""

from __future__ import annotations

import pytest

from rederiving import disagreeing
from tickwright import loads, measure, why
from tickwright.durations import duration_text
from tickwright.plan import place

PRESS = {"short-button": 20, "long-button": 30}
HEAD = 'format = "tickwright plan 1"\n'
COUNTS = {2: "Two", 4: "Four", 6: "Six", 8: "Eight", 10: "Ten", 12: "Twelve"}


def drawn(layers, legend, triggers, outputs):
    """A plan from rows of letters."""
    rows = ", ".join(f'{{rows = """\n{layer}\n"""}}' for layer in layers)
    signs = ", ".join(f'"{sign}" = "{part}"' for sign, part in legend.items())
    names = (
        f"{{{', '.join(f'{name} = {list(cell)}' for name, cell in table.items())}}}" for table in (triggers, outputs)
    )
    pressed, shown = names
    return loads(f"{HEAD}legend = {{{signs}}}\nlayer = [{rows}]\ntriggers = {pressed}\noutputs = {shown}\n")


def told(plan, kind, output):
    return [one.text for one in why(plan, None, output).sentences if one.kind == kind]


def sound(plan):
    """Every figure is derived again on the other engine, and every sentence can be read at a glance."""
    explained = why(plan)
    assert disagreeing(explained) == []
    assert max(len(one.text) for one in explained.sentences) <= 160


@pytest.mark.parametrize(
    ("n", "button"),
    [(2, "long-button"), (4, "long-button"), (6, "long-button"), (8, "long-button"), (10, "short-button"),
     (10, "long-button"), (12, "long-button")],
)  # fmt: skip
def test_a_flat_ring(n, button):
    half = n // 2
    layers = (
        f"##L{'#' * (half + 1)}\n..{'#' * (half + 2)}",
        f"brw{'>' * half}w\n..w{'<' * half}w",
    )
    legend = {"#": "block", "L": "lamp", "b": button, "r": "repeater east", "w": "wire", ">": "comparator east",
              "<": "comparator west"}  # fmt: skip
    plan = drawn(layers, legend, {"press": (0, 0, 1)}, {"lamp": (2, 0, 0), "entry": (2, 0, 1)})
    turn, press = duration_text(2 * n), duration_text(PRESS[button])
    ring = f"{COUNTS[n]} comparators feed one another in a ring; one turn takes {turn}."
    assert told(plan, "ring", "lamp") == [ring]
    assert told(plan, "loss", "lamp")[0].startswith("A turn costs two levels: ")
    assert told(plan, "levels", "lamp")[0].endswith("is left with 13, 11, 9, 7, 5, 3, 1, then nothing: seven turns.")
    whole, turns = duration_text(PRESS[button] + 14 * n + 4), duration_text(14 * n)
    assert told(plan, "sum", "lamp") == [f"{whole} = {press} (the press) + {turns} (seven turns) + 0.2 s (the lamp)."]
    # Fact 4 of the trade: a trigger must be at least as long, in ticks, as the ring has comparators.
    assert told(plan, "least", "entry") == [f"A press must last {turn} at least."]
    sound(plan)


@pytest.mark.parametrize(("first", "delays"), [(1, (2, 2)), (2, (4,)), (3, (4, 2)), (1, (4, 4, 1))])
def test_two_ways(first, delays):
    wide = len(delays)
    layers = (
        f"###{'#' * wide}L\n.#{'.' * wide}#\n.#{'#' * wide}#",
        f"bw{first}{'w' * (wide - 1)}wL\n.w{'.' * wide}w\n.w{''.join(map(str, delays))}w",
    )
    legend = {"#": "block", "L": "lamp", "b": "short-button", "w": "wire"}
    legend |= {str(delay): f"repeater east delay={delay}" for delay in {first, *delays}}
    plan = drawn(layers, legend, {"press": (0, 0, 1)}, {"joined": (wide + 2, 0, 1)})
    way, short = 2 * sum(delays), 2 * first
    (found,) = told(plan, "sum", "joined")
    assert found.startswith(f"{duration_text(20 + way - short)} = 1 s (the press) + {duration_text(way)} (")
    assert found.endswith(f") − {duration_text(short)} (the first repeater).")
    sound(plan)


def test_a_ladder_of_three_taps():
    # By hand: ways of 2, 4 + 4 and 4 + 4 + 4 ticks; the last to end is the longest, 24 steps, the first to begin the
    # direct one, 4 steps: 20 + 24 - 4. Each way must carry on where the one before it lets go.
    layers = (
        "#######\n.#...#.\n.#####.\n.#...#.\n.#####.",
        "bw2wwwL\n.w...w.\n.w44ww.\n.w...w.\n.w444w.",
    )
    legend = {"#": "block", "L": "lamp", "b": "short-button", "w": "wire", "2": "repeater east delay=2",
              "4": "repeater east delay=4"}  # fmt: skip
    plan = drawn(layers, legend, {"press": (0, 0, 1)}, {"joined": (5, 0, 1)})
    assert told(plan, "sum", "joined") == [
        "2 s = 1 s (the press) + 1.2 s (three repeaters) − 0.2 s (the first repeater)."
    ]
    sound(plan)


@pytest.mark.parametrize("delays", [(1,), (4,), (2, 3), (4, 4, 4)])
def test_a_row_of_repeaters_delays_and_does_not_hold(delays):
    wide = len(delays)
    layers = ("#" * (wide + 2), f"b{''.join(map(str, delays))}L")
    legend = {"#": "block", "L": "lamp", "b": "long-button"}
    legend |= {str(delay): f"repeater east delay={delay}" for delay in delays}
    plan = drawn(layers, legend, {"press": (0, 0, 1)}, {"lamp": (wide + 1, 0, 1)})
    assert told(plan, "answer", "lamp") == [
        f"One press lights the lamp for 1.7 s, {duration_text(2 * sum(delays))} after it."
    ]
    assert told(plan, "sum", "lamp") == ["1.7 s = 1.5 s (the press) + 0.2 s (the lamp)."]
    assert told(plan, "knob", "lamp") == []  # by hand: a delay on both ways lengthens nothing
    sound(plan)


@pytest.mark.parametrize("items", [5, 20])
def test_items_that_go_one_by_one(items):
    legend = {"#": "insulator", "v": "lever thrown=yes", "w": "wire", "c": "comparator east", "L": "lamp",
              "h": f"hopper into=west items={items}", "g": "hopper into=west"}  # fmt: skip
    plan = drawn(("..##\n...#", "..vw\n.ghcL"), legend, {"release": (2, 0, 1)}, {"level": (3, 1, 1)})
    number = {5: "five", 20: "20"}[items]
    assert told(plan, "items", "level") == [f"The first hopper gives away {number} items, one every 0.4 s."]
    whole = duration_text(8 * (items - 1) + 1)  # a step after the flip the first goes
    assert told(plan, "sum", "level") == [f"{number.capitalize()} items take all of the {whole}."]
    assert told(plan, "cause", "level") == ["The lever goes off, and that unlocks the first hopper."]
    sound(plan)


def test_a_reason_is_tried_by_an_edit_whose_effect_it_foretells():
    # The sum says what counts: a tick more on the long way lengthens, on the short one it shortens.
    layers = ("#####L##\n.#...#..\n.#####..", "bw4wwwwL\n.w...w..\n.w333w..")
    legend = {"#": "block", "L": "lamp", "b": "short-button", "w": "wire", "3": "repeater east delay=3",
              "4": "repeater east delay=4"}  # fmt: skip
    plan = drawn(layers, legend, {"press": (0, 0, 1)}, {"joined": (5, 0, 1)})
    before = measure(plan)[0].hold_steps
    for cell, part in plan.cells.items():
        if part.kind == "repeater":
            more = 1 if part.delay < 4 else -1
            after = measure(place(plan, cell, part._replace(delay=part.delay + more)))[0].hold_steps
            assert after - before == (2 * more if cell[1] == 2 else -2 * more)
    assert len(told(plan, "knob", "joined")) == 3
