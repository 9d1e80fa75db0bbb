"""Several outputs: a wish that has further ones is written as a brief, composed, and run like any other design."""

from __future__ import annotations

import json
import re
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

__all__ = ["FAMILY", "Composing", "Further", "main_output", "read_further", "several_problems"]

FAMILY = "composed"
DRIVEN = ("lamp", "line", "piston-door")
DELAYS = (
    6,
    14,
    16,
)  # steps after the act: the soonest for one output, then for one with others beside it
MINUTES = 2.0  # for one plan
MINUTES_IN_ROOM = 0.5
HEIGHT = 6  # cells that composing within a room takes
TIGHT = 0.7  # a room smaller than this part of the box that was needed without one is not tried
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

    def recipes(self, wish: Wish) -> Iterator[Recipe]:
        """The plan for a wish, composed without its room; if that does not lie there, one composed within it.

        Of several delays and holds that will do the first is taken that can be composed.
        """
        for hold, delay in _tries(wish):
            free = self._composed(wish, hold, delay, False)
            if not free.composed or free.plan is None:
                continue
            yield _recipe(free.plan, main_output(wish), hold)
            if wish.room is not None and _may_hold(wish.room.size, free.plan.size):
                inside = self._composed(wish, hold, delay, True)
                if inside.composed and inside.plan is not None:
                    yield _recipe(inside.plan, main_output(wish), hold)
            return

    def relaxed(self, wish: Wish) -> Iterator[tuple[str, float, Wish]]:
        """Wishes with one claim of a further output changed as a refusal says: the claim, by how much, and the wish."""
        for hold, delay in _tries(wish):
            for one in self._composed(wish, hold, delay, False).relax:
                for place, text in enumerate(wish.also):
                    further = read_further(text)
                    name, _, claim = one.instead.partition(":")
                    if one.claim == f"{further.name}: {further.claim}" and name.strip() == further.name:
                        instead = further._replace(claim=claim.strip()).text
                        also = (*wish.also[:place], instead, *wish.also[place + 1 :])
                        yield instead, float(one.amount_steps or 1), replace(wish, also=also)

    def why(self, wish: Wish) -> str | None:
        """Why nothing was composed for the wish: the claim and what is wrong with it."""
        told = [self._composed(wish, hold, delay, False) for hold, delay in _tries(wish)]
        reasons = [f'"{one.claim}": {one.why}' if one.claim else str(one.why) for one in told if not one.composed]
        return reasons[-1] if reasons and not any(one.composed for one in told) else None

    def _composed(self, wish: Wish, hold: int, delay: int, in_room: bool) -> Composed:
        from tickwright.design.compose import compose, read_brief

        text = brief_text(wish, hold, delay, in_room)
        if text not in self._made:
            if self.tell(f"composing {1 + len(wish.also)} outputs"):
                raise KeyboardInterrupt
            minutes = MINUTES_IN_ROOM if in_room else MINUTES
            self._made[text] = compose(read_brief(text), minutes=minutes, progress=self.tell)
        return self._made[text]


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


def _may_hold(room: tuple[int, int, int], needed: tuple[int, int, int]) -> bool:
    return room[2] >= HEIGHT and _volume(room) >= TIGHT * _volume(needed)


def _volume(size: tuple[int, int, int]) -> int:
    return size[0] * size[1] * size[2]


def _recipe(plan: Plan, output: str, hold: int) -> Recipe:
    settings: dict[str, int | str] = {"outputs": len(plan.outputs)}
    return Recipe(FAMILY, settings, output, hold, partial(as_is, plan))
