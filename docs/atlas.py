"""The page atlas.md: the smallest layouts of small boxes, drawn from their certificates."""

from __future__ import annotations

import json
from itertools import groupby
from pathlib import Path
from typing import Any

from tickwright.exporting import FORMATS, Export, Look
from tickwright.plan import loads

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
    lines = [INTRODUCTION]
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
                (str(won["parts"]), "all" if not won["order_sensitive"] else f"{won['works_in']} of {won['of']}")
                for won in _told(one)
            ] or [("none does it", "")]
            lines += [f"| {one['behaviour']} | {parts} | {works} | {link} |" for parts, works in rows]
        for one in some:
            for won in _told(one):
                said = f"{one['behaviour']}: {won['parts']} parts"
                lines += ["", f"**{said}**", "", f"![{said}](pictures/{picture_name(one, won)})"]
        lines.append("")
    return "\n".join(lines)


def _counted(one: dict[str, Any]) -> str:
    """What was tried in a box."""
    counts, kinds = one["counts"], ", ".join(f"`{kind}`" for kind in one["kinds"])
    return (
        f"{counts['valid']:,} layouts can stand with one trigger; {counts['canonical']:,} of them are no mirror images "
        f"of others. Alphabet: {kinds}."
    )


def _told(one: dict[str, Any]) -> list[dict[str, Any]]:
    """The first winner that works always, and the first of those that do not."""
    always = [won for won in one["winners"] if not won["order_sensitive"]][:1]
    return always + [won for won in one["winners"] if won["order_sensitive"]][:1]


def picture_name(one: dict[str, Any], won: dict[str, Any]) -> str:
    """The file of a drawing in docs/pictures."""
    sort = "-in-some-turns" if won["order_sensitive"] else ""
    return f"atlas-{one['file'].removesuffix('.json')}{sort}.svg"


def pictures() -> dict[str, str]:
    """The drawings, by the names of their files."""
    svg = FORMATS["svg"]
    return {
        picture_name(one, won): str(svg.make(Export(loads(won["plan"]), look=Look(apart=2.5))))
        for one in certificates()
        for won in _told(one)
    }
