"""The one table of parts: every kind, its arguments, how it stands and what the hand can do to it.

Everything that lists, reads, draws or explains parts derives from PARTS. What a part *does* is in the rule sets and
engines. A part's text is `kind [direction] [name=value ...]`, such as "repeater east delay=2".
"""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

from tickwright.errors import PartError, near
from tickwright.space import CLOCKWISE, DIRECTIONS, HORIZONTAL, OPPOSITE, Cell, beside

__all__ = [
    "BUTTONS",
    "CONTAINERS",
    "OPEN_CELL_ACTS",
    "PARTS",
    "PISTONS",
    "PLATES",
    "STANDS",
    "TAKES_HAND",
    "Argument",
    "Part",
    "PartKind",
    "a_kind",
    "choices_text",
    "mirrored",
    "parse_part",
    "part_text",
    "signature",
    "support_cell",
    "turned",
]


class Part(NamedTuple):
    """One part as placed: its kind, where it faces, and its arguments (those its kind does not take stay at rest).

    `facing` is the direction argument whatever its name is: the output of a repeater, comparator or change-sensor, the
    face of a piston or ejector, the cell that a torch, lever or button is fixed to, the cell a hopper pushes into.
    """

    kind: str
    facing: str | None = None
    delay: int = 1
    mode: str = "threshold"
    counts: int = 1
    thrown: bool = False
    items: int = 0

    def __str__(self) -> str:
        return part_text(self)


class Argument(NamedTuple):
    """A named argument: `choices` are its allowed values in order; for a number, the first and last are its range."""

    name: str
    default: int | str | bool
    choices: tuple[int | str | bool, ...]
    help: str


class PartKind(NamedTuple):
    """One record of the table.

    `direction` is how the direction is written ("" for a bare word, "on" or "into" for `on=D`, None if it takes none);
    `support` is where the cell that it stands on lies: "below", "facing" (the cell it is fixed to) or None if it needs
    none; `acts` are the acts of the hand it takes besides `place` and `clear`, the default first.
    """

    name: str
    help: str
    symbol: str
    direction: str | None = None
    directions: tuple[str, ...] = ()
    default_direction: str | None = None
    arguments: tuple[Argument, ...] = ()
    support: str | None = None
    acts: tuple[str, ...] = ()


_TORCH_SIDES = ("down", *HORIZONTAL)
_HOPPER_SIDES = ("down", *HORIZONTAL)
_PRESS = ("press",)
_PLATE = ("drop", "take", "tread", "leave")
_STORE = ("put", "take")
OPEN_CELL_ACTS = ("drop", "take", "tread", "leave")


def _items(most: int) -> Argument:
    return Argument("items", 0, tuple(range(most + 1)), "how many items it holds at the start")


