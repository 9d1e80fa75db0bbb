"""Relaxing: the smallest sets of wishes that must give way for a wish to be met, each tried as a whole wish."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any, NamedTuple, Protocol

from tickwright.design.answering import NOT_TRIED
from tickwright.design.clocking import near_periods
from tickwright.design.judging import Judge
from tickwright.design.several import Composing, read_further
from tickwright.design.wish import ANSWERS, TRIGGERS, Design, Room, Wish
from tickwright.durations import time_text
from tickwright.kinds import PARTS

__all__ = ["Advice", "advise"]

WIDENING = (1, 2, 4, 8, 20, 60, 200, 1000)
NEAR_DELAYS = (1, 2, 4, 8)  # steps
FAR = 10  # a hold that is off by more than this part of the wish is quite another
HALVINGS = 24  # no hold is longer than 2 ** 24 steps
NEARER = 4  # halvings of what lies between a hold that can be had and one that cannot


Relaxed = Callable[[Wish], Wish]
Options = dict[str, str | list[str] | None]


class Change(NamedTuple):
    """One wish that must give way: its name, what to wish instead, and how far that is from what was wished."""

    wish: str
    instead: str
    amount: float

    def as_data(self) -> dict[str, Any]:
        """The change as JSON shows it."""
        return self._asdict()


@dataclass(frozen=True, slots=True)
class Advice:
    """What must give way, all of it together, for a wish to be met: `wish` is what is left of it, and was met.

    `changes` name what was wished and say what to wish instead; `family` is that of the design which met it.
    """

    changes: tuple[Change, ...]
    wish: Wish
    family: str

    @property
    def text(self) -> str:
        """The advice in words, as what stands after 'if you relax'."""
        return "; and ".join(f"{change.wish}: {change.instead}" for change in self.changes)

    def as_data(self) -> dict[str, Any]:
        """The first change as JSON shows it, those `with` it, and the options that follow the advice.

        An option that is null is to be left out.
        """
        first, *others = [change.as_data() for change in self.changes]
        options: Options = {}
        for change in self.changes:
            options |= _OPTIONS[change.wish](self.wish)
        return {**first, "with": others, "family": self.family, "options": options}


class Search(Protocol):
    """What advice asks of a search: the designs that meet a whole wish, how they are judged, and when to stop."""

    judge: Judge
    wish: Wish
    composing: Composing

    def meeting(self, wish: Wish) -> Sequence[Design]:
        """All designs found that meet the wish."""

    def told(self, what: str) -> bool:
        """Say what is tried; whether to stop."""

    def spent(self) -> bool:
        """Whether the time for a search is over: then the rest of the wishes is let go at once."""


def advise(search: Search) -> tuple[Advice, ...]:
    """The smallest sets of wishes that may give way, each as one advice; another trigger or hold if none is enough.

    Where the smallest only ask for quite another hold, those a wish larger are told, too. Once the time for that is
    over all wishes are let go at once, as far as the nearest design needs.
    """
    asked = [name for name in _DROPPED if _asks(search.wish, name)]
    found = list(_another_claim(search))
    for size in range(1, len(asked) + 2):
        enough = bool(found)
        tried = [advice for names in combinations((*asked, "within"), size) for advice in _tried(search, names)]
        found += [advice for advice in tried if not any(_asks_as_much(advice, one) for one in found)]
        near = any(one.wish.within_steps <= search.wish.hold_steps // FAR for one in found)
        if enough or near or search.spent() or search.told(f"what to relax: {size} at once"):
            break
    if not found and search.spent():
        found = list(_tried(search, (*asked, "within")))
    if search.wish.period_steps is not None:
        return tuple(found) or tuple(_another_period(search, asked))
    return tuple(found) or tuple(_another_trigger(search)) or tuple(_another_hold(search))


def _asks_as_much(advice: Advice, less: Advice) -> bool:
    """Whether an advice asks for all that another one asks for."""
    amounts = {change.wish: change.amount for change in advice.changes}
    return all(amounts.get(change.wish, -1.0) >= change.amount for change in less.changes)


def _tried(search: Search, names: Sequence[str]) -> Iterator[Advice]:
    """The advice to let these wishes give way, if that is enough."""
    whole = len(names) > sum(_asks(search.wish, name) for name in _DROPPED)
    if search.told(f"what to relax: {', '.join(names)}") or (search.spent() and not whole):
        return
    free = search.wish
    for name in names:
        free = _DROPPED[name](free) if name in _DROPPED else free
    widened = [search.wish.within_steps + more for more in WIDENING] if "within" in names else [free.within_steps]
    delays = _delays(search.wish) if "exact delay" in names else [free.delay_steps]
    for within in widened:
        for delay in delays:
            designs = search.meeting(replace(free, within_steps=within, delay_steps=delay))
            if designs:
                advice = _least(search, names, designs)
                if advice is not None:
                    yield advice
                return


def _delays(wish: Wish) -> list[int | None]:
    """Delays near the one wished for, the nearest first; in the end whatever there is."""
    wanted = wish.delay_steps or 0
    near = [wanted + sign * off for off in NEAR_DELAYS for sign in (1, -1)]
    return [*(delay for delay in near if delay >= 0), None]


def _least(search: Search, names: Sequence[str], designs: Sequence[Design]) -> Advice | None:
    """What the design that asks least of these wishes needs; None if no run of such a wish bears it out."""
    ways = [(_needed(search, names, design), design) for design in designs]
    ways.sort(key=lambda way: ([change.amount for change, _ in way[0]], way[1].parts, way[1].volume))
    for needed, _ in ways:
        if search.told("what to relax, and by how much"):
            return None
        wish = search.wish
        for _, relaxed in needed:
            wish = relaxed(wish)
        met = search.meeting(wish) if needed else ()
        if met:
            return Advice(tuple(change for change, _ in needed), wish, met[0].family)
    return None


def _needed(search: Search, names: Sequence[str], design: Design) -> list[tuple[Change, Relaxed]]:
    """For each of these wishes that the design fails: what it needs instead, and the wish with that."""
    found = []
    for name in names:
        change = _NEEDED[name](search.judge, search.wish, design)
        if change is not None:
            found.append((Change(name, *change[:2]), change[2]))
    return found


Needed = tuple[str, float, Relaxed] | None


def _room(_judge: Judge, _wish: Wish, design: Design) -> Needed:
    box = " x ".join(map(str, design.box))
    room = Room(design.box)
    instead = f"a free box of {box} cells, trigger and output anywhere in it"
    return instead, design.volume, lambda wish: replace(wish, room=room)


def _have(_judge: Judge, wish: Wish, design: Design) -> Needed:
    have = wish.have or {}
    short = {kind: number - have[kind] for kind, number in design.plan.bill().items() if kind in have}
    missing = {kind: number for kind, number in sorted(short.items()) if number > 0}
    more = {kind: number + missing.get(kind, 0) for kind, number in have.items()}
    text = ", ".join(f"{kind} {number} more" for kind, number in missing.items())
    return (text, sum(missing.values()), lambda wish: replace(wish, have=more)) if missing else None


def _allowed(_judge: Judge, wish: Wish, design: Design) -> Needed:
    allowed = wish.allowed or frozenset()
    others = sorted(set(design.plan.bill()) - allowed)
    kinds = allowed | set(others)
    return (", ".join(others), len(others), lambda wish: replace(wish, allowed=kinds)) if others else None


def _delay(_judge: Judge, wish: Wish, design: Design) -> Needed:
    steps = design.delay_steps
    if steps <= (wish.delay_at_most_steps or 0):
        return None
    return f"a delay of {time_text(steps)}", steps, lambda wish: replace(wish, delay_at_most_steps=steps)


def _exact_delay(_judge: Judge, wish: Wish, design: Design) -> Needed:
    steps = design.delay_steps
    off = abs(steps - (wish.delay_steps or 0))
    return (f"a delay of {time_text(steps)}", off, lambda wish: replace(wish, delay_steps=steps)) if off else None


def _recovery(_judge: Judge, wish: Wish, design: Design) -> Needed:
    most, steps = wish.recovery_at_most_steps, design.recovery_steps
    if most is None or (steps is not None and steps <= most):
        return None
    if steps is None:
        return "no limit", 10**9, lambda wish: replace(wish, recovery_at_most_steps=None)
    return f"a recovery of {time_text(steps)}", steps, lambda wish: replace(wish, recovery_at_most_steps=steps)


def _inverted(_judge: Judge, wish: Wish, design: Design) -> Needed:
    if wish.inverted == design.inverted:
        return None
    return "an output that is off at rest", 1, lambda wish: replace(wish, inverted=False)


def _level(judge: Judge, wish: Wish, design: Design) -> Needed:
    """A lower level; or, if none is left so far away, the lowest level a shorter way off."""
    loss = judge.rules.wire.loss
    level = design.lowest_level - wish.distance_cells * loss
    if level >= wish.level:
        return None
    if level >= 1:
        return f"level {level}", wish.level - level, lambda wish: replace(wish, level=level)
    cells = (design.lowest_level - 1) // loss if loss else wish.distance_cells
    return (
        f"level 1 behind {cells} {'cell' if cells == 1 else 'cells'} of wire",
        wish.level + wish.distance_cells - cells,
        lambda wish: replace(wish, level=1, distance_cells=cells),
    )


def _output(_judge: Judge, wish: Wish, design: Design) -> Needed:
    if design.output == wish.output:
        return None
    return f"the output {design.output}", 1, lambda wish: replace(wish, output=design.output)


def _rules(judge: Judge, wish: Wish, design: Design) -> Needed:
    held = {name: judge.hold_under(design, name, wish) for name in wish.rules[1:]}
    failed = [name for name, hold in held.items() if hold is None or abs(hold - wish.hold_steps) > wish.within_steps]
    kept = tuple(name for name in wish.rules if name not in failed)
    without = f"without {' and '.join(failed)}"
    return (without, len(failed), lambda wish: replace(wish, rules=kept)) if failed else None


def _pitch(judge: Judge, wish: Wish, design: Design) -> Needed:
    if wish.pitch is None:
        return None
    axis, wanted = wish.pitch
    least = judge.pitch_cells(design, axis)
    if least is None:
        return "no pitch", 1_000, lambda wish: replace(wish, pitch=None)
    if least <= wanted:
        return None
    return f"a pitch of {least} cells along {axis}", least, lambda wish: replace(wish, pitch=(axis, least))


def _answered(judge: Judge, wish: Wish, design: Design) -> Needed:
    effect = judge.answer(design, "any").effect
    if effect == wish.answer:
        return None
    answer = effect if effect in ANSWERS else "any"
    amount = 1 if answer == effect else 2
    if effect == NOT_TRIED:
        return "any: what a second press does is not tried here", 2, lambda wish: replace(wish, answer="any")
    words = {"ignored": "a second press that is ignored", "extends": "a second press that makes the hold longer"}
    words["restarts"] = "a second press that begins all anew"
    text = words.get(effect, f"any (it is {effect})")
    return text, amount, lambda wish: replace(wish, answer=answer)


def _mash_proof(judge: Judge, wish: Wish, design: Design) -> Needed:
    verdict = judge.proof_text(design, "never-sticks", wish.states)
    return f"without, it is {verdict}", 1, lambda wish: replace(wish, mash_proof=False)


def _claim(judge: Judge, wish: Wish, design: Design) -> Needed:
    verdict = judge.proof_text(design, str(wish.claim), wish.states)
    return f"without, it is {verdict}", 1, lambda wish: replace(wish, claim=None)


def _also(_judge: Judge, wish: Wish, design: Design) -> Needed:
    missing = [read_further(text).name for text in wish.also]
    missing = [name for name in missing if name not in design.plan.outputs]
    if not missing:
        return None
    return f"without {' and '.join(missing)}", len(missing), lambda wish: replace(wish, also=())


def _within(_judge: Judge, wish: Wish, design: Design) -> Needed:
    off = abs(design.error_steps)
    if off <= wish.within_steps:
        return None
    text = f"a hold {time_text(off)} too {'long' if design.error_steps > 0 else 'short'}"
    return text, off, lambda wish: replace(wish, within_steps=off)


_NEEDED: dict[str, Callable[[Judge, Wish, Design], Needed]] = {
    "room": _room,
    "parts on hand": _have,
    "parts allowed": _allowed,
    "delay": _delay,
    "exact delay": _exact_delay,
    "recovery": _recovery,
    "inverted": _inverted,
    "level": _level,
    "output": _output,
    "rules": _rules,
    "pitch": _pitch,
    "answer": _answered,
    "mash-proof": _mash_proof,
    "claim": _claim,
    "further outputs": _also,
    "within": _within,
}
_DROPPED: dict[str, Relaxed] = {
    "room": lambda wish: replace(wish, room=None),
    "parts on hand": lambda wish: replace(wish, have=None),
    "parts allowed": lambda wish: replace(wish, allowed=None),
    "delay": lambda wish: replace(wish, delay_at_most_steps=None),
    "exact delay": lambda wish: replace(wish, delay_steps=None),
    "recovery": lambda wish: replace(wish, recovery_at_most_steps=None),
    "inverted": lambda wish: replace(wish, inverted=False),
    "level": lambda wish: replace(wish, level=1, distance_cells=0),
    "output": lambda wish: replace(wish, output="any"),
    "rules": lambda wish: replace(wish, rules=wish.rules[:1]),
    "pitch": lambda wish: replace(wish, pitch=None),
    "answer": lambda wish: replace(wish, answer="any"),
    "mash-proof": lambda wish: replace(wish, mash_proof=False),
    "claim": lambda wish: replace(wish, claim=None),
    "further outputs": lambda wish: replace(wish, also=()),
}


def _asks(wish: Wish, name: str) -> bool:
    """Whether the wish asks for anything under that name."""
    return _DROPPED[name](wish) != wish


# --- where that is not enough ------------------------------------------------------------------------------------


def _another_claim(search: Search) -> Iterator[Advice]:
    """One claim of a further output changed as composing says, all else as wished."""
    if not search.wish.also:
        return
    for instead, amount, wish in search.composing.relaxed(search.wish):
        if search.told("what to relax: a claim of a further output"):
            return
        met = search.meeting(wish)
        if met:
            yield Advice((Change("further outputs", instead, amount),), wish, met[0].family)
            return


def _another_trigger(search: Search) -> Iterator[Advice]:
    """Another part to press, all else as wished."""
    for trigger in TRIGGERS:
        if trigger == search.wish.trigger or search.told(f"what to relax: trigger, {trigger}"):
            continue
        wish = replace(search.wish, trigger=trigger, trigger_steps=None)
        met = search.meeting(wish)
        if met:
            yield Advice((Change("trigger", f"a {trigger}", 1),), wish, met[0].family)


def _another_period(search: Search, asked: Sequence[str]) -> Iterator[Advice]:
    """The nearest period for which there is a clock that is on for as long, or for half of it; else with all that is
    asked let go as far as that clock needs.
    """
    for names in dict.fromkeys(((), tuple(asked))):
        for period in near_periods(search.wish):
            for on_steps in dict.fromkeys((search.wish.hold_steps, period // 2)):
                if 0 < on_steps < period:
                    advice = _with_period(search, period, on_steps, names)
                    if advice is not None:
                        yield advice
                        return


def _with_period(search: Search, period: int, on_steps: int, names: Sequence[str]) -> Advice | None:
    """The advice to wish for another period, and to let these wishes give way, if that is enough."""
    other = free = replace(search.wish, period_steps=period, hold_steps=on_steps)
    for name in names:
        free = _DROPPED[name](free)
    for design in search.meeting(free):
        needed, wish = _needed(search, names, design), other
        for _, relaxed in needed:
            wish = relaxed(wish)
        met = [design] if wish == free else search.meeting(wish)
        if met:
            off = abs(period - (search.wish.period_steps or 0))
            text = f"a period of {time_text(period)}, on for {time_text(on_steps)} of it"
            changes = (Change("period", text, off), *(change for change, _ in needed))
            return Advice(changes, wish, met[0].family)
    return None


def _another_hold(search: Search) -> Iterator[Advice]:
    """A shorter hold, all else as wished: halved until it can be had, then nearer to the wish by a few halvings."""
    hold, best = search.wish.hold_steps, None
    for _ in range(HALVINGS):
        hold //= 2
        if hold < 1 or search.told(f"what to relax: hold, {time_text(hold)}"):
            break
        best = _held(search, hold)
        if best is not None:
            break
    beyond = 2 * hold
    for _ in range(NEARER if best is not None else 0):
        between = _held(search, (hold + beyond) // 2)
        if between is None:
            beyond = (hold + beyond) // 2
        else:
            hold, best = (hold + beyond) // 2, between
    if best is not None:
        yield best


def _held(search: Search, hold: int) -> Advice | None:
    wish = replace(search.wish, hold_steps=hold)
    met = search.meeting(wish)
    off = abs(search.wish.hold_steps - hold)
    return Advice((Change("hold", f"a hold of {time_text(hold)}", off),), wish, met[0].family) if met else None


# --- what to type ------------------------------------------------------------------------------------------------


def _room_options(wish: Wish) -> Options:
    size = None if wish.room is None else "x".join(map(str, wish.room.size))
    return {"--room": size, "--floor": None, "--blocked": None, "--in": None, "--out": None}


def _have_options(wish: Wish) -> Options:
    return {"--have": ", ".join(f"{kind} {number}" for kind, number in (wish.have or {}).items())}


def _allowed_options(wish: Wish) -> Options:
    return {"--only": ", ".join(kind for kind in PARTS if kind in (wish.allowed or PARTS)), "--without": None}


_OPTIONS: dict[str, Callable[[Wish], Options]] = {
    "room": _room_options,
    "parts on hand": _have_options,
    "parts allowed": _allowed_options,
    "delay": lambda wish: {"--delay-at-most": f"{wish.delay_at_most_steps} steps"},
    "exact delay": lambda wish: {"--delay": None if wish.delay_steps is None else f"{wish.delay_steps} steps"},
    "recovery": lambda wish: {
        "--recovery-at-most": None if wish.recovery_at_most_steps is None else f"{wish.recovery_at_most_steps} steps"
    },
    "inverted": lambda _: {"--inverted": None},
    "level": lambda wish: {"--level": str(wish.level), "--distance": str(wish.distance_cells)},
    "output": lambda wish: {"--output": wish.output},
    "rules": lambda wish: {"--rules": list(wish.rules)},
    "pitch": lambda wish: {"--pitch": None if wish.pitch is None else f"{wish.pitch[0]}={wish.pitch[1]}"},
    "answer": lambda wish: {"--second-press": wish.answer},
    "mash-proof": lambda _: {"--mash-proof": None},
    "claim": lambda _: {"--prove": None},
    "further outputs": lambda wish: {"--also": list(wish.also) or None},
    "within": lambda wish: {"--within": f"{wish.within_steps} steps"},
    "period": lambda wish: {
        "--period": f"{wish.period_steps} steps",
        "--hold": f"{wish.hold_steps} steps",
        "--duty": None,
    },
    "trigger": lambda wish: {"--trigger": wish.trigger},
    "hold": lambda wish: {"--hold": f"{wish.hold_steps} steps"},
}
