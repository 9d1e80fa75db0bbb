"""How long the sheet of a plan of about 300 parts takes, without films, and a film of it: whole commands and parts.

The plan is eleven loops of eight side by side, of which the first is pressed. The peer is the dossier alone
(`gather`), in the same process: what is over it is recording, diagnosis, pictures, page and PDF. Commands are measured
whole, each in a process of its own with the start of Python; that of the film with the encoder's time.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from itertools import islice
from pathlib import Path

from bench_cold_measure import summed
from run import Result

from tickwright import Plan, gather, load
from tickwright.material import MOST_ACTIVE_STEPS, gather_material
from tickwright.plan import repeat, save
from tickwright.publish import Style, make_sheet

LOOP = Path(__file__).resolve().parents[1] / "examples" / "flat-loop-8.toml"
WHAT = ("sheet", "-o", "sheet"), ("export", "--mp4", "-o", "film.mp4")


def measure(repeats: int) -> list[Result]:
    """Make the sheet and the dossier in turn, after one unmeasured round; the time of the process counts."""
    plan = three_hundred()
    seconds: dict[str, list[float]] = {"sheet": [], "dossier": []}
    for round_number in range(repeats + 1):
        for name, make in (("sheet", sheet), ("dossier", dossier)):
            start = time.process_time()
            make(plan)
            if round_number:
                seconds[name].append(time.process_time() - start)
    with tempfile.TemporaryDirectory() as folder:
        command, film = ([command_seconds(plan, Path(folder), what) for _ in range(repeats + 1)][1:] for what in WHAT)
    ratios = [whole / part for whole, part in zip(seconds["sheet"], seconds["dossier"], strict=True)]
    parts = len(plan.cells)
    return [
        summed(f"tickwright sheet, {parts} parts, without films", command, "s"),
        summed(f"tickwright export --mp4, {parts} parts", film, "s"),
        summed(f"sheet, {parts} parts, without films", seconds["sheet"], "s"),
        summed(f"dossier alone, {parts} parts", seconds["dossier"], "s"),
        summed("ratio of sheet to dossier", ratios, "times"),
    ]


def three_hundred() -> Plan:
    """Eleven loops side by side, three cells apart; the names of the first alone."""
    row = repeat(load(LOOP), "y", 11, 3)
    names = dict(islice(row.triggers.items(), 1)), dict(islice(row.outputs.items(), 2))
    return replace(row, triggers=names[0], outputs=names[1], expectations=(), charts=())


def command_seconds(plan: Plan, folder: Path, what: tuple[str, ...]) -> float:
    """The seconds of processors that one run of a command takes, its modules compiled by an earlier one."""
    save(plan, folder / "plan.toml")
    words = [sys.executable, "-m", "tickwright", what[0], "plan.toml", *what[1:]]
    own = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(words, cwd=folder, env=own, check=True, stdout=subprocess.DEVNULL)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def sheet(plan: Plan) -> None:
    """All files of the sheet."""
    assert all(content for _, content in make_sheet(gather_material(plan), Style()))


def dossier(plan: Plan) -> None:
    """The dossier as a sheet asks for it."""
    gather(plan, most_active_steps=MOST_ACTIVE_STEPS)
