"""The table of kinds: one row for each kind of part. Its order is that of the lists and pages."""

from __future__ import annotations

from typing import Any

from tickwright.kinds.kind import Argument, Behaviour, PartKind
from tickwright.space import DIRECTIONS, HORIZONTAL

_TORCH_SIDES = ("down", *HORIZONTAL)
_HOPPER_SIDES = ("down", *HORIZONTAL)
_PRESS = ("press",)
_PLATE = ("drop", "take", "tread", "leave")
_STORE = ("put", "take")
OPEN_CELL_ACTS = ("drop", "take", "tread", "leave")


def _items(most: int) -> Argument:
    return Argument("items", 0, tuple(range(most + 1)), "how many items it holds at the start")


# What several kinds have in common.
_FIXED: dict[str, Any] = {
    "direction": "on", "directions": DIRECTIONS, "default_direction": "down", "support": "facing",
    "gives": "around", "powers": "facing", "draws_join": "always",
}  # fmt: skip
_BUTTON: dict[str, Any] = {**_FIXED, "behaviour": "button", "acts": _PRESS}
_PLATES: dict[str, Any] = {
    "behaviour": "plate", "support": "below", "acts": _PLATE,
    "gives": "around", "powers": "below", "draws_join": "always", "feels": "anything",
}  # fmt: skip
_PISTON: dict[str, Any] = {"behaviour": "piston", "direction": "", "directions": DIRECTIONS, "hears": "not-face"}

