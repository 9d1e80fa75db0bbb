"""Parts as placed: a kind, where it faces and its arguments; how their text is read and written, how they turn.

A part's text is `kind [direction] [name=value ...]`, such as "repeater east delay=2".
"""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

from tickwright.errors import PartError, near
from tickwright.kinds.kind import Argument, Behaviour, PartKind
from tickwright.kinds.table import PARTS
from tickwright.space import CLOCKWISE, DIRECTIONS, OPPOSITE, Cell, beside


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

    @property
    def row(self) -> PartKind:
        """What is known of its kind."""
        return PARTS[self.kind]

    @property
    def behaviour(self) -> Behaviour:
        """What an engine does with its kind."""
        return PARTS[self.kind].behaviour


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
            raise PartError(f'"{text}" says no direction: use {", ".join(kind.directions)}. {_takes(kind)}')
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


def many_of(kind: str) -> str:
    """A kind in the plural.

    >>> many_of("repeater"), many_of("torch")
    ('repeaters', 'torches')
    """
    return kind + ("es" if kind.endswith(("ch", "s", "x")) else "s")


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
