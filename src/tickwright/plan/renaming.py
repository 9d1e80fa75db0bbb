"""New names for what is laid beside another of the same name: of cells, and in the texts of charts and machines."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from itertools import count as counting

from tickwright.errors import PlanError
from tickwright.plan.limits import LONGEST_NAME
from tickwright.plan.model import Chart, Machine, Plan

_WORD = re.compile(r"[A-Za-z_](?:[A-Za-z0-9_.]|-(?!>))*")


def new_names(names: Collection[str], taken: Collection[str], number: int) -> dict[str, str]:
    """What each name becomes beside those that are taken: itself, or with `number` or the next free one at its end.

    >>> new_names(["lamp"], ["lamp"], 2)
    {'lamp': 'lamp-2'}
    """
    new = {}
    used = {*taken, *names}
    for name in names:
        new[name] = name
        if name in taken:
            new[name] = next(free for n in counting(number) if (free := f"{name}-{n}") not in used)
            used.add(new[name])
            if len(new[name]) > LONGEST_NAME:
                raise PlanError(
                    f'The name "{new[name]}" would have over {LONGEST_NAME} characters: shorten "{name}" first.'
                )
    return new


def with_new_name(plan: Plan, old: str, new: str) -> Plan:
    """The plan in whose charts and machines a trigger or output is called `new`, wherever a text says `old`."""
    names = {old: new}
    charts = []
    for chart in plan.charts:
        hand = None if chart.hand is None else _said_hand(chart.hand, names)
        charts.append(replace(chart, shows=_said(chart.shows, names), hand=hand))
    machines = (replace(machine, transitions=_said(machine.transitions, names)) for machine in plan.machines)
    return replace(plan, charts=tuple(charts), machines=tuple(machines))


def _said_hand(lines: tuple[str, ...], names: Mapping[str, str]) -> tuple[str, ...]:
    """Lines of a hand with other names; the act, after the second colon, is no name."""
    parts = (line.split(":", 2) for line in lines)
    return tuple(":".join((*_said(tuple(line[:2]), names), *line[2:])) for line in parts)


def _said(texts: tuple[str, ...], names: Mapping[str, str]) -> tuple[str, ...]:
    return tuple(_WORD.sub(lambda word: names.get(word.group(), word.group()), text) for text in texts)


def renamed_charts(
    plan: Plan, cells: Mapping[str, str], charts: Sequence[Chart], machines: Sequence[Machine], number: int
) -> tuple[list[Chart], list[Machine]]:
    """The plan's charts and machines beside others, with what its triggers and outputs are called now, `cells`.

    A chart that names none of the triggers says which one it works, for now there may be several.
    """
    machine_names = new_names([machine.name for machine in plan.machines], [other.name for other in machines], number)
    chart_names = new_names([chart.name for chart in plan.charts], [other.name for other in charts], number)
    names = {**cells, **machine_names}

    made = []
    for chart in plan.charts:
        hand = chart.hand
        words = {word for text in chart.shows for word in _WORD.findall(text)}
        if hand is None and len(plan.triggers) == 1 and words.isdisjoint(plan.triggers):
            hand = tuple(f"0: {trigger}" for trigger in plan.triggers)
        hand = None if hand is None else _said_hand(hand, names)
        made.append(replace(chart, name=chart_names[chart.name], shows=_said(chart.shows, names), hand=hand))
    changed = [
        replace(machine, name=machine_names[machine.name], transitions=_said(machine.transitions, names))
        for machine in plan.machines
    ]
    return made, changed
