"""Lay siege to what must not break: kill it, fill its disk, press Ctrl-C at random, feed it files that are wrong.

Usage: python dev.py siege [--minutes N] [--only sort,...] [--seed N] [--processes N] [--write]

Turns go round in each process: a sweep, a workbench's document and a whole workbench with an open page, each killed on
a healthy and on a full disk;
Ctrl-C at a random moment of a random command; plan files with their charts and machines, briefs and rule sets, mutated.
It ends when each sort has reached its number or the time is over, whichever comes first. What broke is kept in a folder
that it names, and the exit code is 1. `--write` writes the counts into docs/accuracy.md. Ctrl-C ends it early and says
what was done.
"""

from __future__ import annotations

import argparse
import asyncio
import datetime
import multiprocessing
import os
import random
import secrets
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NamedTuple

sys.path.insert(0, str(Path(__file__).parent))
from at_the_bench import free_port
from pressing import Program
from tabs import Tab
from tickwright.charts import charts_of
from tickwright.design.compose import read_brief
from tickwright.errors import TickwrightError
from tickwright.plan import dumps, loads
from tickwright.rules import load_rules
from tickwright.workbench.document import Document

ROOT = Path(__file__).resolve().parents[1]
EXAMPLES = ROOT / "examples"
PAGE = ROOT / "docs" / "accuracy.md"
BEGIN, END = "<!-- siege: begin -->", "<!-- siege: end -->"
BATCH = 500  # mutated files in one turn
PROCESSES = 2
SAID_SECONDS = 10.0
SMALL_DISK = "256k"
LONGEST_WAIT_SECONDS = 4.0
MOST_SENT = 2000
LATE_WORDS = 3  # a page is told of an edit before it is told that it is not kept; some more may be on their way
SWEEP = ["sweep", EXAMPLES / "hopper-clock.toml", "--do", "60..2060:run", "--for", "4000 steps", "--workers", "2"]
COMMANDS: list[list[object]] = [
    ["parts"],
    ["measure", EXAMPLES / "hour-counter.toml", "--full"],
    ["check", *sorted(EXAMPLES.glob("*.toml"))],
    ["compare", *sorted(EXAMPLES.glob("*.toml"))],
    ["diagnose", EXAMPLES / "hour-counter.toml"],
    ["diagnose", EXAMPLES / "hopper-clock.toml", "--what-if"],
    ["diagnose", EXAMPLES / "hopper-clock.toml", "--observed", "hold 8.5 s", "--pairs"],
    ["prove", EXAMPLES / "taps-loop.toml", "--claim", "settles", "--states", "10000000"],
    ["choose", "--hold", "40 s"],
    ["tune", EXAMPLES / "flat-loop-8.toml", "--hold", "7 s"],
    ["export", EXAMPLES / "hour-counter.toml", "--svg", "-o", "picture.svg"],
    ["sheet", EXAMPLES / "hopper-clock.toml", "-o", "sheet"],
    ["run", EXAMPLES / "hopper-clock.toml", "--do", "0:run", "--for", "20 h"],
    [*SWEEP, "--into", "r.sqlite"],
    ["why", EXAMPLES / "hopper-clock.toml"],
    ["chart", EXAMPLES / "two-keys.toml"],
    ["place", EXAMPLES / "netlists" / "c17.blif", "--save", "placed"],
    ["compose", EXAMPLES / "briefs" / "beacon.toml", "--save", "composed"],
    ["workbench", "--no-browser"],
]

# Makes edit after edit in a document and says the number of each that is kept, or that one is not.
EDITOR = """
import sys
from pathlib import Path
from tickwright.kinds import parse_part
from tickwright.plan import lay
from tickwright.workbench.document import Document
document = Document.open(Path(sys.argv[1]))
done = 0
while True:
    cell = (done % 100, done // 100 % 100, done // 10000)
    document.change("place", lambda plan: lay(plan, {cell: parse_part("block")}))
    done += 1
    print(done if not document.not_kept else f"not kept {done}", flush=True)
"""


class Broken(Exception):
    """Something that must not happen, in words."""


class Sort(NamedTuple):
    """What is done: a turn gives True each time that one of it is done; so many in a turn, and so many in all."""

    turn: Callable[[Path, random.Random, int], Iterator[bool]]
    in_a_turn: int
    most: int


