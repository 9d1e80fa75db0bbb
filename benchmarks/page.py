"""The end of docs/performance.md: the table as a run of the benchmarks measured it, and how it stands to the goals."""

from __future__ import annotations

import datetime
import os
import platform
import re
import shutil
import statistics
import subprocess
from collections.abc import Sequence
from importlib.metadata import version
from pathlib import Path
from typing import NamedTuple

from bench_engines import BARE, CLOCKED, HEAP, ICARUS, SIMPY, VERILATOR, Row

PAGE = Path(__file__).resolve().parents[1] / "docs" / "performance.md"
PEERS = (ICARUS, BARE, CLOCKED, VERILATOR, SIMPY, HEAP)

BEGIN = "<!-- From here on written by `python dev.py bench --write`. -->"
CORE = "<!-- The next table is written by `python dev.py bench core --write`. -->"
PLACE = "<!-- The next table is written by `python dev.py bench place --write`. -->"
COMPOSE = "<!-- The next table is written by `python dev.py bench compose --write`. -->"
COMPOSE_HEAD = """\
## Composing briefs

Each brief is composed once, as `tickwright compose` does it, with the seed 0 (a random one with its own number). The
charts of the examples are held in both engines, under all rules that the brief names, in five orders of telling. What
the plan of a random brief shows is held step by step against the tables that the brief was written from, by code that
shares nothing with the package. Seconds are processor time, proof and judging included.
"""
PLACE_HEAD = """\
## Placing netlists

Each netlist is placed once, with the seed 0, as `tickwright place` does it. Cells are those of the box that holds the
plan. Seconds are processor time of all processes together. *exact*: a satisfiability solver fills a box; *row*: one
exact cell, again and again; *tiles*: tiles, annealing and router. What is called placed was played against the netlist:
the changes of inputs that were played, and whether these are all that there are.
"""
CORE_HEAD = """\
## What else takes time

Each figure has its peer in the same turn: the reference engine, the explorer of proofs in plain Python, or an idle
Python. Times are processor time; a processor shared with others runs slower, which the ratios bear better.
"""
# what a row begins with -> (what was aimed for, whether less is better, what limits it)
AIMS = {
    "a changed plan": (
        50.0,
        True,
        "in Python the cells are copied for each change, then all of them are laid and linked",
    ),
    "a piston's move": (100.0, True, ""),
    "200 hoppers": (0.5, True, "each item handed on looks at its container, the next one and who reads them"),
    "states": (2_000_000.0, False, "a state is copied for each list of presses, written down and looked up"),
    "a proof that remembers": (1_000_000.0, False, "each pair that is reached is written down and looked up"),
    "a million parts": (1.5, True, ""),
    "... memory": (150.0, True, ""),
    "`measure`": (0.12, True, "most of it is the import of Python modules"),
}

HEAD = """\
## How fast they are

The table is from one run of `python dev.py bench --write`. Read it as ratios: what each figure is compared
with was run in turn with it, on the same circuit, in the same minutes. All times are processor time of one core.
"""

HOW = """
### What is compared

- **Icarus, exported**: Icarus Verilog runs the file that `tickwright export` writes, with the parts of one step and
  priority left in any order, which spares it work. Its time is that of a longer run less that of a shorter one: loading
  is left out. It takes long to compile a large one (0.15 s for 500 parts that act, 0.7 s for 1,000, 5 s for 2,000 when
  this was set up), so over 3,000 it is not tried.
- **Icarus, bare delays**: a ring as registers that follow one another after a delay. No levels, no locks, no stretched
  pulses, no priorities: the least that an event-driven simulator can do for a ring.
- **Icarus, clocked** (and **Verilator**, where the machine has one): a ring as registers on one clock. That visits
  every part in every tick, whether it changes or not; the figure is for each change, and half the parts change.
- **SimPy** and a **Python heap** run the same parts on their event queues, one callback for each event.

An *event* is a part that is due and acts. The circuits are made by rule in `benchmarks/workloads.py`: a ring of
repeaters full of pulses of two ticks; tiles of comparators with flanks, repeaters that are locked, a torch and a
change-sensor, each with its own clock; one-shots made of a button, a chain of repeaters, a loop of comparators and a
lamp. Blocks count as parts, as they do in a plan.
"""


class Goal(NamedTuple):
    """What was aimed for, what came of it, whether that is enough, and if not, why."""

    aim: str
    found: str
    met: bool
    why: str


