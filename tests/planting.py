"""Plant mistakes and find them by asking: `python dev.py plant [--mistakes N] [--wrong 0.1] [--yes-no] [--seed S]`.

The circuits are no examples: the chooser's designs for holds that no example has, and some drawn below. The planter
knows nothing of the universe that `diagnose --ask` thinks of: it has its own list of what builders do, and plants only
what they would notice: an output that holds otherwise, by more than a stopwatch is off, or does something else.
Answers come from the reference engine and a hand that is up to 0.2 s early or late; with `--wrong`, that share of them
is wrong; with `--yes-no` the builder never says what is otherwise in a row, only that it does or does not look so.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import NamedTuple

from tickwright import Plan, Wish, choose, loads, run
from tickwright.diagnosis.asking import Conversation
from tickwright.diagnosis.asking.questions import BEFORE, Question
from tickwright.errors import TickwrightError
from tickwright.kinds import PARTS, Part, parse_part
from tickwright.plan import Stimulus
from tickwright.plan.cells import with_changes
from tickwright.plan.hand import default_act
from tickwright.plan.validate import validate
from tickwright.rules import load_rules
from tickwright.space import Cell

ROOT = Path(__file__).resolve().parents[1]
SETTLED = 400
HOLDS = (34, 46, 68, 90, 140)
SORTS = ("knob", "knob", "knob", "turn", "turn", "left out", "other", "other", "neighbour", "extra", "row")
HEAD, LEGEND = 'format = "tickwright plan 1"\n', '"#" = "block"\nw = "wire"\nL = "lamp"\n'
DRAWN = {
    "two lamps": """
layer = [{rows = "#######\\n..#....\\n..####."}, {rows = "bww3w>L\\n..2....\\n..wr>L."}]
triggers = {press = [0, 0, 1]}
outputs = {near = [6, 0, 1], far = [5, 2, 1]}
[legend]
b = "short-button"
r = "repeater east"
3 = "repeater east delay=3"
2 = "repeater south delay=2"
">" = "comparator east"
""",
    "set and reset": """
layer = [{rows = ".########\\n###.#....\\n..###...."}, {rows = ".brwwwwL.\\nbrf.w....\\n..www...."}]
triggers = {set = [1, 0, 1], reset = [0, 1, 1]}
outputs = {lamp = [7, 0, 1]}
[legend]
b = "short-button"
r = "repeater east"
f = "comparator north mode=difference"
""",
    "inverter and gate": """
layer = [{rows = "########\\n.....#..\\n..####.."}, {rows = "bw#twdwL\\n.....n..\\n..vwww.."}]
triggers = {press = [0, 0, 1], hold = [2, 2, 1]}
outputs = {lamp = [7, 0, 1]}
[legend]
v = "lever"
b = "short-button"
r = "repeater east"
t = "torch on=west"
d = "comparator east mode=difference"
n = "repeater north"
""",
    "edge by a sensor": """
layer = [{rows = "#######"}, {rows = "vs2w4wL"}]
triggers = {go = [0, 0, 1]}
outputs = {lamp = [6, 0, 1]}
[legend]
v = "lever"
s = "change-sensor east"
2 = "repeater east delay=2"
4 = "repeater east delay=4"
""",
    "piston and lamp": """
layer = [{rows = "#######\\n....#.."}, {rows = "bwroP.L\\n......."}]
triggers = {press = [0, 0, 1]}
outputs = {lamp = [6, 0, 1]}
[legend]
b = "short-button"
r = "repeater east delay=2"
o = "pull-piston east"
P = "power-block"
""",
    "ejector and hopper": """
layer = [{rows = "####\\n..#.\\n..#.\\n..#.\\n..#."}, {rows = "begC\\n..c.\\n..w.\\n..r.\\n..L."}]
triggers = {press = [0, 0, 1]}
outputs = {lamp = [2, 4, 1]}
[legend]
b = "short-button"
e = "ejector east items=5"
g = "hopper into=east"
C = "crate"
c = "comparator south"
r = "repeater south delay=3"
""",
    "long taps": """
