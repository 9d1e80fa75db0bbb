"""The page atlas.md: the smallest layouts of small boxes, drawn from their certificates."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import groupby
from pathlib import Path
from typing import Any

from tickwright import Wish, load_rules, measure
from tickwright.design.catalogue import recipes
from tickwright.design.choosing import goal_of
from tickwright.design.families import small_box
from tickwright.design.judging import candidate_of
from tickwright.design.recipes import LAMP_STEPS
from tickwright.design.trials import Trials
from tickwright.exporting import FORMATS, Export, Look
from tickwright.kinds import parse_part
from tickwright.measurement import find_trigger, observe
from tickwright.measurement.measuring import hold_of
from tickwright.plan import Plan, Setup, crop, dumps, loads
from tickwright.plan.model import PlanPort
from tickwright.space import HORIZONTAL, Cell, beside

MOST_STEPS = 300
TABLE = "holds-at-wires-3x2x2.json"
CERTIFICATES = Path(__file__).resolve().parent / "certificates"

INTRODUCTION = """# Atlas of small boxes

What the smallest layouts are, found by trying every layout of a box. `tickwright discover "hold 24 steps" --box 2x2x2`
does so for one behaviour. Each line below stands in a *certificate* in `docs/certificates/`. It says what was tried and
how many layouts there were, and the same command gives the same certificate again. See
[discover.md](discover.md).

A claim is about an *alphabet*: the kinds of parts that may stand in a cell, and the ways in which they may face, hang
or be set. It is about nothing else. With another part, or a button on a wall, there may be smaller ones. One part is
pressed. "All" means that it works in all eight turns and mirror images and in ten orders of telling, on the reference
engine. Times assume a world at its full 20 steps a second; a step is 0.05 s.