_TABLE = (
    PartKind(
        "block",
        "A full cell that conducts: it passes power on to what listens beside it.",
        "solid",
        behaviour="still",
        shows_passed=True,
        confused_with=("insulator",),
        seen_at_once=True,
    ),
    PartKind(
        "insulator",
        "A full cell that does not conduct; it only carries what stands on it.",
        "hollow",
        behaviour="still",
        confused_with=("block",),
        seen_at_once=True,
    ),
    PartKind(
        "lamp",
        "Lights at once when powered; goes dark two ticks after losing power.",
        "lamp",
        behaviour="lamp",
        hears="around",
        delay="lamp.off_delay",
        seen_at_once=True,
    ),
    PartKind(
        "power-block",
        "Gives level 15 to every listening part beside it, always.",
        "source",
        behaviour="source",
        gives="around",
        at_flank="always",
        draws_join="always",
        starts_on="always",
        seen_at_once=True,
    ),
    PartKind(
        "wire",
        "Carries a level from cell to cell, one level less each time.",
        "line",
        behaviour="wire",
        support="below",
        at_flank="always",
        draws_join="always",
        shows_level=True,
        level_is_visible=True,
    ),
    PartKind(
        "repeater",
        "Hears its back, gives 15 to its front after its delay; a powered one at its flank locks it.",
        "delay-box",
        behaviour="repeater",
        direction="",
        directions=HORIZONTAL,
        arguments=(Argument("delay", 1, (1, 2, 3, 4), "delay in ticks"),),
        support="below",
        gives="front",
        powers="front",
        hears="back",
        flank="lock",
        at_flank="facing",
        locks=True,
        hastens=True,
        draws_join="axis",
        delay="repeater.steps_per_delay",
        priorities=("repeater.priority_ahead", "repeater.priority_on", "repeater.priority_off"),
    ),
    PartKind(
        "comparator",
        "Passes the rear level on if no flank is stronger (threshold), or less the flank level (difference).",
        "triangle",
        behaviour="comparator",
        direction="",
        directions=HORIZONTAL,
        arguments=(Argument("mode", "threshold", ("threshold", "difference"), "what it does with its flank level"),),
        support="below",
        gives="front",
        powers="front",
        hears="back",
        flank="level",
        at_flank="facing",
        locks=True,
        hastens=True,
        draws_join="always",
        shows_level=True,
        delay="comparator.delay",
        priorities=("comparator.priority_ahead", "comparator.priority", "comparator.priority"),
    ),
    PartKind(
        "torch",
        "Lit unless the cell it is fixed to gives it power; a delay of one tick either way.",
        "inverter",
        behaviour="torch",
        direction="on",
        directions=_TORCH_SIDES,
        default_direction="down",
        support="facing",
        gives="not-support",
        powers="above",
        hears="facing",
        draws_join="always",
        starts_on="always",
        delay="torch.delay",
    ),
    PartKind(
        "lever",
        "Stays where the hand puts it: 15 when on.",
        "switch",
        behaviour="lever",
        **_FIXED,
        arguments=(Argument("thrown", False, (False, True), "whether it is on at the start"),),
        acts=("flip", "on", "off"),
        starts_on="thrown",
    ),
    PartKind(
        "short-button",
        "Gives 15 for ten ticks after a press.",
        "push",
        **_BUTTON,
        delay="button.short",
        confused_with=("long-button",),
    ),
    PartKind(
        "long-button",
        "Gives 15 for fifteen ticks after a press.",
        "push-long",
        **_BUTTON,
        delay="button.long",
        confused_with=("short-button",),
    ),
    PartKind(
        "item-plate",
        "On while it feels anything; looks again every ten ticks.",
        "plate",
        **_PLATES,
        delay="plate.item_look",
        confused_with=("tread-plate",),
    ),
    PartKind(
        "tread-plate",
        "On while a creature stands on it; looks again every ten ticks.",
        "plate-tread",
        **{**_PLATES, "acts": ("tread", "leave", "drop", "take"), "feels": "creatures"},
        delay="plate.tread_look",
        confused_with=("item-plate",),
    ),
    PartKind(
        "counting-plate",
        "Gives a level that counts the things on it; looks again every five ticks.",
        "plate-count",
        **_PLATES,
        arguments=(Argument("counts", 1, (1, 10), "how many things make one level"),),
        shows_level=True,
        delay="plate.counting_look",
    ),
    PartKind(
        "change-sensor",
        "Gives a pulse of one tick when the cell behind it visibly changes.",
        "edge",
        behaviour="sensor",
        direction="",
        directions=DIRECTIONS,
        gives="front",
        powers="front",
        at_flank="facing",
        draws_join="output",
        lands_off=True,
        delay="sensor.delay",
    ),
    PartKind(
        "piston",
        "Pushes up to twelve cells by one when powered.",
        "ram",
        **_PISTON,
        confused_with=("pull-piston",),
    ),
    PartKind(
        "pull-piston",
        "A piston that pulls the cell before its arm back with it.",
        "ram-pull",
        **_PISTON,
        pulls=True,
        confused_with=("piston",),
    ),
    PartKind(
        "hopper",
        "Holds items in 5 slots; pulls from above and pushes one item every four ticks, unless powered.",
        "funnel",
        behaviour="hopper",
        direction="into",
        directions=_HOPPER_SIDES,
        default_direction="down",
        arguments=(_items(5 * 64),),
        acts=_STORE,
        hears="around",
        slots="container.hopper_slots",
    ),
    PartKind(
        "ejector",
        "Holds items in 9 slots; lets one go each time it becomes powered.",
        "spout",
        behaviour="ejector",
        direction="",
        directions=DIRECTIONS,
        arguments=(_items(9 * 64),),
        acts=_STORE,
        hears="around",
        delay="ejector.delay",
        slots="container.ejector_slots",
    ),
    PartKind(
        "crate",
        "Holds items in 27 slots.",
        "box",
        behaviour="crate",
        arguments=(_items(27 * 64),),
        acts=_STORE,
        slots="container.crate_slots",
    ),
)
PARTS: dict[str, PartKind] = {kind.name: kind for kind in _TABLE}


def kinds_with(*behaviours: Behaviour) -> tuple[str, ...]:
    """The names of all kinds of these behaviours, in the order of the table.

    >>> kinds_with("button", "lever")
    ('lever', 'short-button', 'long-button')
    """
    return tuple(kind.name for kind in _TABLE if kind.behaviour in behaviours)


def is_a(kind: str | None, *behaviours: Behaviour) -> bool:
    """Whether a kind, if it is one, behaves so.

    >>> is_a("tread-plate", "plate"), is_a("cell", "plate"), is_a(None, "plate")
    (True, False, False)
    """
    row = PARTS.get(kind or "")
    return row is not None and row.behaviour in behaviours


BUTTONS = kinds_with("button")
PLATES = kinds_with("plate")
PISTONS = kinds_with("piston")
CONTAINERS = tuple(kind.name for kind in _TABLE if kind.slots)
TAKES_HAND = frozenset(kind.name for kind in _TABLE if kind.acts)
STANDS = frozenset(kind.name for kind in _TABLE if kind.support is not None)
LAMPS = kinds_with("lamp")
STILL = kinds_with("still")
PASSING = tuple(kind.name for kind in _TABLE if kind.shows_passed)
HEARING = frozenset(kind.name for kind in _TABLE if kind.hears)
