"""What a builder saw before a finished build, as text and as data, and how well an answer fits it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import NamedTuple

from tickwright.diagnosis.observed_claims import looks_like_a_clause, read_clause
from tickwright.diagnosis.symptoms import Seen
from tickwright.durations import parse_duration, time_text
from tickwright.errors import UsageError, near
from tickwright.kinds import PARTS, Part, parse_part
from tickwright.plan.model import Plan
from tickwright.space import Cell, cell_text

TIMED = ("hold", "delay", "period")
PLAIN = {
    "stays on": ("latched", "always-on"),
    "never on": ("none",),
    "on all the time": ("always-on",),
    "pulses for ever": ("clock",),
}
NOTHING = "nothing"
HOW = (
    'write, say, "hold 8.5 s", "delay 2 ticks", "period 0.6 s", "3 pulses", "stays on", "never on", "on all the time" '
    'or "pulses for ever", with "OUTPUT: " or "TRIGGER -> OUTPUT: " before it where there are several; an output may '
    "be a cell x,y,z, also with the part that stands there, or nothing; or clauses of a chart, such as "
    '"bell: 3 pulses of 0.2 s every 1 s from press"'
)
_COUNT = re.compile(r"([0-9]{1,6}) pulses?|pulses? ([0-9]{1,6})")
_CELL = re.compile(r"\s*(-?[0-9]{1,6})\s*,\s*(-?[0-9]{1,6})\s*,\s*(-?[0-9]{1,6})\s*")


class Observed(NamedTuple):
    """One thing seen: `what` is "hold", "delay", "period", "pulses", or a key of PLAIN, after one press; or "stands".
    What "claim" says stands in `clauses`, as in a chart; then `output` may be a trigger, too.

    `number` is steps, or how many pulses; `in_seconds` whether a clock on the wall measured it, so that a slow world
    makes it longer. `output` is an output's name, or a cell as "x,y,z". What "stands" in that cell is `part`, None for
    nothing.
    """

    trigger: str
    output: str
    what: str
    number: int | None = None
    in_seconds: bool = False
    part: Part | None = None
    clauses: str | None = None

    @property
    def text(self) -> str:
        """As it may be given again."""
        what = self.clauses or self.what
        if self.what == "stands":
            return f"{self.output}: {self.part or NOTHING}"
        if self.what == "pulses":
            what = "1 pulse" if self.number == 1 else f"{self.number} pulses"
        elif self.number is not None:
            what = f"{self.what} {time_text(self.number)}"
        return f"{self.trigger} -> {self.output}: {what}"


def parse_observed(plan: Plan, texts: Iterable[str]) -> tuple[Observed, ...]:
    """Read what was seen; the first trigger and the first output are meant where none is named.

    Raises UsageError for what cannot be read or names nothing of the plan, DurationError for a duration that is none.

    >>> plan = Plan({}, {"press": (0, 0, 1)}, {"lamp": (3, 0, 1)})
    >>> [one.text for one in parse_observed(plan, ["hold 8.5 s", "lamp: 1 pulse"])]
    ['press -> lamp: hold 8.5 s (85 ticks)', 'press -> lamp: 1 pulse']
    """
    for what, table in (("trigger", plan.triggers), ("output", plan.outputs)):
        if not table:
            raise UsageError(f"The plan names no {what}: add one under [{what}s], such as {what} = [x, y, z].")
    return tuple(_parsed(plan, text) for text in texts)


def _parsed(plan: Plan, text: str) -> Observed:
    place, colon, said = text.rpartition(":")
    trigger, arrow, output = place.rpartition("->")
    trigger, output = trigger.strip(), output.strip()
    if not arrow:
        trigger = next(iter(plan.triggers))
    elif trigger not in plan.triggers:
        raise UsageError(f'The plan has no trigger "{trigger}" (in "{text}").{near(trigger, plan.triggers)}')
    if not colon:
        output = next(iter(plan.outputs))
    elif output not in plan.outputs and output_cell(plan, output) is None and output not in plan.triggers:
        raise UsageError(f'The plan has no output "{output}" (in "{text}").{near(output, plan.outputs)}')
    cell = output_cell(plan, output)
    if cell is not None and not _near_plan(plan, cell):
        raise UsageError(
            f'The cell {cell_text(cell)} (in "{text}") lies more than a cell outside the plan, where no mistake that '
            "is tried shows: name one in or beside it."
        )
    clauses = " ".join(said.split())
    said = clauses.lower()
    word, _, rest = said.partition(" ")
    if output in plan.triggers and output not in plan.outputs and not looks_like_a_clause(said):
        raise UsageError(f'"{output}" is a trigger (in "{text}"): name an output, or write "ignored until ...".')
    count = _COUNT.fullmatch(said)
    if count is not None:
        return Observed(trigger, output, "pulses", int(count[1] or count[2]))
    if said in PLAIN:
        return Observed(trigger, output, said)
    if word in TIMED and rest:
        steps = parse_duration(rest)
        if not steps and word != "delay":
            raise UsageError(f'"{text}": a {word} of 0 steps cannot be seen; say "never on" of what does not come on.')
        return Observed(trigger, output, word, steps, not rest.endswith(("tick", "ticks", "step", "steps")))
    if cell is not None and output not in plan.outputs and (word in PARTS or said == NOTHING):
        return Observed(trigger, output, "stands", part=None if said == NOTHING else parse_part(said))
    if looks_like_a_clause(said):
        meant, _ = read_clause(plan, output, clauses, text, cell)
        return Observed(trigger if arrow else meant, output, "claim", clauses=clauses)
    raise UsageError(f'"{text}" says nothing that can be looked for: {HOW}.')


def output_cell(plan: Plan, output: str) -> Cell | None:
    """The cell of an output of the plan, or of a text "x,y,z"; None if it is neither."""
    if output in plan.outputs:
        return plan.outputs[output]
    match = _CELL.fullmatch(output)
    return (int(match[1]), int(match[2]), int(match[3])) if match else None


def _near_plan(plan: Plan, cell: Cell) -> bool:
    """Whether the cell lies within the box of the plan's parts, or beside it."""
    return all(
        min(lengths) - 1 <= here <= max(lengths) + 1
        for here, lengths in zip(cell, zip(*plan.cells, *plan.outputs.values(), strict=True), strict=True)
    )


def misfit(observed: Observed, seen: Seen, tolerance_steps: int, slowness: float = 1.0) -> float | None:
    """How far an answer is from what was seen, 0 for just that, 1 at the tolerance; None if it is another thing.

    `slowness` is by how much a slow world makes longer what was measured in seconds.
    """
    if observed.what in PLAIN:
        return 0.0 if seen.kind in PLAIN[observed.what] else None
    if observed.what == "pulses":
        return 0.0 if seen.pulses == observed.number and seen.kind not in PLAIN["on all the time"] else None
    steps = getattr(seen, f"{observed.what}_steps")
    if steps is None or observed.number is None:
        return None
    off = abs(steps * (slowness if observed.in_seconds else 1.0) - observed.number)
    if off > tolerance_steps:
        return None
    return off / tolerance_steps if tolerance_steps else 0.0