def write(rows: Sequence[Row], repeats: int, busy: str) -> Path:
    """Write the end of the page from the rows of one run; `busy` says what else ran meanwhile, "" for nothing.

    What more cores add to a busy machine says nothing, and is left out.
    """
    if busy:
        rows = [row for row in rows if "wall time" not in row.unit]
        busy += " What a second core adds was not measured for that reason."
    lines = [HEAD, machine(repeats, busy), "", *table(rows), HOW, "### Goals", "", *goals_table(goals(rows)), ""]
    above = PAGE.read_text(encoding="utf-8").partition(BEGIN)[0]
    PAGE.write_text("\n".join([above.rstrip(), "", BEGIN, "", *lines]), encoding="utf-8", newline="\n")
    return PAGE


def write_core(rows: Sequence[Row], repeats: int, busy: str) -> Path:
    """Write the table of what else takes time, before the table of the engines, from the rows of one run."""
    lines = [CORE, "", CORE_HEAD, machine(repeats, busy), "", *core_table(rows), ""]
    above, begin, engines = PAGE.read_text(encoding="utf-8").partition(BEGIN)
    above = above.partition(CORE)[0].rstrip()
    PAGE.write_text("\n".join([above, "", *lines, begin + engines]), encoding="utf-8", newline="\n")
    return PAGE


def write_place(rows: Sequence[Sequence[str]], busy: str) -> Path:
    """Write the table of placed netlists, before that of what else takes time, from the rows of one run."""
    names = ("netlist", "given", "way", "box", "cells", "parts", "settles in", "changes played", "processor")
    head = [f"| {' | '.join(names)} |", "|---" * len(names) + "|"]
    lines = [PLACE, "", PLACE_HEAD, machine(1, busy), "", *head, *(f"| {' | '.join(row)} |" for row in rows), ""]
    above, core, rest = PAGE.read_text(encoding="utf-8").partition(CORE)
    text = "\n".join([above.partition(PLACE)[0].rstrip(), "", *lines, core + rest])
    PAGE.write_text(text, encoding="utf-8", newline="\n")
    return PAGE


def write_compose(rows: Sequence[Sequence[str]], busy: str) -> Path:
    """Write the table of composed briefs, before that of placed netlists, from the rows of one run."""
    names = ("brief", "what came of it", "ground", "parts", "proof", "held", "processor")
    head = [f"| {' | '.join(names)} |", "|---" * len(names) + "|"]
    random = [row[1].partition(":")[0] for row in rows if row[0].startswith("random")]
    counts = ", ".join(f"{random.count(what)} {what}" for what in ("composed", "refused", "not laid", "wrong"))
    lines = [COMPOSE, "", COMPOSE_HEAD, machine(1, busy), "", f"Of {len(random)} random briefs: {counts}.", "", *head]
    lines += [*(f"| {' | '.join(row)} |" for row in rows), ""]
    above, place, rest = PAGE.read_text(encoding="utf-8").partition(PLACE)
    text = "\n".join([above.partition(COMPOSE)[0].rstrip(), "", *lines, place + rest])
    PAGE.write_text(text, encoding="utf-8", newline="\n")
    return PAGE


def core_table(rows: Sequence[Row]) -> list[str]:
    """The rows with our figure, how many times better it is than its peer's, and the goal."""
    lines = ["| what | unit | ours | against | goal |", "|---|---|---|---|---|"]
    for row in rows:
        ours = statistics.median(row.ours)
        ratios = ", ".join(f"{significant(row.ratio(peer))} × {peer}" for peer in row.peers)
        goal = "–"
        for begins, (aim, less, why) in AIMS.items():
            if row.what.startswith(begins):
                met = ours <= aim if less else ours >= aim
                goal = f"{significant(aim)}: {'met' if met else f'falls short: {why}'}"
        note = f" ({row.note})" if row.note else ""
        lines.append(f"| {row.what}{note} | {row.unit} | {significant(ours)} | {ratios} | {goal} |")
    return lines


def machine(repeats: int, busy: str) -> str:
    """Where and when the run was."""
    processor = re.search(r"model name\s*: (.*)", _text("/proc/cpuinfo"))
    icarus = ""
    icarus_path = shutil.which("iverilog")
    if icarus_path:
        said = subprocess.run([icarus_path, "-V"], capture_output=True, text=True, check=True).stdout
        icarus = ", " + " ".join(said.split()[:2] + said.split()[3:4])
    libraries = ", ".join(f"{name} {version(name)}" for name in ("simpy",))
    facts = [
        f"{datetime.datetime.now(datetime.UTC):%Y-%m-%d}",
        f"{platform.system()} {platform.machine()}, {os.cpu_count()} cores"
        + (f" ({processor[1]})" if processor else ""),
        f"Python {platform.python_version()}, {libraries}{icarus}",
        f"medians of {repeats} turns" if repeats > 1 else "one turn",
    ]
    return "Measured " + "; ".join(facts) + "." + (f" {busy}" if busy else "")