The plans are in the certificates, and `discover` writes them beside its own.
"""


def certificates() -> list[dict[str, Any]]:
    """All certificates, the smallest boxes first."""
    found = [json.loads(path.read_bytes()) | {"file": path.name} for path in sorted(CERTIFICATES.glob("*.json"))]
    return sorted(found, key=lambda one: (one["box"][0] * one["box"][1] * one["box"][2], one["box"], one["file"]))


def page() -> str:
    """The page."""
    lines = [INTRODUCTION, *smaller()]
    for box, group in groupby(certificates(), key=lambda one: one["box"]):
        some = list(group)
        lines += [
            f"## {' × '.join(map(str, box))}",
            "",
            _counted(some[0]),
            "",
            "| behaviour | parts | works in turns and orders | certificate |",
            "|---|---|---|---|",
        ]
        for one in some:
            link = f"[{one['file']}](certificates/{one['file']})"
            rows = [
                (
                    _behaviour(one, won),
                    str(won["parts"]),
                    "all" if not won["order_sensitive"] else f"{won['works_in']} of {won['of']}",
                )
                for won in _told(one)
            ] or [(one["behaviour"], "none does it", "")]
            lines += [f"| {' | '.join(row)} | {link} |" for row in rows]
        for one in some:
            for won in _told(one):
                said = f"{_behaviour(one, won)}: {won['parts']} parts"
                lines += ["", f"**{said}**", "", f"![{said}](pictures/{picture_name(one, won)})"]
        lines.append("")
    return "\n".join(lines)


def smaller() -> list[str]:
    """Where the atlas has fewer parts than the families of `choose`, each run for this page."""
    lines = [
        "## Smaller than the other families of `choose`",
        "",
        "The layouts that the search for holds at wires in 3 × 2 × 2 found are a family of [`choose`](choosing.md):",
        "*small box*. Each lies on the [shelf](modules.md#the-shelf), too, as `tile:hold-24` and so on. Beside each",
        "stands the smallest that any other family has for a short button. Every plan was run for this page.",
        "`place` and `compose` use none of them: their tiles hear a wire, and these hear a button.",
        "",
        "| hold | output | small box | parts | another family | parts | fewer by |",
        "|---|---|---|---|---|---|---|",
    ]
    for steps in small_box.HOLDS_STEPS:
        for output in ("line", "lamp"):
            goal = goal_of(Wish(steps, output=output), load_rules())
            for recipe in small_box.recipes(replace(goal, least_steps=1, most_steps=MOST_STEPS)):
                if recipe.hold_steps - LAMP_STEPS * (output == "lamp") == steps:
                    plan = recipe.make()
                    (seen,) = measure(plan)
                    parts, other = smallest_besides(recipe.hold_steps, output)
                    box, fewer = " × ".join(map(str, plan.size)), parts - len(plan.cells)
                    row = f"{seen.hold_steps} steps", output, box, str(len(plan.cells)), other, str(parts), str(fewer)
                    lines.append(f"| {' | '.join(row)} |")
    return [*lines, ""]


def _counted(one: dict[str, Any]) -> str:
    """What was tried in a box."""
    counts, kinds = one["counts"], ", ".join(f"`{kind}`" for kind in one["kinds"])
    return (
        f"{counts['valid']:,} layouts can stand with one trigger; {counts['canonical']:,} of them are no mirror images "
        f"of others. Alphabet: {kinds}."
    )


def _told(one: dict[str, Any]) -> list[dict[str, Any]]:
    """The first winner that works always, and the first of those that do not; in a table, all of them."""
    if "hold_steps" in one["winners"][0] if one["winners"] else False:
        return list(one["winners"])
    always = [won for won in one["winners"] if not won["order_sensitive"]][:1]
    return always + [won for won in one["winners"] if won["order_sensitive"]][:1]


def _behaviour(one: dict[str, Any], won: dict[str, Any]) -> str:
    """What a winner does."""
    what = f"hold {won['hold_steps']} steps" if "hold_steps" in won else str(one["behaviour"])
    return f"{what} at a {' or '.join(one['outputs'])}" if one.get("outputs") else what


def picture_name(one: dict[str, Any], won: dict[str, Any]) -> str:
    """The file of a drawing in docs/pictures."""
    sort = "-in-some-turns" if won["order_sensitive"] else ""
    steps = f"-{won['hold_steps']}" if "hold_steps" in won else ""
    return f"atlas-{one['file'].removesuffix('.json')}{steps}{sort}.svg"


def tiles() -> dict[str, str]:
    """The tiles of the shelf that come of the table of holds at wires, by the names of their files."""
    table = json.loads((CERTIFICATES / TABLE).read_bytes())
    made = {}
    for won in table["winners"]:
        if not won["order_sensitive"] and won["parts"] < smallest_besides(won["hold_steps"], "line")[0]:
            plan = loads(won["plan"])
            out = plan.outputs["out"]
            side, level = _side(plan, out, won["hold_steps"])
            port = PlanPort(out, side, "out", gives=level)
            title = f"On for {won['hold_steps']} steps after a press, the fewest parts in 3 x 2 x 2"
            made[f"hold-{won['hold_steps']}.toml"] = dumps(replace(plan, source=None, title=title, ports={"out": port}))
    return made


def smallest_besides(hold_steps: int, output: str) -> tuple[int, str]:
    """The fewest parts with which another family of `choose` holds so long after a short button, and which it is."""
    wish = Wish(hold_steps, output=output)
    others = [recipe for recipe in recipes(goal_of(wish, load_rules())) if recipe.family != small_box.NAME]
    laid = [candidate_of(recipe, wish) for recipe in others]
    held = Trials(load_rules()).holds([one.plan for one in laid], 10 * hold_steps + 4_000)
    return min((one.parts, one.recipe.family) for one, hold in zip(laid, held, strict=True) if hold == hold_steps)


def _side(plan: Plan, out: Cell, hold_steps: int) -> tuple[str, int]:
    """The first side at which a wire outside leaves the hold as it is, and the level that it has then."""
    rules = load_rules()
    for side in HORIZONTAL:
        wire = beside(out, side)
        if any(cell in plan.cells for cell in (wire, beside(wire, "up"), beside(wire, "down"))):
            continue
        more = {wire: parse_part("wire"), beside(wire, "down"): parse_part("insulator")}
        setup = Setup(crop(Plan({**plan.cells, **more}, plan.triggers, {"line": wire})), rules)
        seen = observe(setup, find_trigger(setup, "press"))
        if hold_of(seen.pulses("line")) == hold_steps:
            return side, min(value for _, value in seen.changes["line"] if value)
    raise AssertionError(f"no wire can go on from the hold of {hold_steps} steps")


def _titled(one: dict[str, Any], won: dict[str, Any]) -> Plan:
    """The plan of a winner; of a table, its title says which hold it is."""
    plan = loads(won["plan"])
    return replace(plan, title=f"{_behaviour(one, won)}, {won['parts']} parts") if "hold_steps" in won else plan


def pictures() -> dict[str, str]:
    """The drawings, by the names of their files."""
    svg = FORMATS["svg"]
    return {
        picture_name(one, won): str(svg.make(Export(_titled(one, won), look=Look(apart=2.5))))
        for one in certificates()
        for won in _told(one)
    }
