"""The grid of a sweep: every combination of plan, rule set, changed part, telling order and stimulus, as points."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import product
from math import prod
from typing import NamedTuple

import msgspec

from tickwright.arguments import checked
from tickwright.charts import charts_of
from tickwright.durations import STEPS_PER_TICK, parse_duration
from tickwright.engine.order import check_order
from tickwright.engine.running import LONGEST_RUN, rules_for
from tickwright.errors import PartError, UsageError, near
from tickwright.kinds import Part, a_kind, parse_part, part_text
from tickwright.measurement import find_trigger
from tickwright.measurement.press import takes_length
from tickwright.plan.files import dumps
from tickwright.plan.hand import parse_script
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.rules import RuleSet
from tickwright.space import Cell, cell_text
from tickwright.sweeps.points import Point

MOST_POINTS = 1_000_000
# Raise it when the same point comes to another result than before: what older files hold is then done anew.
RESULTS_VERSION = 1
_CELL = re.compile(r"\s*([0-9]{1,7})\s*,\s*([0-9]{1,7})\s*,\s*([0-9]{1,7})\s*")
_RANGE = re.compile(r"\s*(.+?)\s*\.\.\s*([^/]+?)\s*(?:/\s*(.+?)\s*)?")


@checked
def grid(
    plans: Mapping[str, Plan],
    rules: Sequence[RuleSet | str] = (),
    settings: Iterable[str] = (),
    triggers: Sequence[str] = (),
    lengths: Iterable[str] = (),
    minimum: bool = False,
    acts: Sequence[str] = (),
    steps: int | None = None,
    orders: Sequence[str] = ("canonical",),
    chart: str | None = None,
) -> list[Point]:
    """Every point of a grid, plan by plan; the last axis runs fastest, settings as given before the stimulus.

    `settings` are texts WHERE:NAME=VALUES: the argument NAME of the part at WHERE (x,y,z, or a trigger's or output's
    name), VALUES as in "1..4", "0..320/64" or "threshold,difference". `lengths` are durations or ranges of them,
    "10 ticks..30 ticks", "1 s..2 s/5 ticks"; without a stride they go by ticks if both ends are in ticks, else by
    steps. With `steps`, `acts` are done instead of one press; an act's step may be a range, "20..60/2:press". With
    `chart` every plan's chart of that name is judged instead.

    Raises UsageError for what cannot be meant, PartError for a value that a part does not take, PlanError for a chart
    that cannot be read.

    >>> from tickwright.plan import loads
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", r = "repeater east", L = "lamp"}
    ... layer = [{rows = "##"}, {rows = "brL"}]
    ... triggers = {press = [0, 0, 1]}
    ... outputs = {lamp = [2, 0, 1]}''')
    >>> points = grid({"lamp": plan}, settings=["1,0,1:delay=1..4"], lengths=["8 ticks..10 ticks"])
    >>> len(points), points[1].settings, points[1].length_steps
    (12, (('1,0,1:delay', '1'),), 18)
    """
    lengths = tuple(lengths)
    if chart is not None and (acts or steps is not None or triggers or lengths or minimum):
        raise UsageError("A chart says itself what the hand does, and when: leave out triggers, lengths and acts.")
    if steps is None and acts:
        raise UsageError("Acts of the hand need to know how long to run: say for how long.")
    if steps is not None and (triggers or lengths or minimum):
        raise UsageError("A run of acts has no trigger, length or minimum trigger to measure: leave them out.")
    if steps is not None and not 1 <= steps <= LONGEST_RUN:
        raise UsageError(f"A run of {steps} steps cannot be made: use 1 to {LONGEST_RUN:,} steps.")
    for order in orders:
        check_order(order)
    presses: list[int | None] = [length for text in lengths for length in expand(text, _length, _by_tick)] or [None]
    scripts = list(product(*(_act_texts(text) for text in acts)))
    axes = [_setting(text) for text in settings]
    points: list[Point] = []
    for label, plan in plans.items():
        stimuli = (
            [_charted(plan, label, chart)]
            if chart is not None
            else _presses(plan, label, triggers, presses)
            if steps is None
            else [_Stimulus(None, None, script, tuple(map(str, parse_script(plan, script)))) for script in scripts]
        )
        chosen = [rules_for(plan, one) for one in rules or (None,)]
        placed = [_placed(plan, label, *axis) for axis in axes]
        count = len(points) + prod(map(len, (chosen, orders, stimuli, *placed)))
        if count > MOST_POINTS:
            what = f"The grid has {count:,} points, and a sweep {MOST_POINTS:,} at most"
            raise UsageError(f"{what}: split it, or widen a stride.")
        text, body = dumps(plan), _body(plan)
        for ruleset in chosen:
            under = f"{body} {json.dumps(msgspec.to_builtins(ruleset), sort_keys=True)} {RESULTS_VERSION}"
            for settings_ in product(*placed):
                changes = _changes(plan, settings_)
                written = tuple((setting.what, setting.value) for setting in settings_)
                for order, (trigger, length, script, done) in product(orders, stimuli):
                    key = _key(under, changes, (order, trigger, length, minimum, done, steps))
                    facts = (order, trigger, length, minimum, script, steps)
                    points.append(Point(label, ruleset.name, written, *facts, key, text, ruleset, changes, chart))
    return points


class _Stimulus(NamedTuple):
    """What is done at a point: a press of a trigger, of a length of its own or not; or else acts, written and read."""

    trigger: str | None
    length_steps: int | None
    written: tuple[str, ...] = ()
    acts: tuple[str, ...] = ()


def _charted(plan: Plan, label: str, name: str) -> _Stimulus:
    """A chart in a plan; what it says, and the plan's machines, stand in the place of acts."""
    try:
        charts_of(plan).chart(name)
    except UsageError as error:
        raise UsageError(f'In the plan "{label}": {error}') from None
    chart = next(one for one in plan.charts if one.name == name)
    said = json.dumps(msgspec.to_builtins([chart, plan.machines]), sort_keys=True)
    return _Stimulus(None, None, (), ("chart", said))


class _Set(NamedTuple):
    """One value of a setting in one plan: what is set and to what, as written, and the word for that cell's part."""

    what: str
    value: str
    cell: Cell
    word: str


def _presses(plan: Plan, label: str, triggers: Sequence[str], lengths: Sequence[int | None]) -> list[_Stimulus]:
    pressed = triggers or tuple(plan.triggers)
    if not (pressed and plan.outputs):
        missing = "output" if pressed else "trigger"
        raise UsageError(f'The plan "{label}" names no {missing}: add one under [{missing}s], or sweep another plan.')
    for name in pressed:
        trigger = find_trigger(Setup(plan, rules_for(plan)), name)
        if lengths != [None] and not takes_length(trigger):
            what = a_kind(trigger.kind or "open cell")
            raise UsageError(f'The trigger "{name}" of "{label}" is {what}: it has no length to set.')
    return [_Stimulus(name, length) for name in pressed for length in lengths]


def expand(text: str, read: Callable[[str], int], stride_of: Callable[[str, str], int]) -> list[int]:
    """The numbers that "a..b/stride,c" means; `stride_of` gives the stride where none is written.

    >>> expand("1..3,8", int, lambda first, last: 1)
    [1, 2, 3, 8]
    """
    numbers: list[int] = []
    for piece in text.split(","):
        match = _RANGE.fullmatch(piece)
        if match is None:
            numbers.append(read(piece.strip()))
            continue
        first, last, by = match.groups()
        low, high = read(first), read(last)
        stride = read(by) if by else stride_of(first, last)
        if low > high or stride < 1:
            raise UsageError(f'"{text}" is no range: write the lower end first, and a stride of 1 or more after a "/".')
        if (high - low) // stride >= MOST_POINTS:
            raise UsageError(
                f'"{text}" has over {MOST_POINTS:,} values, the most points of one sweep: widen its stride.'
            )
        numbers += range(low, high + 1, stride)
    return list(dict.fromkeys(numbers))


def _length(text: str) -> int:
    steps = parse_duration(text)
    if steps < 1:
        raise UsageError(f'A trigger of "{text}" has no length: use 1 step or more.')
    return steps


def _by_tick(first: str, last: str) -> int:
    return STEPS_PER_TICK if all("tick" in text for text in (first, last)) else 1


def _number(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) <= 12):
        raise UsageError(f'"{text}" is not a whole number from 0.')
    return int(text)


def _setting(text: str) -> tuple[str, str, list[str]]:
    """WHERE:NAME=VALUES as (where, name, values)."""
    match = re.fullmatch(r"\s*([^:=]+?)\s*:\s*([a-z-]+)\s*=\s*(.+?)\s*", text)
    if match is None:
        raise UsageError(f'"{text}" sets nothing: write WHERE:NAME=VALUES, such as 3,0,1:delay=1..4.')
    where, name, values = match.groups()
    if re.fullmatch(r"[0-9./,\s]+", values):
        return where, name, [str(number) for number in expand(values, _number, lambda _first, _last: 1)]
    return where, name, [value.strip() for value in values.split(",")]


def _act_texts(text: str) -> list[str]:
    """The acts that STEP:WHO[:ACT] with a range of steps means."""
    when, colon, what = text.partition(":")
    if ".." not in when and "," not in when:
        return [text]
    return [f"{step}{colon}{what}" for step in expand(when, _number, lambda _first, _last: 1)]


def _placed(plan: Plan, label: str, where: str, name: str, values: list[str]) -> list[_Set]:
    """A setting in a plan, value by value."""
    match = _CELL.fullmatch(where)
    names = {**plan.outputs, **plan.triggers}
    if match is not None:
        x, y, z = (int(number) for number in match.groups())
        cell = (x, y, z)
    elif where in names:
        cell = names[where]
    else:
        raise UsageError(f'"{where}" is neither a cell x,y,z nor a name in the plan "{label}".{near(where, names)}')
    part = plan.cells.get(cell)
    if part is None:
        raise UsageError(f'In the plan "{label}" the cell {cell_text(cell)} is empty: there is no {name} to set.')
    for value in values:
        try:
            _with(part, f"{name}={value}")
        except PartError as error:
            raise UsageError(f'In the plan "{label}" at {cell_text(cell)}: {error}') from None
    return [_Set(f"{where}:{name}", value, cell, f"{name}={value}") for value in values]


def _with(part: Part, word: str) -> Part:
    """The part with one argument set: `word` is its name=value."""
    name = word.partition("=")[0]
    kept = [old for old in part_text(part).split() if not old.startswith(f"{name}=")]
    return parse_part(" ".join([*kept, word]))


def _changes(plan: Plan, settings: Iterable[_Set]) -> tuple[tuple[Cell, Part], ...]:
    """The parts that the settings make other than they are in the plan, in order of cells."""
    parts: dict[Cell, Part] = {}
    for setting in settings:
        parts[setting.cell] = _with(parts.get(setting.cell, plan.cells[setting.cell]), setting.word)
    return tuple(sorted((cell, part) for cell, part in parts.items() if part != plan.cells[cell]))


def _body(plan: Plan) -> str:
    """All of a plan that decides what it does, as a digest; comments, title and expectations are left out."""
    cells = [[*cell, part_text(part)] for cell, part in sorted(plan.cells.items())]
    facts = [cells, sorted(plan.triggers.items()), sorted(plan.outputs.items())]
    return hashlib.sha256(json.dumps(facts).encode()).hexdigest()


def _key(under: str, changes: tuple[tuple[Cell, Part], ...], facts: tuple[object, ...]) -> str:
    changed = [[*cell, part_text(part)] for cell, part in changes]
    return hashlib.sha256(f"{under} {json.dumps([changed, facts])}".encode()).hexdigest()[:32]
