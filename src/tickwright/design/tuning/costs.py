"""What a change of a plan costs, in words: parts, room, and what a press must last."""

from __future__ import annotations

from collections import Counter

from tickwright.design.tuning.knob_row import KnobRow
from tickwright.durations import duration_text, time_text
from tickwright.kinds import many_of
from tickwright.plan.model import Plan

KNOBS_COST = "Another delay costs no part; a number of items is how many you must put in. * marks the value as laid."
NO_HOLD = {
    "none": "nothing comes on",
    "latched": "it stays on",
    "clock": "pulses for ever",
    "train": "several pulses",
    "undecided": "not yet over when the run ended",
}


def parts_more(before: Plan, after: Plan) -> int:
    """How many parts the changed plan has more; fewer if negative."""
    return len(after.cells) - len(before.cells)


def cost_text(before: Plan, after: Plan) -> str:
    r"""What the changed plan needs more than the plan as it was, and what it saves.

    >>> from tickwright.kinds import parse_part
    >>> one = Plan({(0, 0, 0): parse_part("block"), (0, 0, 1): parse_part("wire")})
    >>> two = Plan({**one.cells, (1, 0, 0): parse_part("block"), (1, 0, 1): parse_part("repeater east")})
    >>> cost_text(one, two)
    '2 parts more (1 block, 1 repeater); 2 x 1 x 2 cells instead of 1 x 1 x 2'
    >>> cost_text(one, one)
    'no more parts, no more room'
    """
    old, new = (Counter(part.kind for part in plan.cells.values()) for plan in (before, after))
    more, fewer = new - old, old - new
    if more and more.total() == fewer.total():
        said = [f"{_kinds(more)} instead of {_kinds(fewer)}"]
    else:
        said = [
            f"{some.total()} part{'s' if some.total() != 1 else ''} {what} ({_kinds(some)})"
            for what, some in (("more", more), ("fewer", fewer))
            if some
        ]
    if after.size != before.size:
        said.append(f"{_box(after)} cells instead of {_box(before)}")
    said = said or ["no more parts, no more room"]
    items = sum(part.items for part in after.cells.values()) - sum(part.items for part in before.cells.values())
    if items:
        said.append(f"{abs(items)} item{'s' if abs(items) != 1 else ''} {'more' if items > 0 else 'fewer'} to put in")
    return "; ".join(said)


def _kinds(parts: Counter[str]) -> str:
    return ", ".join(f"{count} {kind if count == 1 else many_of(kind)}" for kind, count in sorted(parts.items()))


def _box(plan: Plan) -> str:
    return " x ".join(map(str, plan.size))


def error_text(error_steps: int) -> str:
    """How far a hold is off the one wanted.

    >>> error_text(-6), error_text(0)
    ('0.3 s too short', 'just as wanted')
    """
    if not error_steps:
        return "just as wanted"
    return f"{duration_text(abs(error_steps))} too {'long' if error_steps > 0 else 'short'}"


def holds_texts(row: KnobRow) -> list[str]:
    """What the values of a knob do, neighbours that do the same together; "*" marks the value as laid.

    How long after the press the output comes on is told where the values differ in it.

    >>> from tickwright.design.tuning.changes import Knob
    >>> from tickwright.kinds import parse_part
    >>> knob = Knob((0, 0, 1), parse_part("repeater east"), "delay", 1, (1, 2, 3))
    >>> holds_texts(KnobRow(knob, ((1, 20, "one-shot", 2), (2, 20, "one-shot", 2), (3, None, "latched", 2))))
    ['1*, 2: 1 s (10 ticks)', '3: it stays on']
    >>> holds_texts(KnobRow(knob, ((1, 20, "one-shot", 2), (2, 20, "one-shot", 4))))
    ['1*: 1 s (10 ticks), on after 0.1 s', '2: 1 s (10 ticks), on after 0.2 s']
    """
    differ = len({delay for *_, delay in row.holds if delay is not None}) > 1
    told: list[tuple[str, list[str]]] = []
    for value, hold, kind, delay in row.holds:
        does = time_text(hold) if hold is not None else NO_HOLD.get(kind, kind)
        if differ and delay is not None:
            does += f", on after {duration_text(delay)}"
        name = f"{value}*" if value == row.knob.value else str(value)
        if told and told[-1][0] == does:
            told[-1][1].append(name)
        else:
            told.append((does, [name]))
    return [f"{', '.join(names)}: {does}" for does, names in told]


def press_text(before_steps: int | None, after_steps: int | None) -> str | None:
    """What a press must last, if that is another time than before; None if it is not."""
    if after_steps is None or after_steps == before_steps:
        return None
    instead = f" instead of {duration_text(before_steps)}" if before_steps is not None else ""
    return f"a press must last {duration_text(after_steps)}{instead}"


def delay_text(before_steps: int | None, after_steps: int) -> str | None:
    """How much later or sooner the output answers; None if it does not."""
    by = after_steps - (before_steps if before_steps is not None else after_steps)
    return f"it answers {duration_text(abs(by))} {'later' if by > 0 else 'sooner'}" if by else None
