"""What may stand in a cell: kinds, and the ways in which each may face, hang or be set."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import product

from tickwright.errors import UsageError, near
from tickwright.kinds import PARTS, Part, parse_part
from tickwright.kinds.kind import Argument
from tickwright.kinds.part import mirrored, part_text, turned

KINDS_TRIED = ("block", "wire", "repeater", "comparator", "torch", "short-button on=down")
SEARCHED = (
    "block", "insulator", "power-block", "lamp", "wire", "repeater", "comparator", "torch", "lever", "short-button",
    "long-button", "change-sensor",
)  # fmt: skip
UNPROVED = (*SEARCHED, "piston", "pull-piston", "hopper", "crate", "ejector")
"""What is searched without proof: what moves and what holds items as well."""
ITEMS_TRIED = (0, 1, 2, 4, 8)
TRIGGERS = ("button", "lever")


def alphabet(entries: Iterable[str], known: Sequence[str] = SEARCHED) -> tuple[Part, ...]:
    """The parts of these entries, in their order: a kind with all its ways, or a part's text for that way alone.

    Each way comes with its turns and mirror images, so that a layout and its mirror images have the same parts. Raises
    UsageError for a kind that is not among the `known`, and if there is no button or lever among them.

    >>> [str(part) for part in alphabet(["block", "torch on=down", "short-button on=down"])]
    ['block', 'torch', 'short-button']
    >>> len(alphabet(["repeater", "lever on=north"]))
    20
    """
    found: list[Part] = []
    for entry in entries:
        found += [part for part in _ways(entry.strip(), known) if part not in found]
    if not any(part.behaviour in TRIGGERS for part in found):
        raise UsageError('Nothing can be pressed: give --kinds a trigger, such as "short-button on=down" or "lever".')
    return tuple(found)


def _ways(entry: str, known: Sequence[str]) -> list[Part]:
    kind = entry.split(" ", maxsplit=1)[0]
    if kind not in known:
        like = near(kind, known)
        close = like if "Did you mean" in like else ""
        why = "it moves, holds items or is trodden on" if kind in PARTS else "there is no such part"
        if kind in UNPROVED:
            close = " With --anneal it is searched, without proof."
        raise UsageError(f'"{kind}" is not searched: {why}. Give --kinds some of {", ".join(known)}.{close}')
    row = PARTS[kind]
    if " " in entry:
        parts = [parse_part(entry)]
    else:
        words = [[f"{one.name}={value}" for value in _values(one)] for one in row.arguments if one.name != "thrown"]
        ways = [(f"{row.direction}={way}" if row.direction else way) for way in row.directions] or [""]
        parts = [parse_part(" ".join([kind, way, *rest])) for way, *rest in product(ways, *words)]
    images = [image for part in parts for image in _images(part)]
    return list(dict.fromkeys(images))


def _values(argument: Argument) -> Sequence[object]:
    return ITEMS_TRIED if argument.name == "items" else argument.choices


def _images(part: Part) -> list[Part]:
    return [turned(one, quarter) for one in (part, mirrored(part, "x")) for quarter in range(4)]


def texts(parts: Sequence[Part]) -> list[str]:
    """The parts as they are written in plans."""
    return [part_text(part) for part in parts]
