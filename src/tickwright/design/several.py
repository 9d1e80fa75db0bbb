"""Several outputs: a wish that has further ones is written as a brief, composed, and run like any other design."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

from tickwright.design.recipes import Recipe, as_is
from tickwright.design.sketch import PRESS
from tickwright.design.wish import Wish
from tickwright.errors import TickwrightError, UsageError
from tickwright.plan import Plan

if TYPE_CHECKING:
    from tickwright.design.compose import Composed

__all__ = ["FAMILY", "Composing", "Further", "main_output", "may_hold", "read_further", "several_problems"]

FAMILY = "composed"
DRIVEN = ("lamp", "line", "piston-door")
DELAYS = (6, 14, 16)  # steps after the act: the soonest for one output, then for one with others beside it
MINUTES = 2.0  # for one plan
MINUTES_IN_ROOM = 0.5
MINUTES_IN_ALL = 4.0  # for all plans of one search, its advice included
TIGHT = 0.7  # a room with less ground than this part of what was needed without one is not tried
_FURTHER = re.compile(r"\s*([A-Za-z0-9_-]+)(?:\s+([a-z-]+))?\s*:\s*(\S.*?)\s*")


class Further(NamedTuple):
    """A further output: its name, what it drives, and its claim as in charts, without the name."""

    name: str
    drives: str
    claim: str

    @property
    def text(self) -> str:
        """As it is written in a wish."""
        return f"{self.name} {self.drives}: {self.claim}"


def read_further(text: str) -> Further:
    """A further output as it is wished for: its name, what it drives (a lamp if that is left out), and its claim.

    >>> read_further("bell line: on from press + 2 s for 1 s")
    Further(name='bell', drives='line', claim='on from press + 2 s for 1 s')
    """
    match = _FURTHER.fullmatch(text)
    if match is None or (match[2] or DRIVEN[0]) not in DRIVEN:
        raise UsageError(
            f'"{text}" is no further output: write its name, what it drives ({", ".join(DRIVEN)}; a lamp if you leave '
            'it out) and its claim, such as "bell line: on from press + 2 s for 1 s".'
        )
    return Further(match[1], match[2] or DRIVEN[0], match[3])


def main_output(wish: Wish) -> str:
    """The name of the output whose hold is wished for, and what it drives: a lamp; a line where a wire is asked for."""
    return "line" if wish.output == "line" or wish.level > 1 or wish.distance_cells else "lamp"


def several_problems(wish: Wish) -> Iterator[str]:
    """What is wrong with the further outputs of a wish."""
    if not wish.also:
        return
    if wish.period_steps is not None:
        yield "A clock is made with one output: leave the further outputs out, or the period."
    elif wish.trigger_steps is not None:
        yield "A plan with several outputs is composed for a part that is pressed: wish for one, such as short-button."
    else:
        try:
            names = [PRESS, main_output(wish), *(read_further(text).name for text in wish.also)]
            twice = next((name for number, name in enumerate(names) if name in names[:number]), None)
            if twice is not None:
                yield f'The name "{twice}" is taken already: call the further output otherwise.'
            else:
                _read(wish, wish.hold_steps, DELAYS[-1])
        except UsageError as error:
            yield str(error)
        except TickwrightError as error:
            yield f"The further outputs cannot be read: {getattr(error, 'message', error)}"


class Composing:
    """Plans composed for wishes with further outputs; nothing is composed twice."""

    def __init__(self, tell: Callable[[str], bool]) -> None:
        self.tell = tell
        self._made: dict[str, Composed] = {}
        self._bills: dict[str, Counter[str] | None] = {}
        self._seconds = 0.0

    def recipes(self, wish: Wish) -> Iterator[Recipe]:
        """The plan for a wish, composed without its room; if that does not lie there, one composed within it.

        Of several delays and holds that will do the first is taken that can be composed.
        """
        for hold, delay in _tries(wish):
            free = self._composed(wish, hold, delay, False)
            if not free.composed or free.plan is None:
                continue
            yield _recipe(free.plan, main_output(wish), hold)
            if wish.room is not None and may_hold(wish.room.size, free.plan.size):
                inside = self._composed(wish, hold, delay, True)
                if inside.composed and inside.plan is not None:
                    yield _recipe(inside.plan, main_output(wish), hold)
            return

    def relaxed(self, wish: Wish) -> Iterator[tuple[str, float, Wish]]:
        """Wishes with one claim of a further output changed as a refusal says: the claim, by how much, and the wish."""
        for hold, delay in _tries(wish):
            refused = self._tiles(wish, hold, delay) is None
            for one in self._composed(wish, hold, delay, False).relax if refused else ():
                for place, text in enumerate(wish.also):
                    further = read_further(text)
                    name, _, claim = one.instead.partition(":")
                    if one.claim == f"{further.name}: {further.claim}" and name.strip() == further.name:
                        instead = further._replace(claim=claim.strip()).text
                        also = (*wish.also[:place], instead, *wish.also[place + 1 :])
                        yield instead, float(one.amount_steps or 1), replace(wish, also=also)

    def lacks_parts(self, wish: Wish) -> bool:
        """Whether the tiles alone, before any wire between them, take more than the parts on hand, whichever is tried.

        False where a claim is refused: that is the better reason.
        """
        if wish.have is None:
            return False
        bills = [bill for hold, delay in _tries(wish) if (bill := self._tiles(wish, hold, delay)) is not None]
        short = [any(bill[kind] > number for kind, number in wish.have.items()) for bill in bills]
        return bool(short) and all(short)

    def why(self, wish: Wish) -> str:
        """Why nothing was composed for the wish: the claim and what is wrong with it."""
        if any(self._tiles(wish, hold, delay) is not None for hold, delay in _tries(wish)):
            return f"No plan was composed in the {MINUTES_IN_ALL:g} minutes at most that are taken for it."
        told = [self._composed(wish, hold, delay, False) for hold, delay in _tries(wish)]
        return f'It cannot be composed. "{told[-1].claim}": {told[-1].why}' if told else "It cannot be composed."

    def _composed(self, wish: Wish, hold: int, delay: int, in_room: bool) -> Composed:
        from tickwright.design.compose import compose, read_brief

        text = brief_text(wish, hold, delay, in_room)
        if text not in self._made:
            if self.tell(f"composing {1 + len(wish.also)} outputs"):
                raise KeyboardInterrupt
            left = max(MINUTES_IN_ALL - self._seconds / 60, 0)
            minutes = min(MINUTES_IN_ROOM if in_room else MINUTES, left)
            self._made[text] = compose(read_brief(text), minutes=minutes, progress=self.tell)
            self._seconds += self._made[text].seconds
        return self._made[text]

    def _tiles(self, wish: Wish, hold: int, delay: int) -> Counter[str] | None:
        """The parts of the tiles that are needed; None if a claim is refused."""
        from tickwright.design.compose import read_brief
        from tickwright.design.compose.planning import network_of
        from tickwright.design.compose.refusing import Refusal

        text = brief_text(wish, hold, delay, False)
        if text not in self._bills:
            try:
                made = network_of(read_brief(text)).made.values()
                self._bills[text] = Counter(part.kind for one in made for part in one.tile.plan.cells.values())
            except Refusal:
                self._bills[text] = None
        return self._bills[text]


def brief_text(wish: Wish, hold: int, delay: int, in_room: bool) -> str:
    """The brief of a wish, its first output on for `hold` steps from `delay` steps after the press."""
    main = main_output(wish)
    outputs = [Further(main, main, _main_claim(wish, hold, delay)), *map(read_further, wish.also)]
    ends: dict[str, str] = {}
    if in_room and wish.room is not None:
        blocked = sorted(map(list, wish.room.blocked))
        ends["room"] = f"{{size = {list(wish.room.size)}, blocked = {blocked}}}"
    at = [_at(wish.room.enter), _at(wish.room.leave)] if in_room and wish.room is not None else ["", ""]
    claims = [f"{one.name}: {one.claim}" for one in outputs]
    if wish.answer != "any":
        claims.append(f"{PRESS}: {wish.answer} until {main} {'on' if wish.inverted else 'off'}")
    lines = [
        'format = "tickwright brief 1"',
        f"rules = {json.dumps(list(wish.rules))}",
        *(f"{name} = {text}" for name, text in ends.items()),
        f'[inputs]\n{PRESS} = {{part = "{wish.trigger}"{at[0]}}}',
        "[outputs]",
        *(f'"{one.name}" = {{drives = "{one.drives}"{at[1] if one is outputs[0] else ""}}}' for one in outputs),
        f"[[chart]]\nshows = {json.dumps(claims, ensure_ascii=False)}",
    ]
    return "\n".join(lines) + "\n"


def _main_claim(wish: Wish, hold: int, delay: int) -> str:
    return f"{'off' if wish.inverted else 'on'} from {PRESS} + {delay} steps for {hold} steps"


def _at(where: object) -> str:
    return "" if where is None else f", at = {json.dumps(where)}"


def _read(wish: Wish, hold: int, delay: int) -> None:
    from tickwright.design.compose import read_brief

    read_brief(brief_text(wish, hold, delay, False))


def _tries(wish: Wish) -> Iterator[tuple[int, int]]:
    """Holds and delays that will do, as they are tried: whole ticks, the nearest hold and the soonest delay first."""
    least, most = max(wish.hold_steps - wish.within_steps, 1), wish.hold_steps + wish.within_steps
    near = (wish.hold_steps, wish.hold_steps - 1, wish.hold_steps + 1, 8, most - most % 2)
    holds = [hold for hold in dict.fromkeys(near) if least <= hold <= most and hold % 2 == 0]
    limit = wish.delay_at_most_steps
    delays = DELAYS if wish.delay_steps is None else (wish.delay_steps,)
    for hold in holds or [wish.hold_steps]:
        for delay in delays:
            if limit is None or delay <= limit:
                yield hold, delay


def may_hold(room: tuple[int, int, int], needed: tuple[int, int, int]) -> bool:
    """Whether it is worth composing within a room, by the height and the ground that the plan needed without one."""
    return room[2] >= needed[2] and room[0] * room[1] >= TIGHT * needed[0] * needed[1]


def _recipe(plan: Plan, output: str, hold: int) -> Recipe:
    settings: dict[str, int | str] = {"outputs": len(plan.outputs)}
    return Recipe(FAMILY, settings, output, hold, partial(as_is, plan))