_TABLE = (
    PartKind("block", "A full cell that conducts: it passes power on to what listens beside it.", "solid"),
    PartKind("insulator", "A full cell that does not conduct; it only carries what stands on it.", "hollow"),
    PartKind("lamp", "Lights at once when powered; goes dark two ticks after losing power.", "lamp"),
    PartKind("power-block", "Gives level 15 to every listening part beside it, always.", "source"),
    PartKind("wire", "Carries a level from cell to cell, one level less each time.", "line", support="below"),
    PartKind(
        "repeater",
        "Hears its back, gives 15 to its front after its delay; a powered one at its flank locks it.",
        "delay-box",
        direction="",
        directions=HORIZONTAL,
        arguments=(Argument("delay", 1, (1, 2, 3, 4), "delay in ticks"),),
        support="below",
    ),
    PartKind(
        "comparator",
        "Passes the rear level on if no flank is stronger (threshold), or less the flank level (difference).",
        "triangle",
        direction="",
        directions=HORIZONTAL,
        arguments=(Argument("mode", "threshold", ("threshold", "difference"), "what it does with its flank level"),),
        support="below",
    ),
    PartKind(
        "torch",
        "Lit unless the cell it is fixed to gives it power; a delay of one tick either way.",
        "inverter",
        direction="on",
        directions=_TORCH_SIDES,
        default_direction="down",
        support="facing",
    ),
    PartKind(
        "lever",
        "Stays where the hand puts it: 15 when on.",
        "switch",
        direction="on",
        directions=DIRECTIONS,
        default_direction="down",
        arguments=(Argument("thrown", False, (False, True), "whether it is on at the start"),),
        support="facing",
        acts=("flip", "on", "off"),
    ),
    PartKind(
        "short-button",
        "Gives 15 for ten ticks after a press.",
        "push",
        direction="on",
        directions=DIRECTIONS,
        default_direction="down",
        support="facing",
        acts=_PRESS,
    ),
    PartKind(
        "long-button",
        "Gives 15 for fifteen ticks after a press.",
        "push-long",
        direction="on",
        directions=DIRECTIONS,
        default_direction="down",
        support="facing",
        acts=_PRESS,
    ),
    PartKind(
        "item-plate", "On while it feels anything; looks again every ten ticks.", "plate", support="below", acts=_PLATE
    ),
    PartKind(
        "tread-plate",
        "On while a creature stands on it; looks again every ten ticks.",
        "plate-tread",
        support="below",
        acts=("tread", "leave", "drop", "take"),
    ),
    PartKind(
        "counting-plate",
        "Gives a level that counts the things on it; looks again every five ticks.",
        "plate-count",
        arguments=(Argument("counts", 1, (1, 10), "how many things make one level"),),
        support="below",
        acts=_PLATE,
    ),
    PartKind(
        "change-sensor",
        "Gives a pulse of one tick when the cell behind it visibly changes.",
        "edge",
        direction="",
        directions=DIRECTIONS,
    ),
    PartKind("piston", "Pushes up to twelve cells by one when powered.", "ram", direction="", directions=DIRECTIONS),
    PartKind(
        "pull-piston",
        "A piston that pulls the cell before its arm back with it.",
        "ram-pull",
        direction="",
        directions=DIRECTIONS,
    ),
    PartKind(
        "hopper",
        "Holds items in 5 slots; pulls from above and pushes one item every four ticks, unless powered.",
        "funnel",
        direction="into",
        directions=_HOPPER_SIDES,
        default_direction="down",
        arguments=(_items(5 * 64),),
        acts=_STORE,
    ),
    PartKind(
        "ejector",
        "Holds items in 9 slots; lets one go each time it becomes powered.",
        "spout",
        direction="",
        directions=DIRECTIONS,
        arguments=(_items(9 * 64),),
        acts=_STORE,
    ),
    PartKind("crate", "Holds items in 27 slots.", "box", arguments=(_items(27 * 64),), acts=_STORE),
)
PARTS: dict[str, PartKind] = {kind.name: kind for kind in _TABLE}
BUTTONS = ("short-button", "long-button")
PLATES = ("item-plate", "tread-plate", "counting-plate")
PISTONS = ("piston", "pull-piston")
CONTAINERS = ("hopper", "ejector", "crate")
TAKES_HAND = frozenset(kind.name for kind in _TABLE if kind.acts)
STANDS = frozenset(kind.name for kind in _TABLE if kind.support is not None)


@cache
def parse_part(text: str) -> Part:
    """Read a part's text.

    Raises PartError for an unknown kind, a direction the kind cannot take, or an argument it has not.

    >>> parse_part("repeater east delay=2").delay
    2
    >>> parse_part("torch").facing
    'down'
    """
    words = text.split()
    if not words:
        raise PartError('A part\'s text is empty: write a kind, such as "block" or "repeater east".')
    kind = PARTS.get(words[0])
    if kind is None:
        raise PartError(f'There is no part "{words[0]}".{near(words[0], PARTS)}')
    values: dict[str, int | str | bool] = {}
    facing: str | None = None
    for word in words[1:]:
        name, equals, value = word.partition("=")
        if (not equals and kind.direction == "") or (equals and kind.direction and name == kind.direction):
            if facing is not None:
                raise PartError(f'"{text}" gives the direction of the {kind.name} twice: write it once.')
            facing = _direction(kind, value if equals else word, text)
        elif not equals:
            raise PartError(f'"{word}" in "{text}" is neither a direction nor name=value. {_takes(kind)}')
        else:
            argument = next((a for a in kind.arguments if a.name == name), None)
            if argument is None:
                raise PartError(f'A {kind.name} has no "{name}" (in "{text}"). {_takes(kind)}')
            if name in values:
                raise PartError(f'"{text}" gives {name} twice: write it once.')
            values[name] = _value(kind, argument, value, text)
    if facing is None and kind.direction is not None:
        if kind.default_direction is None:
            raise PartError(f'"{text}" says no direction. {_takes(kind)}')
        facing = kind.default_direction
    return Part(kind.name, facing, **values)  # type: ignore[arg-type]


