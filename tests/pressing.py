"""Pressing Ctrl-C, and worse, at a program: its terminal's whole group gets the signal, at a chosen moment."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

PATIENCE_SECONDS = 300.0  # CI has few cores

# Says by one byte each time that the program says what Ctrl-C does from now on: first when it hears it at all, then
# when its command begins, then when a job begins that keeps what it has.
LAUNCHER = """
import os, signal, sys
usual = signal.signal
def told(*given):
    done = usual(*given)
    os.write({pipe}, b".")
    return done
signal.signal = told
sys.argv = {words!r}
from tickwright.cli import main, stopping
stopping.PATIENCE_SECONDS = {patience}
main()
"""


@dataclass
class Ended:
    """How a program ended: its exit code, what it printed and said, and the processes that it left running."""

    code: int
    out: str
    err: str
    left: list[int]


class Program:
    """The command line in a process, and a session, of its own."""

    def __init__(self, *words: object, folder: Path | None = None, **environment: str) -> None:
        self.heard, pipe = os.pipe()
        code = LAUNCHER.format(pipe=pipe, words=["tickwright", *map(str, words)], patience=PATIENCE_SECONDS)
        self.process = subprocess.Popen(
            [sys.executable, "-c", code],
            pass_fds=(pipe,),
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            start_new_session=True,
            cwd=folder,
            env={**os.environ, **environment},
        )
        os.close(pipe)

    def until(self, moment: int) -> None:
        """Wait until it has said so often what Ctrl-C does; the end of it, if it comes before, is fine, too."""
        for _ in range(moment):
            if not os.read(self.heard, 1):
                return

    def until_it_has(self, children: int) -> None:
        """Wait until so many processes are at work for it."""
        end = time.monotonic() + PATIENCE_SECONDS
        while len(in_session(self.process.pid)) <= children:
            assert self.process.poll() is None, self.process.communicate()
            assert time.monotonic() < end
            time.sleep(0.01)

    def press(self, how: int = signal.SIGINT, alone: bool = False) -> Ended:
        """Send the signal to its whole session, or to it alone, and wait for all that it began."""
        if self.process.poll() is None:
            os.kill(self.process.pid, how) if alone else os.killpg(self.process.pid, how)
        return self.wait()

    def wait(self) -> Ended:
        """Wait for its end, and a little for that of its children."""
        out, err = self.process.communicate(timeout=PATIENCE_SECONDS)
        end = time.monotonic() + PATIENCE_SECONDS / 10
        while (left := in_session(self.process.pid)) and time.monotonic() < end:
            time.sleep(0.01)
        for one in left:
            os.kill(one, signal.SIGKILL)
        os.close(self.heard)
        return Ended(self.process.returncode, out.decode(), err.decode(), left)


def in_session(leader: int) -> list[int]:
    """The processes of a session that run, its leader among them; read from /proc."""
    found = []
    for path in Path("/proc").iterdir():
        if path.name.isdigit():
            try:
                state, _parent, _group, session = (path / "stat").read_text().rpartition(")")[2].split()[:4]
            except OSError:
                continue
            if int(session) == leader and state != "Z":
                found.append(int(path.name))
    return found
