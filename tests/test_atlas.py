"""The drawings of the atlas are those of its certificates."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tickwright import load, measure
from tickwright.design.families import small_box
from tickwright.plan import loads

DOCS = Path(__file__).resolve().parents[1] / "docs"
sys.path.insert(0, str(DOCS))

import atlas  # noqa: E402 - lies beside the page

SHELF = DOCS.parent / "src" / "tickwright" / "shelf"


def test_the_drawings_are_those_of_the_certificates():
    drawn = atlas.pictures()
    assert drawn
    assert {path.name for path in (DOCS / "pictures").glob("atlas-*.svg")} == set(drawn)
    for name, text in drawn.items():
        assert (DOCS / "pictures" / name).read_text(encoding="utf-8") == text, name


def test_the_tiles_of_the_shelf_are_those_of_the_table():
    made = atlas.tiles()
    assert {path.name for path in SHELF.glob("hold-*.toml")} == set(made)
    for name, text in made.items():
        assert (SHELF / name).read_text(encoding="utf-8") == text, name


WITH_TILE = """format = "tickwright plan 1"
legend = {{"=" = "insulator", w = "wire", L = "lamp"}}
layer = [{{rows = "{floor}"}}, {{rows = "{line}"}}]
outputs = {{lamp = [{x}, {far}, 1]}}
use = [{{plan = "tile:hold-{steps}", at = [3, 3, 0], name = "it"}}]
"""


@pytest.mark.parametrize("steps", small_box.HOLDS_STEPS)
def test_a_hold_from_the_shelf_goes_on_over_a_wire_and_lights_a_lamp(steps):
    port = load(SHELF / f"hold-{steps}.toml").ports["out"]
    x, step = port.cell[0] + 3, {"north": -1, "south": 1}[port.side]
    near = port.cell[1] + 3 + step
    far = near + step

    def layer(marks: dict[int, str]) -> str:
        return "\\n".join("." * x + marks.get(y, ".") + "." * (8 - x) for y in range(9))

    text = WITH_TILE.format(steps=steps, x=x, far=far, floor=layer({near: "="}), line=layer({near: "w", far: "L"}))
    (seen,) = measure(loads(text), trigger="it.press", output="lamp")
    assert seen.hold_steps == steps + 4
