"""Claims about everything a hand may do: what is watched along every way, and what is read off the hands-off future.

A claim has two halves. Its *observer* walks along with the circuit and remembers, in a small value that is part of the
state, what it needs of the past; it may object at the end of any step. Its *outlook* judges a state by what follows
when nothing is pressed any more.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import NamedTuple

from tickwright.durations import time_text
from tickwright.errors import UsageError
from tickwright.measurement import Observation, find_trigger, observe
from tickwright.plan.model import Expectation
from tickwright.plan.setup import Setup

CLAIMS = ("settles", "holds", "never-sticks", "expectations")
Memory = tuple[int | None, int | None] | str | None
UNPRESSED: Memory = (None, None)
COMES_ON, TOO_LOW, NOT_YET_ON, OFF_EARLY, ON_LATE = range(5)  # kinds of faults


class Outlook(NamedTuple):
    """What follows a state, hands off: steps to rest and until each output is off for good, None if never.

    `pulses` counts the pulses of each output that begin after this state; None if there is no end of them.
    """

    rest_steps: int | None
    off_steps: tuple[int | None, ...]
    pulses: tuple[int | None, ...]


@dataclass(frozen=True, slots=True)
class Limits:
    """What one output must do, in steps from a press that the trigger takes; None is not asked for.

    It is on at some step from the press up to `within`; after the last press it is on at every step from `within` until
    before `at_least`, and off at every step from `at_most`. Whatever is pressed, it never shows a level from 1 to
    `lowest` - 1, and with `never` it never comes on. One that `rests_on` is off where another is on: its hold is its
    absence.
    """

    output: int
    within: int | None = None
    at_least: int | None = None
    at_most: int | None = None
    lowest: int | None = None
    never: bool = False
    rests_on: bool = False

    @property
    def cap(self) -> int:
        """From this many steps after the last press on, nothing that is asked for changes."""
        return max(self.within or 0, self.at_least or 0, self.at_most or 0)

    def fault(self, code: int, number: int) -> str:
        """What is wrong, in words: each kind of fault, by its code, and the level or the steps that it is about."""
        if code == COMES_ON:
            return "comes on"
        if code == TOO_LOW:
            return f"shows level {number}, below {self.lowest}"
        comes, there, gone = ("go off", "off", "on") if self.rests_on else ("come on", "on", "off")
        if code == NOT_YET_ON:
            return f"does not {comes} within {time_text(self.within or 0)} of a press"
        if code == OFF_EARLY:
            return f"is {gone} {time_text(number)} after the last press, before {time_text(self.at_least or 0)}"
        limit = time_text(self.at_most or 0)
        return f"is {there} {time_text(number)} after the last press, when it should be {gone} from {limit} on"

    def step(self, memory: Memory, pressed: bool, level: int) -> Memory:
        """The observer at the end of a step: (steps since the last press, steps left to come on), or an objection."""
        if self.never and level:
            return self.fault(COMES_ON, 0)
        if self.lowest is not None and 0 < level < self.lowest:
            return self.fault(TOO_LOW, level)
        if isinstance(memory, str) or memory is None:
            return memory
        since, left = memory
        since = 0 if pressed else None if since is None else min(since + 1, self.cap)
        left = left - 1 if left is not None else self.within if pressed else None
        away = (level > 0) != self.rests_on
        if away:
            left = None
        if left == 0:
            return self.fault(NOT_YET_ON, 0)
        if since is None:
            return UNPRESSED
        if self.at_least is not None and (self.within or 0) <= since < self.at_least and not away:
            return self.fault(OFF_EARLY, since)
        if self.at_most is not None and since >= self.at_most and away:
            return self.fault(ON_LATE, since)
        return (since if self.cap else None, left)


@dataclass(frozen=True, slots=True)
class Claim:
    """What is to be proved: limits along every way, and a judge of every outlook that says what is wrong, or None.

    With `of_absence` an outlook takes the output, which is on at rest, for on where it is off: it ends when it is back.
    """

    name: str
    text: str
    limits: tuple[Limits, ...] = ()
    judge: Callable[[Outlook], str | None] | None = None
    left_out: tuple[str, ...] = ()
    output: int | None = None
    of_absence: bool = False


def settles(within: int | None = None) -> Claim:
    """From every reachable state, hands off, everything comes to rest (within so many steps)."""

    def judge(outlook: Outlook) -> str | None:
        if outlook.rest_steps is None:
            return "it never comes to rest"
        if within is not None and outlook.rest_steps > within:
            return f"it comes to rest only {time_text(outlook.rest_steps)} later, not within {time_text(within)}"
        return None

    inside = f" within {time_text(within)}" if within is not None else ""
    return Claim("settles", f"from every state, hands off, everything comes to rest{inside}", judge=judge)


def never_sticks(output: int, name: str, within: int | None = None, rests_on: bool = False) -> Claim:
    """From every reachable state, hands off, the output goes off for good (within so many steps).

    One that `rests_on` comes back on for good: what must end is its absence.
    """
    ends = "comes back on" if rests_on else "goes off"

    def judge(outlook: Outlook) -> str | None:
        over = outlook.off_steps[output]
        if over is None:
            return f"{name} never {ends} for good"
        if within is not None and over > within:
            return f"{name} {ends} for good only {time_text(over)} later, not within {time_text(within)}"
        return None

    inside = f" within {time_text(within)}" if within is not None else ""
    text = f"from every state, hands off, {name} {ends} for good{inside}"
    return Claim("never-sticks", text, judge=judge, output=output, of_absence=rests_on)


def holds(
    output: int, name: str, within: int | None, at_least: int | None, at_most: int | None, rests_on: bool = False
) -> Claim:
    """Each press gives output within D, and after the last it stays until at least H and at most H2 after the press.

    An output that `rests_on` is put out by a press instead, stays off so long and is then on for good.
    """
    if within is None and at_least is None and at_most is None:
        raise UsageError(
            'The claim "holds" needs a limit: give --within, --at-least or --at-most, such as --within "2 ticks".'
        )
    if at_least is not None and within is None:
        raise UsageError(
            '--at-least says until when the output is on; say from when, too: --within, such as "2 ticks".'
        )
    if at_most is not None and at_least is not None and at_most < at_least:
        raise UsageError(
            f"--at-most ({time_text(at_most)}) is less than --at-least ({time_text(at_least)}): no hold is both."
        )
    if within is not None and at_most is not None and at_most <= within:
        raise UsageError(f"--at-most ({time_text(at_most)}) must be more than --within ({time_text(within)}).")
    words = []
    if within is not None:
        what = f"puts {name} out" if rests_on else f"gives {name}"
        words.append(f"each press {what} within {time_text(within)}")
    if at_least is not None:
        words.append(
            f"it stays {'off' if rests_on else 'on'} until at least {time_text(at_least)} after the last press"
        )
    if at_most is not None:
        words.append(
            f"it is {'on again' if rests_on else 'off'} for good at most {time_text(at_most)} after the last press"
        )
    return Claim("holds", "; ".join(words), (Limits(output, within, at_least, at_most, rests_on=rests_on),))


# --- the plan's own expectations ---------------------------------------------------------------------------------


def expected(setup: Setup) -> Claim:
    """The plan's expectations, as far as they can be stated for any presses, as one claim.

    `settles_within`: from every state. `pulses = N`: from every state, hands off, at most N pulses begin. `never` and
    `level_at_least`: in every state. `delay`: each press gives output within delay + within. `hold`: after the last
    press the output is on until delay + hold − within and off from delay + hold + within on, where the delay is the one
    expected, else the one that a single press shows; with `pulses` above 1 it need not be on all the while.
    `minimum_trigger_at_most` and `recovery` speak of other presses than the trigger's own and are left out; so are the
    times and pulses of an output that is on at rest, since they are those of its absence.
    """
    if not setup.plan.expectations:
        raise UsageError("The plan expects nothing: add an [[expect]] with a trigger, an output and, say, hold.")
    names = list(setup.plan.outputs)
    limits: list[Limits] = []
    judges: list[Callable[[Outlook], str | None]] = []
    words: list[str] = []
    left_out: list[str] = []
    seen: dict[str, Observation] = {}
    for whole in setup.plan.expectations:
        wish = whole
        if wish.trigger not in seen:
            seen[wish.trigger] = observe(setup, find_trigger(setup, wish.trigger))
        if seen[wish.trigger].rest(wish.output) == "on":
            left_out += [f"{wish.output}, on at rest: {key}" for key in _keys(wish, OF_ABSENCE)]
            wish = replace(wish, hold_steps=None, delay_steps=None, pulses=None, never=False)
        limit = _limits(wish, names.index(wish.output), seen.get(wish.trigger))
        if limit is not None:
            limits.append(limit)
        if wish.settles_within_steps is not None:
            judges.append(settles(wish.settles_within_steps).judge or _content)
        if wish.pulses is not None:
            judges.append(_at_most_pulses(names.index(wish.output), wish.output, wish.pulses))
        said = _keys(wish, ("hold", "delay", "pulses", "never", "level_at_least", "settles_within"))
        words += [f"{wish.output}: {', '.join(said)}"] if said else []
        left_out += [f"{wish.output}: {key}" for key in _keys(wish, ("minimum_trigger_at_most", "recovery"))]
    if not words:
        raise UsageError("Nothing that the plan expects can be stated for any presses: choose another claim.")

    def judge(outlook: Outlook) -> str | None:
        return next((why for one in judges if (why := one(outlook)) is not None), None)

    text = "what the plan expects, for any presses (" + "; ".join(words) + ")"
    return Claim("expectations", text, tuple(limits), judge if judges else None, tuple(left_out))


OF_ABSENCE = ("hold", "delay", "pulses", "never")


def _keys(wish: Expectation, keys: tuple[str, ...]) -> list[str]:
    """Those of the keys that the expectation asks for."""
    asked = {key: getattr(wish, f"{key}_steps" if hasattr(wish, f"{key}_steps") else key) for key in keys}
    return [key for key, value in asked.items() if value is not None and value is not False]


def _content(_: Outlook) -> str | None:
    return None


def _limits(wish: Expectation, output: int, seen: Observation | None) -> Limits | None:
    within = wish.delay_steps + wish.within_steps if wish.delay_steps is not None else None
    at_least = at_most = None
    if wish.hold_steps is not None and seen is not None:
        pulses = seen.pulses(wish.output)
        delay = wish.delay_steps if wish.delay_steps is not None else pulses[0].start if pulses else 0
        within = delay + wish.within_steps
        at_least = delay + wish.hold_steps - wish.within_steps if wish.pulses in (None, 1) else None
        at_most = delay + wish.hold_steps + wish.within_steps
    if within is None and at_least is None and wish.level_at_least is None and not wish.never:
        return None
    return Limits(output, within, at_least, at_most, wish.level_at_least, wish.never)


def _at_most_pulses(output: int, name: str, most: int) -> Callable[[Outlook], str | None]:
    def judge(outlook: Outlook) -> str | None:
        count = outlook.pulses[output]
        if count is None:
            return f"{name} pulses for ever"
        return f"{name} begins {count} pulses, more than {most}," if count > most else None

    return judge
