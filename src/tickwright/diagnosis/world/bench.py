"""The bench of a world: small circuits that together tell most changes of a rule set apart, and what to write down.

Each plan has one chart, "bench", whose hand is what one does to it; its claims are what the rules `standard` give.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from string import ascii_letters

from tickwright.charts import charts_of
from tickwright.diagnosis.world.circuits import bench_plan
from tickwright.diagnosis.world.measured import FORMAT, Measured
from tickwright.durations import duration_text
from tickwright.kinds import Part
from tickwright.plan.model import Plan
from tickwright.space import zyx


def bench_measured(name: str) -> Measured:
    """A circuit of the bench as if it had been measured under the rules `standard`."""
    plan = replace(bench_plan(name), source=None, expectations=())
    read = charts_of(plan)
    return Measured(f"bench:{name}", plan, read, read.charts[0])


def measured_text(names: Iterable[str]) -> str:
    """A file of what was measured, as the rules `standard` would have it: to be changed to what one sees.

    Raises UsageError for a name that is none.
    """
    lines = [f'format = "{FORMAT}"']
    for name in names:
        chart = bench_plan(name).charts[0]
        lines += ["", "[[measured]]", f'plan = "bench:{name}"']
        if chart.hand:
            lines.append("hand = [" + ", ".join(f'"{line}"' for line in chart.hand) + "]")
        if not chart.at_rest:
            lines.append('starts = "at step 0"')
        if chart.watch_steps is not None:
            lines.append(f'watch = "{duration_text(chart.watch_steps)}"')
        lines += ["observed = [", *(f'  "{claim}",' for claim in chart.shows), "]"]
    return "\n".join(lines) + "\n"


def bench_sheet(names: Iterable[str]) -> str:
    """How to build each circuit, what to do to it and what to write down, as Markdown.

    Raises UsageError for a name that is none.
    """
    plans = {name: bench_plan(name) for name in names}
    parts = sum(len(plan.cells) for plan in plans.values())
    lines = [
        "# The bench of a world",
        "",
        f"{len(plans)} circuits, {parts} parts. Build those you care for, well apart from each other; the first tell",
        "most for their parts. Do what each says, and write into measured.toml when each output is on: in steps of",
        "0.05 s if you can count them, else in seconds, with give_or_take; leave out what you did not build. Then:",
        "tickwright rules fit measured.toml --save world.toml",
    ]
    for name, plan in plans.items():
        chart = plan.charts[0]
        lines += ["", f"## {plan.title} ({name}, {len(plan.cells)} parts)", "", "```"]
        marks = _marks(plan)
        for z in range(plan.size[2]):
            lines.append(f"layer {z}")
            for y in range(plan.size[1]):
                row = (plan.cells.get((x, y, z)) for x in range(plan.size[0]))
                lines.append("  " + "".join(marks[part] if part else "." for part in row).rstrip("."))
        lines += [*(f"{mark}  {part}" for part, mark in marks.items()), "```", ""]
        if chart.hand:
            lines.append(f"- do: {'; '.join(chart.hand)}")
        else:
            lines.append("- do nothing: look from the moment it is built or loaded")
        where = "; ".join(f"{output} {cell}" for output, cell in plan.outputs.items())
        lines += [f"- watch: {where}", f"- under the rules standard: {'; '.join(chart.shows)}"]
    return "\n".join(lines) + "\n"


def _marks(plan: Plan) -> dict[Part, str]:
    """A mark for each different part of a plan."""
    found: dict[Part, str] = {}
    for cell in sorted(plan.cells, key=zyx):
        part = plan.cells[cell]
        if part not in found:
            usual = {"block": "#", "wire": "w", "lamp": "L", "lever": "v"}.get(part.kind, part.kind[0])
            free = [mark for mark in (usual, part.kind[0].upper(), *ascii_letters) if mark not in found.values()]
            found[part] = free[0]
    return found
