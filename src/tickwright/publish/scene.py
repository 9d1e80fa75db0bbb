"""What the 3D component (`web/scene.js`) is given: the solids of a plan, and runs of it as lists of changes."""

from __future__ import annotations

import base64
import re
import zlib
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from importlib.metadata import distribution
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from tickwright.engine.trace import Changes
from tickwright.errors import UsageError
from tickwright.extras import need_extra
from tickwright.kinds import CONTAINERS, Part
from tickwright.plan.build_order import facing_hint
from tickwright.plan.model import Plan
from tickwright.publish.pieces import ROLES, Face, Solid
from tickwright.publish.solids import stand_solid
from tickwright.publish.tokens import THEMES
from tickwright.rules import RuleSet
from tickwright.rules.layout import Layout, Stand, around
from tickwright.space import DIRECTIONS, Cell, zyx

Stands = Mapping[Cell, Stand]
REACH = 2  # cells, taxicab: how far what stands in a cell changes how others are drawn


class NumberedStands:
    """The configurations that runs of a plan go through, each numbered once; the plan as laid is number 0."""

    def __init__(self, plan: Plan) -> None:
        self.all: list[Stands] = []
        self._numbers: dict[frozenset[tuple[Cell, Stand]], int] = {}
        self.number({cell: Stand(part) for cell, part in plan.cells.items()})

    def number(self, stands: Stands) -> int:
        """The number of a configuration, a new one if it was not seen before."""
        number = self._numbers.setdefault(frozenset(stands.items()), len(self.all))
        if number == len(self.all):
            self.all.append(dict(stands))
        return number


def scene_data(plan: Plan, rules: RuleSet, configurations: Sequence[Stands] = ()) -> dict[str, Any]:
    """The data of a scene, ready for JSON: what stands where in each configuration of the plan, and how it looks.

    The first configuration is the plan as laid if none is given. `cells` are all cells that ever hold something or
    have a name, in (z, y, x) order: a cell's place in that list is its number everywhere else. A configuration is a
    list of [cell, solid, part] numbers; after the first, of those that differ from it, with [cell] for what is gone.

    >>> from tickwright.plan import loads
    >>> from tickwright.rules import load_rules
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", L = "lamp"}
    ... layer = [{rows = "#"}, {rows = "bL"}]
    ... triggers = {press = [0, 0, 1]}
    ... outputs = {lamp = [1, 0, 1]}''')
    >>> data = scene_data(plan, load_rules("standard"))
    >>> data["cells"], data["triggers"], [part["text"] for part in data["parts"]]
    ([[0, 0, 0], [0, 0, 1], [1, 0, 1]], {'press': 1}, ['block', 'short-button', 'lamp'])
    """
    given = list(configurations) or NumberedStands(plan).all
    first = given[0]
    named = (*plan.triggers.values(), *plan.outputs.values())
    cells = sorted({*named, *plan.cells, *(cell for stands in given for cell in stands)}, key=zyx)
    number = {cell: i for i, cell in enumerate(cells)}
    solids: dict[Solid, int] = {}
    parts: dict[tuple[Part, str], int] = {}
    shown: list[list[list[int]]] = []
    for stands in given:
        layout = Layout(stands, rules)
        changed = {cell for cell in {**first, **stands} if first.get(cell) != stands.get(cell)}
        rows = []
        for cell in sorted(around(changed, REACH) & stands.keys() if shown else stands, key=zyx):
            stand = stands[cell]
            solid = solids.setdefault(stand_solid(layout, cell, stand), len(solids))
            part = parts.setdefault((stand.part, stand.posture), len(parts))
            rows.append([number[cell], solid, part])
        shown.append(
            rows if not shown else _differences(shown[0], rows, [number[cell] for cell in first.keys() - stands])
        )
    return {
        "size": list(plan.size),
        "cells": [list(cell) for cell in cells],
        "parts": [_part_data(part, posture, rules) for part, posture in parts],
        "solids": [_solid_data(solid) for solid in solids],
        "configurations": shown,
        "triggers": {name: number[cell] for name, cell in plan.triggers.items()},
        "outputs": {name: number[cell] for name, cell in plan.outputs.items()},
        "roles": list(ROLES),
        "sides": list(DIRECTIONS),
        "top_level": rules.wire.top_level,
        "palette": {theme: dict(THEMES[theme]) for theme in ("light", "dark")},
    }


def _differences(first: Sequence[list[int]], rows: Sequence[list[int]], gone: Sequence[int]) -> list[list[int]]:
    """The rows that the first configuration has not, and [cell] for what is gone from it."""
    held = {tuple(row) for row in first}
    return [*(row for row in rows if tuple(row) not in held), *([cell] for cell in sorted(gone))]


