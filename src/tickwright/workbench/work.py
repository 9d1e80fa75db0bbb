"""The work that jobs do, each a function of a way to tell progress and its arguments. Runs in a worker's process.

To tell progress says, too, whether the job is to end with what it has: those that have something to keep then do.
"""

from __future__ import annotations

import json
import struct
import sys
from array import array
from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from tickwright import (
    ChartVerdict,
    Finding,
    Plan,
    Proof,
    RuleSet,
    TickwrightError,
    Verdict,
    check,
    check_charts,
    compare,
    gather,
    load_rules,
)
from tickwright.kinds import part_text
from tickwright.rules import Layout, around
from tickwright.space import Cell, zyx
from tickwright.workbench.answering import Judged, Tried, tried
from tickwright.workbench.asking import ask
from tickwright.workbench.cards import Card, card_of, file_card
from tickwright.workbench.cells import EMPTY, Drawn, drawn_at

if TYPE_CHECKING:
    from tickwright.charts import ClaimVerdict
    from tickwright.design import Chosen, Tuning, Wish
    from tickwright.exporting import Export
    from tickwright.plan import Chart
    from tickwright.publish import Table, Theme
    from tickwright.recording import Recording
    from tickwright.verify import Compared
    from tickwright.workbench.making import Made

Tell = Callable[[Any], bool]
SPEEDS = (20.0, 4.0, 1.0, 0.5, 0.25, 0.1, 0.05)
MOST_SCENES = 2_000
MOST_SOLID_ROWS = 200_000
FLASHES_SEEN = 7  # fewer changes than these can hold no four flashes


def watch(
    _: Tell, plan: Plan, rules: RuleSet, acts: Sequence[str] | None, steps: int | None, length_steps: int | None = None
) -> tuple[bytes, tuple[Finding, ...], int]:
    """Run a plan by a script of the hand: what every cell shows, as `packed` packs it, the findings, the first act.

    Without a script its first trigger is pressed once, as soon as all has come to rest. Without `steps` it runs until
    all is at rest again.
    """
    from tickwright.recording import record

    recording = record(plan, acts, steps, rules, length_steps=length_steps, before_steps=0)
    return packed(recording), recording.findings, recording.pressed_at_step or 0


def packed(recording: Recording) -> bytes:
    """A recording as the page reads it.

    A length (4 bytes, little-endian), so many bytes of JSON, zeros up to a multiple of 4; then for all cells one after
    another the steps of their changes (uint32), and then their values (uint16). The JSON says which cells they are, how
    many changes each has, what stands where from which step on, and which cells flash at which speed.
    """
    cells = sorted(recording.shown, key=zyx)
    steps, values = array("I"), array("H")
    for cell in cells:
        for step, value in recording.shown[cell]:
            steps.append(step)
            values.append(min(value, 65_535))
    head = {
        "steps": recording.trace.steps,
        "rested": recording.rested,
        "cells": cells,
        "counts": [len(recording.shown[cell]) for cell in cells],
        "acts": [{"step": act.step, "text": str(act), "cell": act.cell} for act in recording.stimuli],
        "names": {**recording.plan.triggers, **recording.plan.outputs},
        "triggers": list(recording.plan.triggers),
        "scenes": scenes_of(recording),
        "solid": solid_of(recording),
        "flashing": flashing_cells([recording.shown[cell] for cell in cells]),
    }
    if sys.byteorder == "big":
        steps.byteswap()
        values.byteswap()
    text = json.dumps(head, separators=(",", ":")).encode()
    text += b" " * (-len(text) % 4)
    return struct.pack("<I", len(text)) + text + steps.tobytes() + values.tobytes()


def scenes_of(recording: Recording) -> dict[str, Any]:
    """What stands where from each step on at which that changed, as rows to draw over those before.

    A row's number is a place in `sorts`. No more than MOST_SCENES are kept; `cut_at` is the first step left out.
    """
    numbers: dict[Drawn, int] = {}
    scenes: list[dict[str, Any]] = []
    kept = recording.scenes[: MOST_SCENES + 1]
    for (_, before), (step, stands) in pairwise(kept):
        layout = Layout(stands, recording.rules)
        changed = {cell for cell in {**before, **stands} if before.get(cell) != stands.get(cell)}
        rows = [
            (*cell, numbers.setdefault(drawn_at(layout, cell), len(numbers)) if cell in stands else EMPTY)
            for cell in sorted(around(changed, 2))
            if cell in stands or cell in before
        ]
        scenes.append({"step": step, "cells": rows})
    cut_at = recording.scenes[MOST_SCENES + 1][0] if len(recording.scenes) > len(kept) else None
    return {"sorts": [drawn.as_data() for drawn in numbers], "scenes": scenes, "cut_at": cut_at}


