"""The tables [[chart]] and [[machine]] of plan files and briefs: their keys and values; what the texts say is not read.

`tickwright.charts` reads the claims, the hand and the transitions.
"""

from __future__ import annotations

from typing import Any

from tickwright.durations import parse_duration
from tickwright.errors import DurationError, near
from tickwright.places import Places
from tickwright.plan.model import Chart, Machine
from tickwright.plan.values import read_line, read_tables
from tickwright.toml import shown

CHART_KEYS = ("name", "starts", "hand", "watch", "shows")
MACHINE_KEYS = ("name", "states", "transitions", "deaf")
STARTS = ("at rest", "at step 0")
LONGEST_LINE = 1000
MOST_LINES = 500


def read_charts(data: dict[str, Any], places: Places) -> tuple[Chart, ...]:
    """The charts of a file, in its order; one without a name is called by its number. Raises PlanError at its place."""
    charts: list[Chart] = []
    for index, entry in enumerate(read_tables(data, "chart", places)):
        _known_keys(entry, CHART_KEYS, "chart", index, places)
        name = _name(entry, f"chart {index + 1}", "chart", index, places)
        if any(chart.name == name for chart in charts):
            what = f"Two charts are called {shown(name)}: give each a name of its own."
            raise places.error(what, "chart", index, "name")
        shows = _lines(entry, "shows", "chart", index, places, 'such as shows = ["lamp: on from press for 2 s"]')
        hand = None
        if "hand" in entry:
            hand = _lines(entry, "hand", "chart", index, places, 'such as hand = ["0: press"]', empty=True)
        starts = entry.get("starts", STARTS[0])
        if starts not in STARTS:
            what = f'starts is {shown(starts)}: write starts = "at rest", or starts = "at step 0".'
            raise places.error(what, "chart", index, "starts")
        watch = _duration(entry, "watch", "chart", index, places)
        if watch == 0:
            raise places.error("watch is no time at all: give it at least one step.", "chart", index, "watch")
        charts.append(Chart(name, shows, hand, watch, starts == STARTS[0]))
    return tuple(charts)


def read_machines(data: dict[str, Any], places: Places) -> tuple[Machine, ...]:
    """The state machines of a file, in its order. Raises PlanError at the place of what is wrong."""
    machines: list[Machine] = []
    for index, entry in enumerate(read_tables(data, "machine", places)):
        _known_keys(entry, MACHINE_KEYS, "machine", index, places)
        name = _name(entry, "", "machine", index, places)
        if not name:
            raise places.error('This machine has no name: write name = "lock", say.', "machine", index)
        if any(machine.name == name for machine in machines):
            what = f"Two machines are called {shown(name)}: give each a name of its own."
            raise places.error(what, "machine", index, "name")
        states = _lines(entry, "states", "machine", index, places, 'such as states = ["shut", "open"]')
        for number, state in enumerate(states):
            if state in states[:number]:
                what = f"The state {shown(state)} stands twice: give each a name of its own."
                raise places.error(what, "machine", index, "states", number)
        such = 'such as transitions = ["shut: press -> open"]'
        transitions = _lines(entry, "transitions", "machine", index, places, such, empty=True)
        machines.append(Machine(name, states, transitions, _duration(entry, "deaf", "machine", index, places)))
    return tuple(machines)


def _known_keys(entry: dict[str, Any], known: tuple[str, ...], table: str, index: int, places: Places) -> None:
    for key in entry:
        if key not in known:
            raise places.error(f"A {table} has no {shown(key)}.{near(key, known)}", table, index, key)


def _name(entry: dict[str, Any], default: str, table: str, index: int, places: Places) -> str:
    where = (table, index, "name")
    name = read_line(entry.get("name", default), places, "name", longest=200, path=where)
    if "name" in entry and not name.strip():
        raise places.error("The name is empty: give it a letter at least.", *where)
    return name


def _lines(
    entry: dict[str, Any], key: str, table: str, index: int, places: Places, such: str, empty: bool = False
) -> tuple[str, ...]:
    if key not in entry:
        if empty:
            return ()
        raise places.error(f"This {table} has no {key}: write a list of texts, {such}.", table, index)
    value = entry[key]
    if not isinstance(value, list) or (not value and not empty):
        said = "empty" if isinstance(value, list) else shown(value)
        raise places.error(f"{key} is {said}: write a list of texts, {such}.", table, index, key)
    if len(value) > MOST_LINES:
        raise places.error(f"{key} has {len(value):,} lines: the most is {MOST_LINES}.", table, index, key)
    what = f"text in {key}"
    return tuple(
        read_line(line, places, what, longest=LONGEST_LINE, path=(table, index, key, number))
        for number, line in enumerate(value)
    )


def _duration(entry: dict[str, Any], key: str, table: str, index: int, places: Places) -> int | None:
    if key not in entry:
        return None
    where = (table, index, key)
    try:
        return parse_duration(read_line(entry[key], places, key, longest=40, path=where, such='"40 s"'))
    except DurationError as error:
        raise places.error(f"{key}: {error}", *where) from None