POSTURES = {"out": "extended", "back": "just gone back", "moving": "on the move", "arm": "its arm"}


def _part_data(part: Part, posture: str, rules: RuleSet) -> dict[str, Any]:
    kind = part.kind
    data: dict[str, Any] = {"text": str(part), "kind": kind}
    hint = facing_hint(part)
    if hint:
        data["hint"] = hint
    if posture != "rest":
        data["posture"] = POSTURES[posture]
    if kind in CONTAINERS:
        data["capacity"] = rules.capacity(kind)
    return data


def _solid_data(solid: Solid) -> dict[str, Any]:
    """The solid with short numbers: faces as [role, side, x, y, z, ...], lines as [x, y, z, x, y, z, ...].

    The side is a number of `sides`, plus 6 for a face that lies on it without filling it; -1 for none.
    """

    def place(face: Face) -> int:
        return -1 if face.side is None else DIRECTIONS.index(face.side) + (0 if face.whole else len(DIRECTIONS))

    return {
        "faces": [[ROLES.index(face.role), place(face), *_flat(face.corners)] for face in solid.faces],
        "lines": [value for line in solid.lines for value in _flat(line)],
        "anchors": [_flat([anchor]) for anchor in solid.anchors],
    }


def _flat(points: Iterable[Sequence[float]]) -> list[float]:
    return [int(value) if value == int(value) else round(value, 3) for point in points for value in point]


def packed_changes(shown: Mapping[int, Changes]) -> str:
    """Change lists of numbered cells as text for `unpackChanges` of `web/scene.js`: base64 of deflated numbers.

    In the order of steps: steps since the entry before, how many cells change, then each cell and its value. All are
    unsigned numbers of 7 bits a byte, the lowest first, with the eighth bit set where more follow (LEB128).
    """
    steps: dict[int, list[tuple[int, int]]] = {}
    for cell, changes in shown.items():
        for step, value in changes:
            steps.setdefault(step, []).append((cell, value))
    numbers = bytearray()
    last = 0
    for step in sorted(steps):
        for value in (step - last, len(steps[step]), *(value for pair in sorted(steps[step]) for value in pair)):
            while value > 127:
                numbers.append(value & 127 | 128)
                value >>= 7  # noqa: PLW2901 - the number is taken apart
            numbers.append(value)
        last = step
    return base64.b64encode(zlib.compress(bytes(numbers), 9)).decode("ascii")


WEB_FOLDER = Path(__file__).parent / "web"
"""Our own ES modules; they import one another by "./name.js"."""
IMPORTS = re.compile(r"^import\s+[^;]*;\n", re.MULTILINE)
EXPORTED = re.compile(r"^export (?=const|let|class|function|async)", re.MULTILINE)


@cache
def inlined(*names: str) -> str:
    """Our own modules as one script: each stands after those it imports, and nothing is imported or exported."""
    texts = [(WEB_FOLDER / name).read_text(encoding="utf-8") for name in names]
    return "\n".join(EXPORTED.sub("", IMPORTS.sub("", text)) for text in texts)


EXPORTS = re.compile(r"export\s*\{([^{}]*)\}\s*;?\s*(?://# sourceMappingURL=\S*\s*)?$")


@cache
def three_script() -> str:
    """The three.js that NiceGUI ships, the licence notices first, as a script that defines `const THREE_BUNDLE`.

    Raises UsageError if NiceGUI is not installed, or has none of the form that is known.
    """
    need_extra("workbench")
    spec = find_spec("nicegui")  # finds it without importing it, which takes long
    folders = spec.submodule_search_locations if spec is not None else None
    path = Path(folders[0], "elements", "scene", "dist", "index.js") if folders else Path()
    bundle = path.read_text(encoding="utf-8") if path.is_file() else ""
    found = EXPORTS.search(bundle)
    if found is None or "</script" in bundle:
        raise UsageError(
            "The three.js of the installed NiceGUI has a form that is not known: install a NiceGUI from 3.4 on, or the "
            "one that requirements.lock names."
        )
    pairs = [item.split(" as ") if " as " in item else [item, item] for item in found[1].split(",")]
    names = ", ".join(f"{outer.strip()}: {inner.strip()}" for inner, outer in pairs)
    notice, _, code = bundle[: found.start()].partition("*/")
    licence = distribution("nicegui").read_text("licenses/LICENSE") or ""
    bundled = f"/*\nAs bundled by NiceGUI:\n{licence.replace('*/', '')}*/"
    return f"{notice}*/\n{bundled}\nconst THREE_BUNDLE = (() => {{{code}\nreturn {{{names}}};}})();\n"
