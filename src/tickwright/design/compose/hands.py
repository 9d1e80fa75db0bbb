"""The charts that a composed plan carries: the brief's own, with a hand where the brief says none."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from random import Random

from tickwright.design.compose.brief import Brief
from tickwright.design.compose.dividing import span_part
from tickwright.design.compose.moments import Away, Solver, released_name, steps_text
from tickwright.plan.model import Chart, Machine

QUIET = 60  # steps between the last thing that an act causes and the next act
RELEASE = {"lever": "off", "item-plate": "take", "tread-plate": "leave"}
WORK = {"lever": "on", "item-plate": "drop", "tread-plate": "tread"}
HELD = 40
OTHER = {"on": "off", "off": "on"}
WALK = 10  # acts of the hand for machines


def charts_for(brief: Brief, machines: Sequence[Machine]) -> tuple[Chart, ...]:
    """The charts, each with a hand if it needs one: every trigger once, far apart; for machines a walk of acts."""
    charts = []
    for chart in brief.charts:
        hand = chart.hand
        held = any(end.part in RELEASE for end in brief.inputs.values())
        if hand is None and (len(brief.inputs) > 1 or machines or held):
            hand = walk(brief) if machines else each_once(brief)
        shows = tuple(line for text in chart.shows for line in turned_round(text, brief))
        charts.append(replace(chart, shows=shows, hand=hand))
    return tuple(charts)


def turned_round(text: str, brief: Brief) -> tuple[str, ...]:
    """A claim as the plan says it: a door's output shows what stands there, so that open is off and shut is on.

    >>> from tickwright.design.compose.brief import read_brief
    >>> brief = read_brief('''format = "tickwright brief 1"
    ... inputs = {a = {part = "short-button"}}
    ... outputs = {door = {drives = "piston-door"}}
    ... chart = [{shows = ["door: on from a + 1 s for 2 s"]}]''')
    >>> turned_round("door: on from a + 1 s for 2 s", brief), turned_round("a: ignored until door off", brief)
    (('door: off from a + 1 s for 2 s',), ('a: ignored until door on',))
    """
    doors = [name for name, end in brief.outputs.items() if end.part == "piston-door"]
    for name in doors:
        text = re.sub(rf"\b{re.escape(name)} (on|off)\b", lambda m, n=name: f"{n} {OTHER[m[1]]}", text)  # type: ignore[misc]
    name, colon, rest = text.partition(":")
    if name.strip() not in doors:
        return (text,)
    if "pulse" in rest:
        spans = Solver(span_part(brief)).wanted().spans[name.strip()]
        claims = [one for one in spans if one.claim.text.partition(":")[2].split()[0] == rest.split()[0]]
        return (f"{name}: " + "; ".join(_off_from(one) for one in claims),)
    head, following, condition = rest.partition("on while ")
    if following:
        condition, comma, late = condition.partition(",")
        return (f"{name}:{head}on while not ({condition.strip()}){comma}{late}",)
    turned = re.sub(r"\b(on|off) from\b", lambda m: f"{OTHER[m[1]]} from", rest)
    return (name + colon + re.sub(r"\bnever (on|off)\b", lambda m: f"never {OTHER[m[1]]}", turned),)


def _off_from(one: Away) -> str:
    assert one.end is not None
    length = steps_text(one.end.steps - one.begin.steps)
    return f"off from {one.begin.trigger} + {steps_text(one.begin.steps)} for {length}"


def each_once(brief: Brief) -> tuple[str, ...]:
    """Each trigger worked once, when all that the one before caused is over."""
    spans = Solver(brief).wanted().spans
    lasts = {
        name: max(
            (at.steps for ends in spans.values() for one in ends for at in (one.begin, one.end)
             if at is not None and at.trigger == name),
            default=0,
        )
        for one in brief.inputs
        for name in (one, released_name(one))
    }  # fmt: skip
    hand: list[str] = []
    step = 0
    for name, end in brief.inputs.items():
        hand.append(f"{step}: {name}" + (f":{WORK[end.part]}" if end.part in WORK else ""))
        if end.part in RELEASE:
            held = max(HELD, lasts[name] + QUIET if lasts[released_name(name)] else 0)
            hand.append(f"{step + held}: {name}:{RELEASE[end.part]}")
            step += held + lasts[released_name(name)]
        step += max(lasts[name], HELD) + QUIET
    return tuple(hand)


def walk(brief: Brief) -> tuple[str, ...]:
    """A repeatable walk of acts, some close to the one before and some far."""
    random = Random(len(brief.claims))
    longest = max((t.after_steps or 0 for one in brief.automata for t in one.transitions), default=0)
    names = list(brief.inputs)
    thrown = dict.fromkeys(names, False)
    hand: list[str] = []
    step = 0
    for place in range(max(WALK, 3 * len(names))):
        name = names[place % len(names)] if place < len(names) else random.choice(names)
        part = brief.inputs[name].part
        act = ""
        if part in WORK:
            thrown[name] = not thrown[name]
            act = f":{WORK[part] if thrown[name] else RELEASE[part]}"
        hand.append(f"{step}: {name}{act}")
        step += random.choice((40, 44, 50, 61, longest + QUIET))
    return tuple(hand)