def _text(path: str) -> str:
    return Path(path).read_text(encoding="utf-8") if Path(path).exists() else ""


def table(rows: Sequence[Row]) -> list[str]:
    """The rows with our figure, and for each peer how many times better ours is."""
    peers = [peer for peer in PEERS if any(peer in row.peers for row in rows)]
    lines = [f"| what | unit | ours | {' | '.join(f'against {peer}' for peer in peers)} |"]
    lines.append("|---" * 3 + "|---" * len(peers) + "|")
    for row in rows:
        ratios = [f"{significant(row.ratio(peer))} ×" if peer in row.peers else "–" for peer in peers]
        ours = significant(statistics.median(row.ours))
        lines.append(
            f"| {row.what}{f' ({row.note})' if row.note else ''} | {row.unit} | {ours} | {' | '.join(ratios)} |"
        )
    return lines


def significant(number: float) -> str:
    """A number to three figures, without powers of ten.

    >>> significant(1234567.0), significant(0.012345), significant(9.876)
    ('1,230,000', '0.0123', '9.88')
    """
    if number >= 100:
        digits = len(str(round(number))) - 3
        return f"{round(number, -digits):,.0f}"
    return f"{number:.3g}"


def goals(rows: Sequence[Row]) -> list[Goal]:
    """The goals, as far as the rows speak of them."""
    by = {row.what: row for row in rows}
    ours = {row.what: statistics.median(row.ours) for row in rows}
    found = []
    for peer, aim in (
        (ICARUS, "8 × Icarus on everything active, on the exported circuit"),
        (BARE, "... on bare delays"),
    ):
        ratios = [row.ratio(peer) for row in rows if row.unit == "ns an event" and peer in row.peers]
        if ratios:
            text = f"{significant(min(ratios))} × to {significant(max(ratios))} ×"
            found.append(Goal(aim, text, min(ratios) >= 8, WHY_BARE))
    for ring, aim in (("ring, 1,118 parts", 10), ("ring, 101,302 parts", 20)):
        text = f"{aim} ns an event on a {ring}"
        if ring in by:
            found.append(Goal(text, f"{significant(ours[ring])} ns", ours[ring] <= aim, WHY_EVENT))
    idle = [row for row in rows if row.unit == "µs a tick"]
    if len(idle) > 1:
        ticks = [ours[row.what] for row in idle]
        text = " and ".join(f"{significant(tick)} µs" for tick in ticks) + " a tick"
        why = "the larger plan no longer fits into the processor's cache"
        found.append(Goal("idle parts cost nothing, however many", text, ticks[-1] < 1.5 * ticks[0], why))
    for part, least, aim, why in (
        ("small loops", 250_000, "250,000 different small loops a second on one core", WHY_LOOPS),
        ("trigger lengths", 25_000_000, "25 million runs a second on one core", WHY_LENGTHS),
    ):
        found += [Goal(aim, significant(ours[what]), ours[what] >= least, why) for what in by if part in what]
    for what in by:
        if what.startswith("file to first step"):
            text = f"{significant(ours[what])} s"
            found.append(Goal("100,000 parts from file to first step in 0.3 s", text, ours[what] <= 0.3, WHY_FILE))
    return found


WHY_BARE = (
    "each event here also looks at locks and levels, orders itself by priority, and tells all who hear; a bare delay "
    "only follows"
)
WHY_EVENT = "each event looks at locks and levels, takes its place among those of its step, and tells all who hear"
WHY_LOOPS = "a run of a small loop is some fifty events, and each run begins with a start of its own"
WHY_LENGTHS = (
    "lengths shorter than the time to rest while held are each run by themselves, from a copy of the held run on"
)
WHY_FILE = "the file is read into a Python object a cell, and packed for the engine from these"


def goals_table(found: Sequence[Goal]) -> list[str]:
    """What was aimed for and what came of it, with the reason where it falls short."""
    lines = ["| goal | found | |", "|---|---|---|"]
    return lines + [
        f"| {goal.aim} | {goal.found} | {'met' if goal.met else f'falls short: {goal.why}'} |" for goal in found
    ]
