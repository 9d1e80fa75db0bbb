"""What is known of a kind of part: how it is written, how it stands, and its traits in the physics and on the page."""

from __future__ import annotations

from typing import Literal, NamedTuple

Behaviour = Literal[
    "still", "source", "wire", "repeater", "comparator", "torch", "lamp", "lever", "button", "plate", "sensor",
    "piston", "hopper", "ejector", "crate",
]  # fmt: skip
BEHAVIOURS: tuple[Behaviour, ...] = (
    "still", "source", "wire", "repeater", "comparator", "torch", "lamp", "lever", "button", "plate", "sensor",
    "piston", "hopper", "ejector", "crate",
)  # fmt: skip


class Argument(NamedTuple):
    """A named argument: `choices` are its allowed values in order; for a number, the first and last are its range."""

    name: str
    default: int | str | bool
    choices: tuple[int | str | bool, ...]
    help: str


class PartKind(NamedTuple):
    """One record of the table.

    **As written**: `direction` is how the direction is written ("" for a bare word, "on" or "into" for `on=D`, None if
    it takes none); `support` is where the cell that it stands on lies: "below", "facing" (the cell it is fixed to) or
    None if it needs none; `acts` are the acts of the hand it takes besides `place` and `clear`, the default first.

    **In the physics**: `behaviour` is what an engine does with it; kinds of one behaviour differ only in the rest of
    the row. What conducts, carries and can be moved is no trait: it is data of the rule set.
    """

    name: str
    help: str
    symbol: str
    behaviour: Behaviour
    direction: str | None = None
    directions: tuple[str, ...] = ()
    default_direction: str | None = None
    arguments: tuple[Argument, ...] = ()
    support: str | None = None
    acts: tuple[str, ...] = ()

    gives: Literal["", "front", "around", "not-support"] = ""
    """Where it gives its level straight to what listens beside it; a wire does where it points (rules/wire.py)."""
    powers: Literal["", "front", "above", "facing", "below"] = ""
    """Which conducting cell beside it it powers strongly."""
    hears: Literal["", "back", "facing", "around", "not-face"] = ""
    """On which sides it hears, if a change there is a reason to look; a wire and a sensor are not told so."""
    flank: Literal["", "lock", "level"] = ""
    """What its flanks do: a repeater is locked there, a comparator hears a second level."""
    at_flank: Literal["", "facing", "always"] = ""
    """When a comparator's flank hears it: if it faces into the flank, or wherever it lies."""
    locks: bool = False  # facing into a repeater's flank it locks it
    hastens: bool = False  # in front of a repeater or comparator, not head-on, it gives that one's events precedence
    draws_join: Literal["", "always", "axis", "output"] = ""
    """When a wire beside it draws a join: always, if its axis runs that way, if its output meets the wire."""
    starts_on: Literal["", "always", "thrown"] = ""  # at the start it shows the top level
    shows_level: bool = False  # it shows a level of 0 to 15, not only off and on
    shows_passed: bool = False  # it shows the highest level that it passes on
    level_is_visible: bool = False  # a change-sensor sees its level, not only whether it is on
    lands_off: bool = False  # a piston that moves it switches it off
    pulls: bool = False  # a piston that brings the cell before its arm back
    feels: Literal["", "anything", "creatures"] = ""  # what a plate takes notice of

    delay: str = ""  # where the rule set says how long it takes from the schedule to the event (a plate: between looks)
    priorities: tuple[str, str, str] = ("", "", "")  # where it says an event's priority: hastened, while off, while on
    slots: str = ""  # where it says how many slots a container has

    confused_with: tuple[str, ...] = ()  # what a builder may put in its stead, because it looks much alike
    seen_at_once: bool = False  # an output of this kind that is another kind is seen by anyone
    solid: str = ""  # the name of its solid in models; its own name if not given