class Tally:
    """What all processes have begun and done, and what broke."""

    def __init__(self, chosen: list[str], share: float) -> None:
        context = multiprocessing.get_context("fork")
        self.most = {sort: max(1, round(SORTS[sort].most * share)) for sort in chosen}
        self._lock = context.Lock()
        self._begun = {sort: context.Value("q", 0) for sort in chosen}
        self.done: dict[str, Any] = {sort: context.Value("q", 0) for sort in chosen}
        self._broken = context.SimpleQueue()
        self.failures: list[str] = []

    def begin(self, sort: str) -> int:
        """How many of a sort to do in a turn that begins now; 0 if there are enough."""
        with self._lock:
            begun = self._begun[sort]
            size = min(SORTS[sort].in_a_turn, self.most[sort] - begun.value)
            begun.value += size
            return size

    def count(self, sort: str) -> None:
        """One more is done."""
        with self.done[sort].get_lock():
            self.done[sort].value += 1

    def fail(self, said: str) -> None:
        """One broke, as said."""
        self._broken.put(said)

    def hear(self) -> None:
        """Take over what the processes said that broke."""
        while not self._broken.empty():
            self.failures.append(self._broken.get())

    def counts(self) -> dict[str, int]:
        """How many of each sort are done, if any."""
        return {sort: done.value for sort, done in self.done.items() if done.value}


