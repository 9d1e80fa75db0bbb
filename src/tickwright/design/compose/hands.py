"""The charts that a composed plan carries: the brief's own, with a hand where the brief says none."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from random import Random

from tickwright.charts.machines import watched
from tickwright.charts.timeline import Timeline, Wave
from tickwright.design.compose.brief import Brief
from tickwright.design.compose.lowering import Lowered, lowered
from tickwright.design.compose.moments import (
    BUTTON_STEPS,
    Away,
    Solver,
    edges_of,
    released_name,
    steps_text,
    worked_name,
)
from tickwright.plan.model import Chart

QUIET = 60  # steps between the last thing that an act causes and the next act
RELEASE = {"lever": "off", "item-plate": "take", "tread-plate": "leave"}
WORK = {"lever": "on", "item-plate": "drop", "tread-plate": "tread"}
HELD = 40
OTHER = {"on": "off", "off": "on"}
WALK = 10  # acts of the hand for machines
MOST_WALKS = 200


def charts_for(brief: Brief) -> tuple[Chart, ...]:
    """The charts, each with a hand if it needs one: every trigger once, far apart; for machines a walk of acts."""
    charts = []
    low = lowered(brief)
    for chart in brief.charts:
        hand = chart.hand
        held = any(end.part in RELEASE for end in brief.inputs.values())
        if hand is None and (len(brief.inputs) > 1 or low.brief.automata or held):
            hand = walk(low) if low.brief.automata else each_once(brief)
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
        spans = Solver(brief).wanted().spans[name.strip()]
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


def walk(low: Lowered) -> tuple[str, ...]:
    """A repeatable walk of acts, some close to the one before and some far; all events that spans need come in it."""
    acts: list[tuple[int, str, str]] = []
    for seed in range(MOST_WALKS):
        acts = _walk(low, len(low.brief.claims) + seed)
        if _all_come(low, acts):
            break
    return tuple(f"{step}: {name}{act}" for step, name, act in acts)


def _walk(low: Lowered, seed: int) -> list[tuple[int, str, str]]:
    """One walk: (step, trigger, its act); where spans count from machines, each act comes when all before is over."""
    brief, random = low.brief, Random(seed)
    longest = max((t.after_steps or 0 for one in brief.automata for t in one.transitions), default=0)
    ends = [at.steps for spans in low.wanted.spans.values() for at in edges_of(spans)]
    pauses = (longest + max(ends) + QUIET,) if ends else (40, 44, 50, 61, longest + QUIET)
    names = list(brief.inputs)
    thrown = dict.fromkeys(names, False)
    acts: list[tuple[int, str, str]] = []
    step = 0
    for place in range(max(WALK, 3 * len(names))):
        name = names[place % len(names)] if place < len(names) else random.choice(names)
        part = brief.inputs[name].part
        act = ""
        if part in WORK:
            thrown[name] = not thrown[name]
            act = f":{WORK[part] if thrown[name] else RELEASE[part]}"
        acts.append((step, name, act))
        step += random.choice(pauses)
    return acts


def _all_come(low: Lowered, acts: Sequence[tuple[int, str, str]]) -> bool:
    """Whether all events that spans count from come in a walk."""
    events = {at.trigger for spans in low.wanted.spans.values() for at in edges_of(spans)}
    if not events:
        return True
    worked: dict[str, list[int]] = {name: [] for name in low.brief.inputs}
    released: dict[str, list[int]] = {name: [] for name in low.brief.inputs}
    for step, name, act in acts:
        length = BUTTON_STEPS.get(low.brief.inputs[name].part)
        (released if act[1:] in RELEASE.values() else worked)[name].append(step)
        if length is not None:
            released[name].append(step + length)
    waves = {name: Wave(False, tuple(sorted([*worked[name], *released[name]]))) for name in worked}
    line = Timeline(
        acts[-1][0] + 1, {}, waves, {name: tuple(at) for name, at in worked.items()},
        {name: tuple(at) for name, at in released.items()},
    )  # fmt: skip
    entries = watched(low.brief.automata, line)
    for event in events:
        moves = low.keys.moves.get(event)
        if moves is None:
            trigger = worked_name(event)
            if not (worked if event == trigger else released)[trigger]:
                return False
        elif not any((before, after) in moves.pairs for (_, before), (_, after) in pairwise(entries[moves.machine])):
            return False
    return True
