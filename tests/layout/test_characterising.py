"""Modules measured at their ports: delays worked out from the rules by hand, and what the shelf's ports promise."""

from __future__ import annotations

from pathlib import Path

import pytest

from tickwright.errors import UsageError
from tickwright.kinds import parse_part
from tickwright.layout import Port, Tile, characterise, named_tile
from tickwright.plan import lay, load, loads

EXAMPLES = Path(__file__).parents[2] / "examples"
HEAD = 'format = "tickwright plan 1"\n[legend]\n"#" = "block"\nw = "wire"\n'
TILES = ("al", "nand2", "nor2", "re")


def tile(rows: str, legend: str, ports: dict[str, Port], ground: str | None = None) -> Tile:
    ground = ground or "#" * len(rows.split(maxsplit=1)[0])
    layers = f'[[layer]]\nrows = """\n{ground}\n"""\n[[layer]]\nrows = """\n{rows}\n"""\n'
    return Tile("made", loads(HEAD + legend + layers), ports)


def ends(width: int) -> dict[str, Port]:
    return {"a": Port((0, 0, 1), "west", "in"), "out": Port((width - 1, 0, 1), "east", "out")}


@pytest.fixture(scope="module")
def found():
    return {name: characterise(named_tile(f"tile:{name}")) for name in TILES}


def arcs(found):
    return {(one.input, one.edge, one.output, one.to): (one.least_steps, one.most_steps) for one in found.arcs}


def test_a_nor_follows_each_input_after_a_torch(found):
    # docs/rules.md: a torch acts two steps after what its block hears.
    assert arcs(found["nor2"]) == {
        (name, edge, "out", to): (2, 2) for name in "ab" for edge, to in (("on", "off"), ("off", "on"))
    }
    assert found["nor2"].states == 4
    assert found["nor2"].samples == ()
    assert found["nor2"].hazards == ()


def test_repeaters_stretch_what_is_shorter_than_their_delay():
    # docs/rules.md: a repeater of four ticks acts eight steps after, and a pulse shorter than that is on for eight.
    made = characterise(tile("wrw", 'r = "repeater east delay=4"\n', ends(3)))
    assert arcs(made) == {("a", "on", "out", "on"): (8, 8), ("a", "off", "out", "off"): (8, 8)}
    (one,) = made.inputs
    assert one.needs_level == 2  # one for the wire before the repeater, one for the repeater
    assert one.least_pulse_steps == 1  # every pulse is answered by one, however short
    assert one.least_gap_steps == 8  # in a shorter one the repeater hears its rear on again when it is to go off
    assert made.outputs[0].gives_level == 14  # the port's wire lies one cell from the tile's own


def test_a_flip_flop_takes_its_data_at_its_edge(found):
    for name, edge in (("re", "on"), ("al", "on")):
        ((data, clock, at, setup, hold),) = found[name].samples
        assert (data, clock, at) == ("d", "clock", edge)
        assert 0 <= setup <= 2
        assert -2 <= hold <= 2
    assert {key[0] for key in arcs(found["re"])} == {"clock"}
    assert {key[:2] for key in arcs(found["al"])} == {("d", "on"), ("d", "off"), ("clock", "off")}


def test_ports_of_the_shelf_promise_no_more_than_they_keep(found):
    for made in found.values():
        for one in made.inputs:
            assert one.needs_level <= one.says_level
        for one in made.outputs:
            assert one.gives_level >= one.says_level


def test_states_that_no_output_shows_are_told_apart():
    # A repeater in front of nothing is locked by `hold`: two states while hold is off, four while it is on.
    legend = 'r = "repeater east"\nn = "repeater north"\n'
    ports = {**ends(3), "hold": Port((1, 3, 1), "south", "in")}
    assert characterise(tile("wrw\nwr.\n.n.\n.w.", legend, ports, "###\n##.\n.#.\n.#.")).states == 6


def test_a_module_of_too_many_states_is_refused(monkeypatch):
    monkeypatch.setattr("tickwright.layout.characterising.MOST_STATES", 3)
    with pytest.raises(UsageError, match="over 3 states"):
        characterise(named_tile("tile:nor2"))


def test_an_and_of_a_signal_and_its_late_inverse_flickers():
    # a goes on: the repeater at the flank follows two ticks later, so that the comparator is on for a moment.
    legend = 'c = "comparator east mode=difference"\nr = "repeater north delay=2"\n'
    ports = {"a": Port((0, 0, 1), "west", "in"), "out": Port((3, 0, 1), "east", "out")}
    made = characterise(tile("wwwc\nw..r\nwwww", legend, ports, "####\n####\n####"))
    assert made.hazards == (("a", "out"),)
    assert made.comparators == (((3, 0, 1), 12, 15),)  # three wires from level 14; the repeater itself


CLOSE = {"a": Port((0, 0, 1), "west", "in"), "b": Port((0, 1, 1), "west", "in")}
ONE_CELL = {"a": Port((0, 0, 1), "west", "in"), "b": Port((0, 0, 1), "west", "in")}


@pytest.mark.parametrize(
    ("made", "message"),
    [
        (lambda: named_tile("tile:hold-24"), "has no port of role in: 1 to 6 can be worked through"),
        (lambda: named_tile("tile:nor5"), 'There is no tile "nor5" on the shelf. Did you mean "nor'),
        (lambda: tile("ww\nww", "", CLOSE, "##\n##"), "touches another one"),
        (lambda: tile("w", "", ONE_CELL), "have no room"),
    ],
)  # fmt: skip
def test_what_cannot_be_measured_is_told(made, message):
    with pytest.raises(UsageError, match=message):
        characterise(made())


def test_a_clock_is_refused():
    # A ring of three torches goes on for ever: ring oscillator, see the published checks.
    clock = lay(load(EXAMPLES / "torch-clock.toml"), {(0, 0, 1): parse_part("lever on=east")})
    with pytest.raises(UsageError, match="does not come to rest"):
        characterise(Tile("clock", clock, {"a": Port((0, -4, 1), "west", "in")}))