def main() -> int:
    """Lay siege, and return the exit code."""
    parser = argparse.ArgumentParser(prog="python dev.py siege", description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("--minutes", type=float, default=30.0, help="begin no new turn after so many minutes [30]")
    parser.add_argument("--only", default=",".join(SORTS), help="the sorts to do, by commas [all]")
    parser.add_argument("--share", type=float, default=1.0, help="do this share of the numbers [1]")
    parser.add_argument("--processes", type=int, default=PROCESSES, help=f"so many at once [{PROCESSES}]")
    parser.add_argument("--seed", type=int, default=secrets.randbelow(2**32), help="of all that is random [by chance]")
    parser.add_argument("--write", action="store_true", help="write the counts into docs/accuracy.md")
    options = parser.parse_args()
    chosen = options.only.split(",")
    unknown = set(chosen) - set(SORTS)
    if unknown:
        parser.error(f"there is no {', '.join(sorted(unknown))}: choose from {', '.join(SORTS)}")
    print(f"the seed is {options.seed}", flush=True)
    tally = Tally(chosen, options.share)
    started = time.monotonic()
    code = besiege(tally, started + options.minutes * 60, options.seed, max(1, options.processes))
    minutes = (time.monotonic() - started) / 60
    print(line(tally, minutes))
    if options.write and not code:
        write(tally, minutes, options.seed)
    return code or (1 if tally.failures else 0)


def besiege(tally: Tally, end: float, seed: int, count: int) -> int:
    """Let so many processes take turns until all is done; the exit code, 130 after Ctrl-C."""
    context = multiprocessing.get_context("fork")
    processes = [context.Process(target=turns, args=(tally, end, random.Random(f"{seed} {n}"))) for n in range(count)]
    for process in processes:
        process.start()
    code, said = 0, time.monotonic()
    while any(process.is_alive() for process in processes):
        try:
            for process in processes:
                process.join(0.5)
            tally.hear()
            if time.monotonic() - said > SAID_SECONDS:
                said = time.monotonic()
                print(line(tally, None), flush=True)
        except KeyboardInterrupt:  # the processes got it, too
            print("\nended early", flush=True)
            code = 130
    tally.hear()
    ended = [process.exitcode for process in processes if process.exitcode]
    if ended and not code:
        tally.failures.append(f"processes of the siege ended with {', '.join(map(str, ended))}")
    return code


def turns(tally: Tally, end: float, chance: random.Random) -> None:
    """A turn of each sort after another, until the time is over, all have reached their number or Ctrl-C is pressed."""
    left = list(tally.most)
    try:
        while left and time.monotonic() < end:
            for sort in list(left):
                size = tally.begin(sort)
                if not size:
                    left.remove(sort)
                elif time.monotonic() < end:
                    take_turn(tally, sort, size, chance)
    except KeyboardInterrupt:
        pass


def take_turn(tally: Tally, sort: str, size: int, chance: random.Random) -> None:
    """One turn in a folder of its own; each one that is done counts at once, and one that broke, too."""
    with tempfile.TemporaryDirectory(prefix="siege-", ignore_cleanup_errors=True) as name:
        folder = Path(name)
        try:
            for _ in SORTS[sort].turn(folder, chance, size):
                tally.count(sort)
        except Exception as error:  # noqa: BLE001 - whatever it is, it must not happen
            tally.count(sort)
            tally.fail(keep(folder, sort, error))


def keep(folder: Path, sort: str, error: Exception) -> str:
    """Keep what broke, and say so."""
    goal = Path(tempfile.gettempdir()) / f"siege-{sort.replace(' ', '-')}-{secrets.token_hex(4)}"
    shutil.copytree(folder, goal, ignore=shutil.ignore_patterns("small"))
    text = "".join(traceback.format_exception(error))
    (goal / "what-broke.txt").write_text(text, encoding="utf-8")
    said = f"{sort}: {str(error)[:300] or type(error).__name__}; kept in {goal}"
    print(said, flush=True)
    return said


def line(tally: Tally, minutes: float | None) -> str:
    """What was done so far, in one line."""
    counts = ", ".join(f"{done:,} of {tally.most[sort]:,} {sort}" for sort, done in tally.counts().items())
    took = f" in {minutes:.1f} minutes" if minutes is not None else ""
    return f"{counts or 'nothing done'}{took}; {len(tally.failures)} failed"


# --- killed ----------------------------------------------------------------------------------------------------------


@contextmanager
def small_disk(folder: Path) -> Iterator[Path]:
    """A file system with hardly any room, on which most of it is taken. Needs leave to mount."""
    small = folder / "small"
    small.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", f"size={SMALL_DISK}", "tmpfs", str(small)]
    subprocess.run(mount, check=True, capture_output=True)
    try:
        yield small
    finally:
        subprocess.run(["umount", "--lazy", str(small)], check=True)


def sweep_killed(folder: Path, chance: random.Random, _: int) -> Iterator[bool]:
    """Kill a sweep: what it had recorded is there and whole, and no worker is left."""
    file = folder / "r.sqlite"
    program = Program(*SWEEP, "--into", file)
    program.until(2)
    time.sleep(chance.uniform(0, LONGEST_WAIT_SECONDS))
    before = rows(file)
    ended = program.press(signal.SIGKILL, alone=True)
    after = rows(file)
    if ended.left:
        raise Broken(f"{len(ended.left)} processes were left running")
    if not before <= after:
        raise Broken(f"{len(before - after)} rows are gone")
    yield True


def sweep_on_a_full_disk(folder: Path, chance: random.Random, _: int) -> Iterator[bool]:
    """Sweep until the disk is full: one message, exit code 2, what was recorded is there and can be read."""
    with small_disk(folder) as small:
        file = small / "r.sqlite"
        ended = Program(*SWEEP, "--into", file).wait()
        said = ended.err.strip()
        if ended.code != 2 or "\n" in said or str(file) not in said or ended.left:
            raise Broken(f"exit code {ended.code}, {len(ended.left)} left, said: {said[-400:]}")
        if not rows(file):
            raise Broken("no row is left")
    yield True


def rows(file: Path) -> set[tuple[str, str]]:
    """The rows of a file of results, which must be whole."""
    if not file.exists():
        return set()
    opened = sqlite3.connect(file, timeout=60)
    try:
        if opened.execute("PRAGMA integrity_check").fetchone() != ("ok",):
            raise Broken("the file is damaged")
        if not opened.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
            return set()
        return set(opened.execute("SELECT key, answer FROM points"))
    finally:
        opened.close()


def workbench_killed(folder: Path, chance: random.Random, _: int) -> Iterator[bool]:
    """Kill a program that edits a workbench's document: each edit that was kept comes back, and at most one more."""
    edited_and_killed(folder, folder / "state", chance)
    yield True


def workbench_on_a_full_disk(folder: Path, chance: random.Random, _: int) -> Iterator[bool]:
    """The same when the journal runs out of room: what was said not to be kept does not come back in part."""
    with small_disk(folder) as small:
        edited_and_killed(folder, small, chance, until_full=True)
    yield True


def edited_and_killed(folder: Path, state: Path, chance: random.Random, until_full: bool = False) -> None:
    plan = folder / "plan.toml"
    environment = {**os.environ, "TICKWRIGHT_STATE": str(state)}
    words = [sys.executable, "-c", EDITOR, str(plan)]
    process = subprocess.Popen(words, stdout=subprocess.PIPE, text=True, env=environment)
    assert process.stdout is not None
    lines = []
    for said in process.stdout:
        lines.append(said.strip())
        if len(lines) >= 5000 or (said.startswith("not kept") and chance.random() < 0.05):
            break
        if not until_full and chance.random() < 0.01:
            break
    process.kill()
    lines += [said.strip() for said in process.stdout if said.endswith("\n")]
    process.wait()
    process.stdout.close()
    kept = max((int(one) for one in lines if one.isdigit()), default=0)
    lost = sum(one.startswith("not kept") for one in lines)
    if until_full and not lost:
        raise Broken("the disk never got full")
    os.environ["TICKWRIGHT_STATE"] = str(state)
    document = Document.open(plan)
    found = len(document.plan.cells)
    document.close()
    if not kept <= found <= kept + (0 if lost else 1):
        raise Broken(f"{kept} edits were kept, {found} came back")


def page_killed(folder: Path, chance: random.Random, _: int) -> Iterator[bool]:
    """Kill a workbench while a page sends edits: each that the page was shown comes back, and no process is left."""
    sent_and_killed(folder, folder / "state", chance.randint(1, 60))
    yield True


def page_on_a_full_disk(folder: Path, chance: random.Random, _: int) -> Iterator[bool]:
    """The same when the journal runs out of room: the page says so, and what is lost is lost whole."""
    with small_disk(folder) as small:
        (small / "filler").write_bytes(bytes(int(SMALL_DISK[:-1]) * 1024 - chance.randint(3, 5) * 4096))
        sent_and_killed(folder, small, None)
    yield True


def sent_and_killed(folder: Path, state: Path, count: int | None) -> None:
    """Send so many edits, or until some are said not to be kept; kill the workbench and look what comes back."""
    plan = folder / "plan.toml"
    plan.write_bytes((EXAMPLES / "latch.toml").read_bytes())
    before = len(loads(plan.read_text(encoding="utf-8"), plan).cells)
    port = free_port()
    program = Program("workbench", plan, "--no-browser", "--port", port, TICKWRIGHT_STATE=str(state))
    try:
        shown, lost = asyncio.run(lay_blocks(f"http://127.0.0.1:{port}/", count, program.process.kill))
    finally:
        ended = program.press(signal.SIGKILL, alone=True)
    if ended.left:
        raise Broken(f"{len(ended.left)} processes were left running")
    if "Traceback" in ended.err:
        raise Broken(f"it said: {ended.err[-600:]}")
    os.environ["TICKWRIGHT_STATE"] = str(state)
    document = Document.open(plan)
    found = len(document.plan.cells) - before
    document.close()
    if not shown - lost <= found <= shown:
        raise Broken(f"{shown} edits were shown, {lost} of them or fewer said not to be kept; {found} came back")


async def lay_blocks(address: str, count: int | None, kill: Callable[[], None]) -> tuple[int, int]:
    """Lay blocks on a page until so many are shown or some are said to be lost; how many, and how many are lost."""
    async with Tab(address) as tab:
        for done in range(1, MOST_SENT if count is None else count + 1):
            await tab.edit(op="place", cell=[done % 50, 20 + done // 50, 0], part="block")
            await tab.until_told("take")
            if count is None and tab.read("not kept"):
                kill()
                return done, LATE_WORDS
        kill()
    if count is None:
        raise Broken("the disk never got full, or the page does not say so")
    return count, 0


def ctrl_c(folder: Path, chance: random.Random, _: int) -> Iterator[bool]:
    """Ctrl-C at a random moment of a random command: "Stopped.", exit code 130, no traceback, no process left."""
    words = chance.choice(COMMANDS)
    program = Program(*words, folder=folder, TICKWRIGHT_STATE=str(folder / "state"))
    program.until(1)
    time.sleep(chance.uniform(0, LONGEST_WAIT_SECONDS))
    ended = program.press()
    fine = (ended.code == 130 and ended.err.endswith("Stopped.\n")) or ended.code in (0, 1)
    if words[0] == "workbench":
        fine = ended.code in (0, 130)
    if not fine or "Traceback" in ended.err + ended.out or ended.left:
        names = " ".join(str(word) for word in words[:2])
        raise Broken(f"{names}: exit code {ended.code}, {len(ended.left)} left, said: {ended.err[-600:]}")
    yield True


# --- mutated ---------------------------------------------------------------------------------------------------------


def plans(folder: Path, chance: random.Random, size: int) -> Iterator[bool]:
    """Plan files with random changes: each is read with its charts, and written again, or refused with one message."""
    texts = [path.read_bytes() for path in sorted(EXAMPLES.glob("*.toml"))]
    for _ in range(size):
        data = mutated(chance.choice(texts), texts, chance)
        (folder / "plan.toml").write_bytes(data)
        try:
            plan = loads(data.decode("utf-8", "surrogateescape"), folder / "plan.toml")
            loads(dumps(plan), folder / "plan.toml")
            charts_of(plan)
        except TickwrightError as error:
            told(error)
        yield True


def briefs(folder: Path, chance: random.Random, size: int) -> Iterator[bool]:
    """Briefs with random changes: each is read, or refused with one message."""
    texts = [path.read_bytes() for path in sorted((EXAMPLES / "briefs").glob("*.toml"))]
    for _ in range(size):
        data = mutated(chance.choice(texts), texts, chance)
        (folder / "brief.toml").write_bytes(data)
        try:
            read_brief(data.decode("utf-8", "surrogateescape"), folder / "brief.toml")
        except TickwrightError as error:
            told(error)
        yield True


def rule_sets(folder: Path, chance: random.Random, size: int) -> Iterator[bool]:
    """Rule sets with random changes: each is read, or refused with one message."""
    built_in = [path.read_bytes() for path in sorted((ROOT / "src/tickwright/rules/data").glob("*.toml"))]
    texts = [b'based_on = "standard"\n' + text.replace(b'based_on = "standard"', b"") for text in built_in]
    for _ in range(size):
        (folder / "rules.toml").write_bytes(mutated(chance.choice(texts), texts, chance))
        try:
            load_rules("rules.toml", folder)
        except TickwrightError as error:
            told(error)
        yield True


def told(error: TickwrightError) -> None:
    """A message must be one line that a terminal can show, and not endless."""
    said = str(error)
    if not said or not said.isprintable() or len(said) > 2000:
        raise Broken(f"the message cannot be shown: {said[:200]!r}")


ODD = (
    b"9" * 5000,
    b"[" * 3000,
    b"a." * 700,
    b"\x00",
    b"\xff",
    b'"',
    b"'''",
    b"\n",
    b"\x1b[2J",
    b"-1",
    b"1e400",
    b"nan",
)
ODD += (
    b"true",
    b"{}",
    b"[[layer]]",
    b"[triggers]",
    "é".encode(),
    "\u202e".encode(),
    b"0x7fffffffffffffffffff",
    b"\\u0007",
)


def mutated(data: bytes, others: list[bytes], chance: random.Random) -> bytes:
    """The bytes after one to six random changes."""
    made = bytearray(data)
    for _ in range(chance.randint(1, 6)):
        at, to = sorted(chance.randrange(len(made) + 1) for _ in range(2))
        to = min(to, at + chance.choice((1, 1, 4, 40, 400)))
        match chance.randrange(6):
            case 0:
                del made[at:to]
            case 1:
                made[at:at] = chance.choice(ODD)
            case 2:
                made[at:to] = chance.choice(ODD)
            case 3:
                made[at:at] = made[at:to]
            case 4:
                other = chance.choice(others)
                cut = chance.randrange(len(other))
                made[at:at] = other[cut : cut + chance.choice((4, 40, 400))]
            case _:
                if at < len(made):
                    made[at] = chance.randrange(256)
    return bytes(made)


SORTS = {
    "sweeps killed": Sort(sweep_killed, 1, 30),
    "sweeps on a full disk": Sort(sweep_on_a_full_disk, 1, 30),
    "documents killed": Sort(workbench_killed, 1, 30),
    "documents killed on a full disk": Sort(workbench_on_a_full_disk, 1, 30),
    "pages' workbenches killed": Sort(page_killed, 1, 30),
    "pages' workbenches killed on a full disk": Sort(page_on_a_full_disk, 1, 30),
    "presses of Ctrl-C": Sort(ctrl_c, 1, 60),
    "mutated plans": Sort(plans, 10 * BATCH, 100_000),
    "mutated briefs": Sort(briefs, BATCH, 5_000),
    "mutated rule sets": Sort(rule_sets, 2 * BATCH, 20_000),
}


def write(tally: Tally, minutes: float, seed: int) -> None:
    """Write the counts into the page, in place of those of the run before."""
    day = datetime.datetime.now(tz=datetime.UTC).date().isoformat()
    text = PAGE.read_text(encoding="utf-8")
    before, _, rest = text.partition(BEGIN)
    after = rest.partition(END)[2]
    items = [f"  {done:,} {sort}" for sort, done in tally.counts().items()]
    said = f"  On {day} `python dev.py siege` (seed {seed}) ran {minutes:.1f} minutes:\n"
    said += ",\n".join(items) + f";\n  {len(tally.failures)} failed.\n"
    PAGE.write_text(f"{before}{BEGIN}\n{said}  {END}{after}", encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