layer = [{rows = "#######\\n.#.#...\\n.#.#...\\n.###..."}, {rows = "bwrwewL\\n.s.n...\\n.s.n...\\n.www..."}]
triggers = {press = [0, 0, 1]}
outputs = {lamp = [6, 0, 1]}
[legend]
b = "long-button"
r = "repeater east"
e = "repeater east delay=4"
n = "repeater north delay=3"
s = "repeater south delay=3"
""",
}


class Planted(NamedTuple):
    """A circuit as built: the plan, the cells that hold something else, and the steps a second of the world."""

    name: str
    plan: Plan
    changes: dict[Cell, Part | None]
    rate: int = 20

    @property
    def built(self) -> Plan:
        """The plan as built."""
        return replace(self.plan, cells=with_changes(self.plan.cells, self.changes))


@cache
def circuits() -> dict[str, Plan]:
    """The circuits, by name."""
    found = {name: loads(HEAD + text + LEGEND) for name, text in DRAWN.items()}
    for hold in HOLDS:
        for design in choose(Wish(hold_steps=hold)).designs:
            found[f"{design.family}, {hold / 20:g} s, {design.parts} parts"] = design.plan
    return found


# --- what builders do ----------------------------------------------------------------------------------------------


def slips(plan: Plan, draw: random.Random) -> Iterator[dict[Cell, Part | None]]:
    """Mistakes as builders make them, one after another for ever; many of them cannot stand, or change nothing."""
    cells = sorted(plan.cells)
    working = [cell for cell in cells if plan.cells[cell].kind not in ("block", "insulator")]
    while True:
        cell = draw.choice(working if draw.random() < 0.85 else cells)
        part = plan.cells[cell]
        what = draw.choice(SORTS)
        if what == "knob" and part.kind == "repeater":
            yield {cell: part._replace(delay=draw.choice([n for n in (1, 2, 3, 4) if n != part.delay]))}
        elif what == "knob" and part.kind == "comparator":
            yield {cell: part._replace(mode="difference" if part.mode == "threshold" else "threshold")}
        elif what == "knob" and part.items:
            yield {cell: part._replace(items=max(part.items + draw.choice((-8, -3, -2, -1, 1, 2, 3, 6)), 0))}
        elif what == "turn" and PARTS[part.kind].directions:
            ways = [way for way in PARTS[part.kind].directions if way != part.facing]
            yield {cell: part._replace(facing=draw.choice(ways))}
        elif what == "left out":
            yield {cell: None}
        elif what == "other":
            yield {cell: _another(part, draw)}
        elif what == "neighbour":
            x, y, z = cell
            other = draw.choice(((x + 1, y, z), (x, y + 1, z)))
            if other in plan.cells and plan.cells[other] != part:
                yield {cell: plan.cells[other], other: part}
        elif what == "extra":
            x, y, z = cell
            free = draw.choice(((x, y + 1, z), (x, y - 1, z), (x + 1, y, z), (x - 1, y, z), (x, y, z + 1)))
            if free not in plan.cells:
                yield {free: Part(draw.choice(("wire", "wire", "block", "insulator", "power-block")))}
        elif what == "row":
            row = [one for one in cells if one[1:] == cell[1:]]
            if len(row) > 1 and not {*row} & {*plan.triggers.values(), *plan.outputs.values()}:
                by = draw.choice((-1, 1))
                after: dict[Cell, Part | None] = dict.fromkeys(row)
                after |= {(x + by, y, z): plan.cells[x, y, z] for x, y, z in row}
                yield {one: there for one, there in after.items() if there != plan.cells.get(one)}


def _another(part: Part, draw: random.Random) -> Part:
    """Another part: mostly one that is taken for it, else any."""
    taken_for = {
        "repeater": "comparator", "comparator": "repeater",
        "short-button": "long-button", "long-button": "short-button",
        "piston": "pull-piston", "pull-piston": "piston", "block": "insulator", "insulator": "block",
        "wire": "repeater", "item-plate": "tread-plate", "hopper": "ejector", "crate": "hopper",
    }  # fmt: skip
    kind = taken_for.get(part.kind, "block")
    if draw.random() < 0.3:
        kind = draw.choice([name for name in PARTS if name != part.kind])
    row = PARTS[kind]
    if not row.directions:
        return parse_part(kind)
    return Part(kind, part.facing if part.facing in row.directions else draw.choice(row.directions))


def planted(number: int, seed: str, only: str | None = None) -> list[Planted]:
    """So many circuits with a mistake each, always the same for a seed."""
    draw = random.Random(seed)
    names = sorted(name for name in circuits() if only is None or only in name)
    found: list[Planted] = []
    while len(found) < number:
        name = names[len(found) % len(names)]
        plan = circuits()[name]
        own = noticed(plan)
        if draw.random() < 0.03:
            found.append(Planted(name, plan, {}, draw.choice((8, 10, 12, 15))))
            continue
        for changes in slips(plan, draw):
            one = Planted(name, plan, changes)
            if _works(one.built) and differs(own, noticed(one.built)):
                found.append(one)
                break
    return found


def _works(plan: Plan) -> bool:
    """Whether it can stand, and its triggers are there to be worked."""
    try:
        validate(plan, load_rules(plan.rules))
    except TickwrightError:
        return False
    there = [plan.cells.get(cell) for cell in plan.triggers.values()]
    return all(part is not None and default_act(part.kind) for part in there)


Noticed = dict[tuple[str, str], tuple[bool, int, int, int]]


def noticed(plan: Plan) -> Noticed:
    """For each trigger and output: on before, how often on, the time from first on to last off, on at the end."""
    found = {}
    for name, cell in plan.triggers.items():
        verb = str(default_act(plan.cells[cell].kind))
        trace = run(plan, [Stimulus(SETTLED, cell, verb)], SETTLED + 700, engine="reference").trace
        for output in plan.outputs:
            before = trace.value_at(output, SETTLED - 1) > 0
            on = [(step, value > 0) for step, value in trace.changes_of(output) if step >= SETTLED]
            edges = [
                step for (step, now), was in zip(on, [before, *(now for _, now in on)], strict=False) if now != was
            ]
            span = edges[-1] - edges[0] if edges else 0
            found[name, output] = (before, len(edges), span, edges[0] - SETTLED if edges else 0)
    return found


def differs(own: Noticed, now: Noticed) -> bool:
    """Whether a builder with a stopwatch notices it."""
    return any(
        one[:2] != now[key][:2] or abs(one[2] - now[key][2]) > 4 or abs(one[3] - now[key][3]) > 4
        for key, one in own.items()
    )


# --- who answers ---------------------------------------------------------------------------------------------------


class Builder:
    """Somebody before the build, who looks and measures as people do."""

    def __init__(self, build: Planted, draw: random.Random, wrong: float = 0.0, yes_no: bool = False) -> None:
        self.build, self.draw, self.wrong, self.yes_no = build, draw, wrong, yes_no
        self.built = build.built

    def answer(self, talk: Conversation) -> str:
        """What is answered to the question that stands."""
        question = talk.question
        assert question is not None
        errs = self.draw.random() < self.wrong
        if question.kind == "mended":
            return "yes"
        if question.kind == "stands":
            part = (self.build.plan if errs else self.built).cells.get(question.cells[0])
            return str(part) if part else "nothing"
        if question.kind == "row":
            here = [cell for cell in {*self.built.cells, *self.build.plan.cells} if _asked(question, cell)]
            same = all(self.built.cells.get(cell) == self.build.plan.cells.get(cell) for cell in here)
            if same or errs or self.yes_no:
                return "yes" if same != errs else "no"
            return self._otherwise(sorted(here))
        if question.kind == "extra":
            there = [(cell, part) for cell, part in self.built.cells.items() if cell not in self.build.plan.cells]
            return ", ".join(f"{x},{y},{z} {part}" for (x, y, z), part in there * (not errs)) or "no"
        if question.kind == "world":
            text = talk.round.question or ""
            return "yes" if f"about {self.build.rate} steps" in text and self.build.rate != 20 else "no"
        return self._seen(talk, question, errs)

    def _otherwise(self, cells: list[Cell]) -> str:
        """What is otherwise in a row: named where it is one part or two, else that it does not look so."""
        wrong = [cell for cell in cells if self.built.cells.get(cell) != self.build.plan.cells.get(cell)]
        if len(wrong) > 2:
            return "no"
        return ", ".join(f"{x},{y},{z} {self.built.cells.get((x, y, z)) or 'nothing'}" for x, y, z in wrong)

    def _seen(self, talk: Conversation, question: Question, errs: bool) -> str:
        acts = talk.stage.scripts[question.script].acts
        stimuli = []
        for step, name, act in acts:
            cell = self.built.triggers[name]
            stimuli.append(Stimulus(SETTLED + step, cell, act or str(default_act(self.built.cells[cell].kind))))
        off = self.draw.randint(-4, 4)
        if question.kind == "times":
            return self._times(stimuli, question, off + self.draw.choice((-30, 30)) * errs, acts[-1][0])
        at = SETTLED - 1
        if question.at_steps != BEFORE:
            at = SETTLED + (acts[-1][0] + question.at_steps + off) * self.build.rate // 20
        watch = {str(cell): cell for cell in question.cells if cell in self.built.cells}
        trace = run(self.built, stimuli, at + 1, watch=watch, engine="reference").trace
        if question.kind == "level":
            name = str(question.cells[0])
            return str(trace.value_at(name, at) if name in watch else 0)
        dark = ("block", "insulator", "power-block", "hopper", "ejector", "crate")
        lit = {
            cell
            for cell in question.cells
            if str(cell) in watch and self.built.cells[cell].kind not in dark and trace.value_at(str(cell), at)
        }
        if errs:
            lit ^= {*self.draw.sample(question.cells, min(self.draw.randint(1, 3), len(question.cells)))}
        return " ".join(f"{x},{y},{z}" for x, y, z in sorted(lit)) or "none"

    def _times(self, stimuli: list[Stimulus], question: Question, off: int, last: int) -> str:
        trace = run(self.built, stimuli, SETTLED + last + 900, engine="reference").trace
        before = trace.value_at(question.output, SETTLED - 1) > 0
        steps = [(step, value > 0) for step, value in trace.changes_of(question.output) if step >= SETTLED]
        edges, now = [], before
        for step, on in steps:
            if on != now:
                edges.append(step)
                now = on
        if not edges:
            return "on all the time" if before else "never on"
        if len(edges) > 7 and edges[-1] > SETTLED + last + 800:
            return "pulses for ever"
        if len(edges) % 2:
            return "stays off" if before else "stays on"
        hold = max((edges[-1] - edges[0]) * 20 // self.build.rate + off, 1)
        if before:
            return f"off for {hold} steps"
        return f"{len(edges) // 2} pulse{'s' * (len(edges) > 2)}, {hold} steps"


def _asked(question: Question, cell: Cell) -> bool:
    """Whether a cell lies in the row, the column or the part of it that is asked about."""
    first, last = question.cells[0], question.cells[-1]
    along = 1 if "column" in question.output else 0
    if (cell[1 - along], cell[2]) != (first[1 - along], first[2]):
        return False
    return "part" not in question.output or first[along] <= cell[along] <= last[along]


class Told(NamedTuple):
    """How one conversation went: after which answers the place, and the very mistake, stood first (1 to 4 kept)."""

    build: Planted
    place: list[bool]
    exact: list[bool]
    questions: list[str]
    done: bool
    start_seconds: float
    round_seconds: float

    @property
    def first_right(self) -> int:
        """After how many answers the right place stood first for good; 99 if it did not."""
        for number in range(len(self.place)):
            if all(self.place[number:]):
                return number + 1
        return 99


def converse(build: Planted, seed: str, wrong: float = 0.0, yes_no: bool = False, most: int = 4) -> Told:
    """Ask and answer, until it is confirmed or so many questions were answered."""
    begun = time.process_time()
    talk = Conversation(build.plan)
    started = time.process_time()
    builder = Builder(build, random.Random(seed), wrong, yes_no)
    place, exact, questions = [], [], []
    while len(place) < most and talk.question is not None and talk.question.kind != "mended":
        questions.append(talk.question.kind)
        talk.answer(builder.answer(talk))
        top = max(range(len(talk.suspects)), key=talk.chances().__getitem__)
        suspect = talk.suspects[top]
        changed = dict(suspect.changes)
        world = build.rate != 20 and suspect.rate is not None
        place.append(world or bool(set(changed) & set(build.changes)))
        exact.append((world and suspect.rate == build.rate) or (bool(changed) and changed == build.changes))
    took = (time.process_time() - started) / max(len(place), 1)
    done = talk.round.done
    place += [place[-1]] * (most - len(place))
    exact += [exact[-1]] * (most - len(exact))
    return Told(build, place, exact, questions, done, started - begun, took)


def main() -> int:
    """Plant and find; 1 if fewer are found than are promised."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--mistakes", type=int, default=200, help="how many are planted")
    parser.add_argument("--wrong", type=float, default=0.0, help="the share of answers that are wrong")
    parser.add_argument("--yes-no", action="store_true", help="a row is only told right or wrong")
    parser.add_argument("--seed", default="planted", help="other mistakes for other words")
    parser.add_argument("--only", default=None, help="circuits with this in their names")
    parser.add_argument("--show", action="store_true", help="tell of each that was not found")
    given = parser.parse_args()
    told = []
    for number, build in enumerate(planted(given.mistakes, given.seed, given.only)):
        one = converse(build, f"{given.seed} {number}", given.wrong, given.yes_no)
        told.append(one)
        if given.show and not (one.place[3] and one.exact[3]):
            changes = {cell: str(part) for cell, part in build.changes.items()}
            was = {cell: str(build.plan.cells.get(cell)) for cell in build.changes}
            print(f"{build.name}: {was} -> {changes} {build.rate}; {one.place} {one.exact} {one.questions}", flush=True)
    print(summary(told))
    return 0


def summary(told: list[Told]) -> str:
    """The figures in words."""
    count = len(told)
    places = [sum(one.place[k] for one in told) for k in range(4)]
    exact = sum(one.exact[3] for one in told)
    median = sorted(one.first_right for one in told)[count // 2]
    start = sorted(one.start_seconds for one in told)
    rounds = sorted(one.round_seconds for one in told)
    return (
        f"{count} mistakes; right place first after 1, 2, 3, 4 answers: {places}; the very mistake after 4: {exact}; "
        f"right place first after (median) {median}; confirmed within 4: {sum(one.done for one in told)}; seconds of "
        f"CPU: start {start[count // 2]:.2f} (most {start[-1]:.2f}), a question {rounds[count // 2]:.2f} "
        f"(most {rounds[-1]:.2f})"
    )


if __name__ == "__main__":
    sys.exit(main())
