"""Wishes and designs in words: texts of a wish read, what is wrong with one, what is said of a design."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction
from pathlib import Path

from tickwright.design.settings import settings_words
from tickwright.design.several import several_problems
from tickwright.design.wish import ANSWERS, OUTPUTS_WANTED, TRIGGERS, Design, Room, Wish
from tickwright.durations import time_text
from tickwright.errors import UsageError, near
from tickwright.kinds import PARTS
from tickwright.plan import Plan
from tickwright.rules import BUILT_IN, RuleSet, load_rules
from tickwright.space import Cell
from tickwright.verify.claims import CLAIMS

__all__ = [
    "CLAIMS_WANTED",
    "best_in",
    "design_facts",
    "needed_level",
    "on_time",
    "read_allowed",
    "read_cell",
    "read_duty",
    "read_have",
    "read_pitch",
    "read_rules",
    "read_size",
    "read_way",
    "room_of",
    "wish_problems",
]

_CLOCK_LACKS = {
    "answer": "the second press", "inverted": "inverted", "mash_proof": "what it does however it is pressed",
    "claim": "the proof", "recovery_at_most_steps": "the recovery", "pitch": "the pitch",
}  # fmt: skip
LONGEST_HOLD_STEPS = 20 * 3600 * 24
CLAIMS_WANTED = tuple(claim for claim in CLAIMS if claim != "holds")
_CELL = re.compile(r"\s*(\d{1,4})\s*,\s*(\d{1,4})\s*,\s*(\d{1,4})\s*")
_SIZE = re.compile(r"\s*(\d{1,4})\s*[x×]\s*(\d{1,4})\s*[x×]\s*(\d{1,4})\s*")
_PART = re.compile(r"\s*([a-z][a-z-]*)\s+(\d{1,6})\s*")
_PITCH = re.compile(r"\s*([xy])\s*=\s*(\d{1,4})\s*")


def read_size(text: str) -> Cell:
    """The size of a room along x, y and z.

    >>> read_size("9 x 5 x 4")
    (9, 5, 4)
    """
    match = _SIZE.fullmatch(text)
    if match is None:
        raise UsageError(f'The room "{text}" is no box: write its cells along x, y and z, such as "9x5x4".')
    return (int(match[1]), int(match[2]), int(match[3]))


def read_cell(text: str, what: str) -> Cell:
    """A cell written x,y,z; a message calls it `what`.

    >>> read_cell("2,0,1", "--blocked")
    (2, 0, 1)
    """
    match = _CELL.fullmatch(text)
    if match is None:
        raise UsageError(f'{what} "{text}" is no cell: write x,y,z, such as 2,0,1.')
    return (int(match[1]), int(match[2]), int(match[3]))


def read_way(text: str, what: str) -> str | Cell:
    """Where in a room the trigger or the output must be: a cell, or the name of a side, which `Room` checks."""
    return read_cell(text, what) if "," in text else text.strip()


def room_of(
    size: Cell | None,
    floor: Plan | None,
    blocked: frozenset[Cell] = frozenset(),
    enter: str | Cell | None = None,
    leave: str | Cell | None = None,
) -> Room | None:
    """The room of a size, or that of a floor plan: its grid, its parts as blocked cells; None if neither is given.

    A floor plan's first trigger and output, if it names any, say where the room is entered and left unless `enter` and
    `leave` do. Raises UsageError if both are given, or if what is said of a room has none.
    """
    if size is not None and floor is not None:
        raise UsageError("A size and a floor plan both say the room: give one of them.")
    if floor is not None:
        ways = [next(iter(names.values()), None) for names in (floor.triggers, floor.outputs)]
        return Room(
            floor.size,
            blocked | frozenset(floor.cells) - {way for way in ways if way is not None},
            ways[0] if enter is None else enter,
            ways[1] if leave is None else leave,
        )
    if size is not None:
        return Room(size, blocked, enter, leave)
    if blocked or enter is not None or leave is not None:
        raise UsageError('Blocked cells and sides need a room: give its size, such as "9x5x4", or a floor plan.')
    return None


def read_have(text: str) -> Mapping[str, int]:
    """How many parts of some kinds are on hand.

    >>> read_have("comparator 4, repeater 10")
    {'comparator': 4, 'repeater': 10}
    """
    found: dict[str, int] = {}
    for word in text.split(","):
        match = _PART.fullmatch(word)
        if match is None:
            raise UsageError(f'"{word.strip()}" is no number of parts: write "comparator 4, repeater 10".')
        kind = _kind(match[1])
        found[kind] = found.get(kind, 0) + int(match[2])
    return found


def read_allowed(only: str | None, without: str | None) -> frozenset[str] | None:
    """The kinds of parts that may be used: those of `only`, or all, but for those of `without`; None if all may.

    >>> sorted(read_allowed("wire, block", "wire"))
    ['block']
    """
    if only is None and without is None:
        return None
    if only is not None and not _words(only):
        raise UsageError('No kind of part may be used: name those that may, such as "block, wire, comparator".')
    kinds = frozenset(PARTS) if only is None else frozenset(map(_kind, _words(only)))
    return kinds - frozenset(map(_kind, _words(without or "")))


def read_pitch(text: str) -> tuple[str, int]:
    """The axis and the pitch at which copies must stand side by side.

    >>> read_pitch("y=3")
    ('y', 3)
    """
    match = _PITCH.fullmatch(text)
    if match is None or int(match[2]) < 1:
        raise UsageError(
            f'The pitch "{text}" cannot be read: write an axis, x or y, and a number of cells, such as y=3.'
        )
    return match[1], int(match[2])


def read_rules(names: list[str]) -> tuple[str, ...]:
    """Rule sets by name or by file, files by their whole path. Raises RuleSetError for one that cannot be read."""
    for name in names:
        load_rules(name)
    return tuple(name if name in BUILT_IN else str(Path(name).resolve()) for name in names)


def _kind(word: str) -> str:
    if word not in PARTS:
        raise UsageError(f'There is no part "{word}".{near(word, PARTS)}')
    return word


def _words(text: str) -> list[str]:
    return [word.strip() for word in text.split(",") if word.strip()]


def wish_problems(wish: Wish) -> Iterator[tuple[str, str]]:
    """What is wrong with a wish, each as the attribute of Wish that is at fault and a message."""
    if not 1 <= wish.hold_steps <= LONGEST_HOLD_STEPS:
        message = f"A hold of {wish.hold_steps:,} steps cannot be chosen for: wish for 1 step to 24 hours."
        yield "hold_steps", message
    yield from _time_problems(wish)
    yield from _clock_problems(wish)
    yield from (("also", message) for message in several_problems(wish))
    if wish.within_steps < 0:
        yield "within_steps", "A tolerance cannot be below 0 steps."
    for name, what, word, known in (
        ("trigger", "trigger", wish.trigger, TRIGGERS),
        ("output", "output", wish.output, OUTPUTS_WANTED),
        ("answer", "answer to a second press", wish.answer, ANSWERS),
        ("claim", "claim", wish.claim or CLAIMS_WANTED[0], CLAIMS_WANTED),
    ):
        if word not in known:
            yield name, f'There is no {what} "{word}" to choose for.{near(word, known)}'
    for name, kinds in (("have", wish.have or ()), ("allowed", wish.allowed or ())):
        for kind in kinds:
            if kind not in PARTS:
                yield name, f'There is no part "{kind}".{near(kind, PARTS)}'
    rules = load_rules(wish.rules[0])
    top = rules.wire.top_level
    if not 1 <= wish.level <= top:
        yield "level", f"There is no level {wish.level} to wish for: use 1 to {top}."
    elif wish.distance_cells < 0:
        yield "distance_cells", f"A distance of {wish.distance_cells} cells is none: use 0 or more."
    elif needed_level(wish, rules) > top:
        behind = "1 cell" if wish.distance_cells == 1 else f"{wish.distance_cells} cells"
        message = (
            f"Level {wish.level} behind {behind} of wire cannot be had: a wire has at most {top} "
            "and loses with each cell. Wish for less, or lay a repeater on the way."
        )
        yield "level", message
    if wish.states < 1:
        yield "states", f"A proof within {wish.states} states shows nothing: allow 1 or more."
    if wish.output == "lamp" and (wish.level > 1 or wish.distance_cells):
        message = "A lamp gives no level to a wire: wish for the output line, or leave level and distance out."
        yield "output", message
    if wish.trigger_steps is not None and wish.trigger_steps < 1:
        yield "trigger_steps", "A press of 0 steps is none: wish for a trigger of 1 step or more."


def _time_problems(wish: Wish) -> Iterator[tuple[str, str]]:
    limit = wish.delay_at_most_steps
    if wish.delay_steps is not None and limit is not None and limit < wish.delay_steps:
        message = f"A delay of {wish.delay_steps} steps is wished for, and of {limit} at most: leave one of them out."
        yield "delay_steps", message


def _clock_problems(wish: Wish) -> Iterator[tuple[str, str]]:
    if wish.period_steps is None:
        return
    if wish.period_steps <= wish.hold_steps:
        message = f"A clock cannot be on for {wish.hold_steps} of the {wish.period_steps} steps of its period."
        yield "period_steps", f"{message} Wish for a shorter hold or a longer period."
    elif wish.trigger != "lever" or wish.trigger_steps is not None:
        yield "period_steps", "A clock is let run by a lever: leave the trigger out, or wish for a lever."
    for name in ("answer", "inverted", "mash_proof", "claim", "recovery_at_most_steps", "pitch"):
        if getattr(wish, name) not in (None, False, "any"):
            yield name, f"A clock goes on for ever: leave {_CLOCK_LACKS[name]} out, or the period."


def needed_level(wish: Wish, rules: RuleSet) -> int:
    """The level that the output itself must show, so that the wanted one is left behind the wire."""
    return wish.level + wish.distance_cells * rules.wire.loss


def design_facts(design: Design) -> list[str]:
    """What a design is made of, its output, how it lies in the room, and what was found of it, each in words."""
    facts = settings_words(design.settings)
    what = "lamp" if design.output == "lamp" else "line of wire"
    facts.append(f"the output is a {what}{', on at rest' * design.inverted}")
    if design.fit is not None:
        turned = f"turned by {90 * design.fit.quarter_turns} degrees, " * bool(design.fit.quarter_turns)
        corner = ",".join(map(str, design.fit.offset))
        facts.append(f"{'mirrored, ' * design.fit.mirrored}{turned}corner at {corner}")
    if design.period_steps is not None:
        facts.append(
            f"on for {_share(design)} of a period of {time_text(design.period_steps)}, as long as the lever is off"
        )
    return facts + [f"{name}: {text}" for name, text in design.verdicts.items()]


def _share(design: Design) -> str:
    return f"{100 * design.hold_steps / (design.period_steps or 1):.3g} %"


def read_duty(text: str) -> Fraction:
    """Which part of its period a clock is on: 0.25, 25 % or 1/4.

    >>> read_duty("25 %"), read_duty("0.25")
    (Fraction(1, 4), Fraction(1, 4))
    """
    try:
        number = Fraction(text.replace(" ", "").removesuffix("%")) / (100 if text.rstrip().endswith("%") else 1)
    except (ValueError, ZeroDivisionError):
        number = Fraction(0)
    if not 0 < number < 1:
        raise UsageError(
            f'The duty "{text}" is not between 0 and 1: write the part of each period that is on, such as 0.25 or 25 %.'
        )
    return number


def on_time(period_steps: int, duty: Fraction) -> int:
    """How long a clock is on in each period. Raises UsageError if that is no whole number of steps.

    >>> on_time(40, Fraction(1, 4))
    10
    """
    steps = period_steps * duty
    if steps.denominator != 1:
        below = steps.numerator // steps.denominator
        raise UsageError(
            f"A duty of {float(duty):g} of {period_steps} steps is {float(steps):g} steps, not a whole number: "
            f"wish for one of {below}/{period_steps} and {below + 1}/{period_steps}."
        )
    return int(steps)


TAGS: tuple[tuple[str, Callable[[Design], float | None]], ...] = (
    ("fewest parts", lambda design: design.parts),
    ("smallest box", lambda design: design.volume),
    ("fewest layers", lambda design: design.box[2]),
    ("soonest on", lambda design: design.delay_steps),
    ("soonest ready again", lambda design: design.recovery_steps),
    ("shortest press", lambda design: design.minimum_trigger_steps),
)


def best_in(designs: Sequence[Design]) -> dict[int, str]:
    """For designs, by their number from 0 on, what they are the best in: only where no other equals them."""
    tags: dict[int, str] = {}
    for text, figure in TAGS:
        values = [figure(design) for design in designs]
        known = [value for value in values if value is not None]
        if len(values) > 1 and len(known) == len(values) and known.count(min(known)) == 1:
            tags.setdefault(values.index(min(known)), text)
    return tags