def solid_of(recording: Recording) -> dict[str, Any] | None:
    """What the 3D view shows of a run in which parts move; None if none does.

    `data` is that of `scene_data`; `steps` and `configurations`: from which step on which of them stands. No more than
    MOST_SOLID_ROWS rows of configurations are kept; `cut_at` is the first step left out.
    """
    if len(recording.scenes) < 2:
        return None
    from tickwright.publish import NumberedStands, scene_data

    numbered = NumberedStands(recording.plan)
    most = max(1, MOST_SOLID_ROWS // max(1, len(recording.plan.cells)))
    kept: list[tuple[int, int]] = []
    cut_at = None
    for step, stands in recording.scenes:
        number = numbered.number(stands)
        if number >= most:
            cut_at = step
            break
        kept.append((step, number))
    data = scene_data(recording.plan, recording.rules, numbered.all[:most])
    return {"data": data, "steps": [step for step, _ in kept], "configurations": [n for _, n in kept], "cut_at": cut_at}


def flashing_cells(shown: Sequence[Sequence[tuple[int, int]]]) -> dict[str, list[int]]:
    """For each speed the numbers of the cells that flash more than three times within some second (WCAG 2.3.1)."""
    lively = [number for number, changes in enumerate(shown) if len(changes) >= FLASHES_SEEN]
    if not lively:
        return {}
    import numpy as np

    from tickwright.durations import STEPS_PER_SECOND
    from tickwright.publish import MOST_FLASHES, THEMES, level_colour, luminance, most_flashes

    at = sorted({step for number in lively for step, _ in shown[number]})
    light = [luminance(level_colour(THEMES["light"], level)) for level in range(16)]
    frames = np.zeros((len(at), len(lively)))
    for column, number in enumerate(lively):
        rows = np.searchsorted(at, [step for step, _ in shown[number]])
        for row, (_, value) in zip(rows, shown[number], strict=True):
            frames[row:, column] = light[min(value, 15)]
    found = {}
    for speed in SPEEDS:
        seconds = np.array(at) / (STEPS_PER_SECOND * speed)
        most = most_flashes(frames, seconds)
        found[f"{speed:g}"] = [lively[column] for column in np.flatnonzero(most > MOST_FLASHES)]
    return found


def race(_: Tell, plan: Plan, rules: RuleSet) -> tuple[bytes, int]:
    """Press a plan's first trigger once, at rest: what every cell shows, as `packed` packs it, and the step pressed."""
    from tickwright.recording import record

    recording = record(plan, None, None, rules)
    return packed(recording), recording.pressed_at_step or 0


def rank(
    _: Tell, plans: Mapping[str, Plan], hold_steps: int | None, sort: str | None
) -> tuple[tuple[Compared, ...], tuple[str, ...]]:
    """Compare plans, each by its answer to its first trigger; and what tells the first from each other, in words.

    Of two plans whose holds are not long that is told from both runs, too: what goes round in them, and how often.
    """
    from tickwright import why
    from tickwright.design import tell_apart
    from tickwright.diagnosis import LONGEST_CONTRASTED_STEPS, contrast

    rows = tuple(compare(plans, hold_steps, sort=sort))
    first, *others = rows
    said = [f"{first.plan} against {other.plan}: {tell_apart(first, other).text}." for other in others]
    short = [row.hold_steps is not None and row.hold_steps <= LONGEST_CONTRASTED_STEPS for row in rows]
    if len(rows) == 2 and all(short):
        one, two = (why(plans[row.plan], row.trigger, row.output) for row in rows)
        said += contrast(one, two, (f'"{rows[0].plan}"', f'"{rows[1].plan}"'))[1:]
    return rows, tuple(said)


def judge(tell: Tell, plan: Plan, rules: RuleSet, length_steps: int | None) -> Judged:
    """Measure each trigger and output, and hold the promises; tells first what one press does, before the scan."""
    from tickwright.measurement import measure_with_findings
    from tickwright.publish import main_result

    tell(Judged(tuple(measure_with_findings(plan, None, None, length_steps, rules, minimum=False)[0])))
    answers = tuple(measure_with_findings(plan, None, None, length_steps, rules)[0])
    main = main_result(plan, answers)
    least = None
    if main is not None and main.minimum_trigger_steps is not None:
        asked = (main.trigger, main.output, main.minimum_trigger_steps)
        least = measure_with_findings(plan, *asked, rules, minimum=False)[0][0].hold_steps
    verdicts, charts, trouble = _promises(plan, rules)
    return Judged(answers, verdicts, charts, least, trouble)


def _promises(plan: Plan, rules: RuleSet) -> tuple[tuple[Verdict, ...], tuple[ChartVerdict, ...], str]:
    """Expectations and charts held against the plan; why the charts cannot be (they may name what is gone)."""
    verdicts = tuple(check(plan, rules)) if plan.expectations else ()
    try:
        return verdicts, tuple(check_charts(plan, rules)), ""
    except TickwrightError as error:
        return verdicts, (), str(error)


def tries(tell: Tell, plan: Plan, rules: RuleSet, cell: Cell) -> tuple[Tried, ...]:
    """What may stand in a cell instead of what is there, and what each would do; tells those that are known so far."""
    from dataclasses import replace

    from tickwright.design import choices_at
    from tickwright.measurement import measure_with_findings

    def judged(changed: Plan, promises: bool) -> Judged:
        answers = tuple(measure_with_findings(changed, None, None, None, rules, minimum=False)[0])
        verdicts, charts, trouble = _promises(changed, rules) if promises else ((), (), "")
        return Judged(answers, verdicts, charts, None, trouble)

    before = judged(plan, promises=False)
    found: list[Tried] = []
    for part in choices_at(plan, rules, cell):
        changed = replace(plan, cells={**plan.cells, cell: part})
        own = part == plan.cells[cell]
        found.append(tried(changed, part_text(part), own, before, before if own else judged(changed, promises=True)))
        if tell(tuple(found)):
            break
    return tuple(found)


def findings(tell: Tell, plan: Plan, rules: RuleSet, length_steps: int | None) -> tuple[tuple[Finding, ...], bool]:
    """What is wrong or worth knowing, first without repairs, then with those that were tried.

    The last is whether it was ended before all was tried.
    """
    from tickwright.diagnosis import diagnose

    def progress(_: str) -> bool:
        return tell(None)

    found = diagnose(plan, rules, repairs=False, depth="pressed", progress=progress, length_steps=length_steps)
    if tell(found.findings):
        return found.findings, True
    found = diagnose(plan, rules, depth="pressed", progress=progress, length_steps=length_steps)
    return found.findings, found.stopped


def reasons(_: Tell, plan: Plan, rules: RuleSet) -> list[dict[str, Any]]:
    """Why each output holds as it does, as `reasons_data` has it."""
    from tickwright import why
    from tickwright.publish import reasons_data

    told: list[dict[str, Any]] = reasons_data(why(plan, rules=rules))
    return told


def dossier(tell: Tell, plan: Plan, rules: RuleSet) -> tuple[Table, ...]:
    """Everything known of a plan, as tables."""
    from tickwright.publish import dossier_tables

    tell("pressing at every length, offset and phase")
    return tuple(dossier_tables(gather(plan, rules)))


def prove(tell: Tell, plan: Plan, rules: RuleSet, claim: str, states: int) -> Proof:
    """Put a claim to proof; tells how many states are explored and seen."""
    from tickwright.verify import prove as proved

    def progress(explored: int, seen: int) -> bool:
        return tell(f"{explored:,} states explored, {seen:,} seen")

    return proved(plan, claim, states=states, rules=rules, progress=progress)


def choose(tell: Tell, wish: Wish) -> tuple[Chosen, tuple[Card, ...]]:
    """The designs that meet a wish, and a card of each."""
    from tickwright.design import choose as chosen

    found = chosen(wish, tell)
    tell("drawing")
    return found, tuple(card_of(design.plan, load_rules(design.plan.rules)) for design in found.designs)


def compose(tell: Tell, text: str, folder: str, seed: int, minutes: float) -> Made:
    """What comes of a brief."""
    from tickwright.workbench.making import compose_brief

    return compose_brief(tell, text, folder, seed, minutes)


def place(
    tell: Tell, file: str | None, text: str, clock: str | None, room: Cell | None, seed: int, minutes: float
) -> Made:
    """What comes of a netlist."""
    from tickwright.workbench.making import place_netlist

    return place_netlist(tell, file, text, clock, room, seed, minutes)


def shelf(_: Tell, path: str) -> Card:
    """The card of a plan file."""
    return file_card(path)


def tune(tell: Tell, plan: Plan, rules: RuleSet, hold_steps: int, within_steps: int) -> Tuning:
    """The smallest changes that bring a plan to a hold."""
    from tickwright.design import tune as tuned

    def progress(runs: int, most: int) -> None:
        if tell(f"{runs:,} of at most {most:,} plans run"):
            raise KeyboardInterrupt  # so it is told to end with what was found

    return tuned(plan, hold_steps, within_steps=within_steps, rules=rules, progress=progress)


def export(_: Tell, word: str, asked: Export) -> tuple[bytes, str]:
    """A file in the format of that word, and what to note of it, "" for nothing."""
    from tickwright.exporting import FORMATS

    content = FORMATS[word].make(asked)
    return content.encode("utf-8") if isinstance(content, str) else content, asked.note


def sheet(tell: Tell, plan: Plan, rules: RuleSet, theme: Theme) -> dict[str, bytes]:
    """All files of the sheet of a plan, by name."""
    from tickwright.material import gather_material
    from tickwright.publish import Style, make_sheet

    tell("running, drawing and setting")
    made = make_sheet(gather_material(plan, rules), Style(theme=theme))
    return {file.name: data.encode("utf-8") if isinstance(data, str) else data for file, data in made}


def chart(_: Tell, plan: Plan, rules: RuleSet, name: str) -> dict[str, Any]:
    """The run of a chart: verdicts of its claims about outputs, its pictures as SVG, and where its edges can be held.

    Edges are {"claim", "clause", "side", "output", "step", "least", "most", "top"}; steps from time 0, which lies at
    `zero` pixels, each `step` pixels wide.
    """
    from tickwright.charts import charts_of, edges_of
    from tickwright.publish import claims_drawing, claims_places, svg_text
    from tickwright.recording import record_chart

    run = record_chart(plan, name, rules)
    drawing, (axis, tops, _bottom) = claims_drawing(run), claims_places(run)
    top_of = {lane: top for (_, lane), top in tops.items()}
    edges = [
        {**edge._asdict(), "top": top_of[edge.output]}
        for edge in edges_of(charts_of(plan).chart(name).claims, run.verdict.played.timeline)
        if edge.output in top_of and edge.step + run.later_steps <= axis.stop
    ]
    zero = axis.x(run.later_steps)
    return {
        "verdicts": run.verdict.claims,
        "light": svg_text(drawing, "chart-light"),
        "dark": svg_text(claims_drawing(run, "dark"), "chart-dark"),
        "size": [drawing.width, drawing.height],
        "zero": zero,
        "step": axis.x(run.later_steps + 1) - zero,
        "edges": edges,
        "script": run.verdict.played.script,
    }


def policies(_: Tell, plan: Plan, rules: RuleSet, name: str) -> tuple[ClaimVerdict, ...]:
    """The verdicts of all claims of a chart, what a further press does tried at every step."""
    from tickwright.charts import check_charts

    return check_charts(plan, rules, only=name)[0].claims


def draft(_: Tell, plan: Plan, rules: RuleSet, name: str) -> Chart:
    """The chart of what a plan does now."""
    from tickwright.charts import draft_chart

    return draft_chart(plan, name=name, rules=rules).chart


JOBS: Mapping[str, Callable[..., Any]] = {
    "watch": watch,
    "race": race,
    "rank": rank,
    "export": export,
    "sheet": sheet,
    "judge": judge,
    "tries": tries,
    "shelf": shelf,
    "findings": findings,
    "reasons": reasons,
    "choose": choose,
    "compose": compose,
    "place": place,
    "tune": tune,
    "dossier": dossier,
    "prove": prove,
    "chart": chart,
    "policies": policies,
    "draft": draft,
    "ask": ask,
}
