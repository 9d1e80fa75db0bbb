"""What a change of a plan costs, in words: parts, room, and what a press must last."""

from __future__ import annotations

from collections import Counter

from tickwright.durations import duration_text
from tickwright.plan.model import Plan


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
    'no parts, no room'
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
    return "; ".join(said) or "no parts, no room"


def _kinds(parts: Counter[str]) -> str:
    return ", ".join(f"{count} {kind}" for kind, count in sorted(parts.items()))


def _box(plan: Plan) -> str:
    return " x ".join(map(str, plan.size))


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