def _direction(kind: PartKind, word: str, text: str) -> str:
    if word in kind.directions:
        return word
    allowed = ", ".join(kind.directions[:-1]) + " or " + kind.directions[-1]
    if word in DIRECTIONS:
        raise PartError(f'"{text}": {a_kind(kind.name)} cannot go {word}: use {allowed}.')
    raise PartError(
        f'"{word}" in "{text}" is no direction of {a_kind(kind.name)}: use {allowed}.{near(word, DIRECTIONS)}'
    )


def _value(kind: PartKind, argument: Argument, word: str, text: str) -> int | str | bool:
    if isinstance(argument.default, bool):
        if word in ("yes", "no"):
            return word == "yes"
        raise PartError(f'"{text}": {argument.name} is "{word}": use yes or no.')
    if isinstance(argument.default, str):
        if word in argument.choices:
            return word
        known = [str(choice) for choice in argument.choices]
        raise PartError(f'"{text}": {argument.name} is "{word}": use {" or ".join(known)}.{near(word, known)}')
    if word.isascii() and word.isdigit() and len(word) <= 9 and int(word) in argument.choices:
        return int(word)
    raise PartError(f'"{text}": the {argument.name} of {a_kind(kind.name)} is "{word}": use {choices_text(argument)}.')


def choices_text(argument: Argument) -> str:
    """The allowed values in words: '1, 2, 3 or 4', '0 to 320', 'yes or no'."""
    if isinstance(argument.default, bool):
        return "yes or no"
    if len(argument.choices) > 4:
        return f"{argument.choices[0]} to {argument.choices[-1]}"
    words = [str(choice) for choice in argument.choices]
    return ", ".join(words[:-1]) + " or " + words[-1]


def signature(kind: PartKind) -> str:
    """How a kind is written, defaults in brackets: 'repeater D delay=1..4 [1]'."""
    words = [kind.name]
    if kind.direction == "":
        words.append("D")
    elif kind.direction is not None:
        words.append(f"{kind.direction}=D [{kind.default_direction}]")
    for argument in kind.arguments:
        if isinstance(argument.default, bool):
            words.append(f"{argument.name}=yes|no [{'yes' if argument.default else 'no'}]")
        elif len(argument.choices) > 3:
            words.append(f"{argument.name}={argument.choices[0]}..{argument.choices[-1]} [{argument.default}]")
        else:
            words.append(f"{argument.name}={'|'.join(map(str, argument.choices))} [{argument.default}]")
    return " ".join(words)


def _takes(kind: PartKind) -> str:
    return f"It is written: {signature(kind)}."


def part_text(part: Part) -> str:
    """The part's text, arguments at their default left out; `parse_part` reads it back to the same part.

    >>> part_text(Part("comparator", "west", mode="difference"))
    'comparator west mode=difference'
    """
    kind = PARTS[part.kind]
    words = [kind.name]
    if kind.direction == "":
        words.append(str(part.facing))
    elif kind.direction is not None and part.facing != kind.default_direction:
        words.append(f"{kind.direction}={part.facing}")
    for argument in kind.arguments:
        value = getattr(part, argument.name)
        if value != argument.default:
            shown = ("yes" if value else "no") if isinstance(value, bool) else value
            words.append(f"{argument.name}={shown}")
    return " ".join(words)


def a_kind(kind: str) -> str:
    """The kind with its article.

    >>> a_kind("hopper"), a_kind("ejector")
    ('a hopper', 'an ejector')
    """
    return f"{'an' if kind[0] in 'aeiou' else 'a'} {kind}"


def support_cell(part: Part, cell: Cell) -> Cell | None:
    """The cell that a standing part at `cell` stands on or is fixed to; None for a part that needs none."""
    support = PARTS[part.kind].support
    if support is None:
        return None
    return beside(cell, "down" if support == "below" else str(part.facing))


def turned(part: Part, quarter_turns: int) -> Part:
    """The part turned clockwise, seen from above, by quarter turns."""
    facing = part.facing
    for _ in range(quarter_turns % 4):
        facing = CLOCKWISE[facing] if facing else facing
    return part._replace(facing=facing)


def mirrored(part: Part, axis: str) -> Part:
    """The part in a mirror that swaps east and west (axis "x") or north and south (axis "y")."""
    swaps = ("east", "west") if axis == "x" else ("north", "south")
    return part._replace(facing=OPPOSITE[part.facing]) if part.facing in swaps else part
