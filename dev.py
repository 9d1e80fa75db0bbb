#!/usr/bin/env python3
"""Run the project's chores: python dev.py COMMAND [ARGUMENTS].

Each command first makes `.venv` beside this file, or brings it up to date when what the project needs has changed, then
hands its arguments to the tool behind it and ends with that tool's exit code. It needs Python 3.11 or later and nothing
else; uv is used when it is on the PATH, otherwise venv and pip.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
STAMP = VENV / "made-for"
PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
EXTRAS = ("cluster", "dev", "film", "verilog", "workbench")
# What may be installed -> the file that pins it: what `pip install .` brings, or that and all a developer needs.
LOCKS = {"plain": ROOT / "requirements-plain.lock", "whole": ROOT / "requirements.lock"}
PLAIN = ("demo",)  # the chores that need no more than what a user installs

# Command -> (what `python dev.py` says of it, the command line that stands before the user's own arguments).
COMMANDS: dict[str, tuple[str, list[str]]] = {
    "demo": ("tell the story of a press at the ferry landing", ["-m", "tickwright", "demo"]),
    "test": ("run the tests on all cores; further arguments go to pytest", ["-m", "pytest", "-n", "auto"]),
    "lint": ("read the code for slips; further arguments go to ruff check", ["-m", "ruff", "check", "."]),
    "types": ("check the types of src; further arguments go to mypy", ["-m", "mypy"]),
    "docs": ("write the generated pages of docs/; --check only compares; --site builds out/site", ["docs/generate.py"]),
    "bench": ("run the benchmarks, or those named", ["benchmarks/run.py"]),
    "rederive": (
        "derive every figure of why again for plans with one part changed; --plans N, 1,000 by itself",
        ["tests/rederiving.py"],
    ),
    "advice": (
        "judge what choose answers to 200 wishes at random and follow its advice; --wishes N, goes on where it was",
        ["tests/advice.py"],
    ),
    "fold": ("search for smaller loops for the shelf of choose, and add them; --minutes N, --box", ["tools/fold.py"]),
    "answers": ("hold what takes long to answer to the JSON Schema, on every example", ["tests/answering.py"]),
    "install": ("try the ways to install a wheel, and measure what they bring; --write", ["tools/try_install.py"]),
    "plant": ("plant mistakes and find them by asking; --mistakes N, --wrong 0.1", ["tests/planting.py"]),
    "worlds": (
        "draw worlds with other rules, measure in them, find their rules; --worlds N, --off 4",
        ["tests/variations.py"],
    ),
    "rooms": ("fold loops into 30 odd rooms, run and prove each; --rooms N, goes on where it was", ["tests/rooms.py"]),
    "accept": (
        "take away or turn 300 parts of placed plans; what acceptance sees; --parts N",
        ["tests/missing_parts.py"],
    ),
    "wheels": ("make the wheels of five systems in dist/ (with the package ziglang)", ["tools/wheels.py"]),
    "mutants": (
        "put small slips into the source and see that tests notice; WORDs choose some, goes on where it was",
        ["tests/mutants.py"],
    ),
    "sanitize": ("the native engine under ASan and UBSan: bad sizes, random worlds", ["tools/sanitize.py"]),
    "siege": ("kill it, fill its disk, press Ctrl-C, mutate its files; --minutes N, --write", ["tests/siege.py"]),
    "fuzz": ("property tests with fresh seeds and random worlds through both engines; --minutes N", ["tests/fuzz.py"]),
}


class Refusal(Exception):
    """A chore cannot be done; its text says what is wrong and what to do."""


def main(arguments: list[str]) -> int:
    """Run one chore and return its exit code."""
    if sys.version_info < (3, 11):  # noqa: UP036 - said before anything newer is used
        return refuse(f"this is Python {sys.version.split()[0]}; run dev.py with Python 3.11 or later.")
    if not arguments or arguments[0] in ("-h", "--help"):
        print(usage())
        return 0 if arguments else 2
    name, rest = arguments[0], arguments[1:]
    if name not in COMMANDS and name != "lock":
        return refuse(f"there is no command {name!r}.\n\n{usage()}")
    try:
        if name == "lock":
            return lock(rest)
        prepare("plain" if name in PLAIN else "whole")
    except Refusal as error:
        return refuse(str(error))
    return run([str(PYTHON), *COMMANDS[name][1], *rest], Path.cwd() if name in PLAIN else ROOT, surroundings())


def usage() -> str:
    """Return the list of commands."""
    lines = [f"  {name:<8} {text}" for name, (text, _) in COMMANDS.items()]
    lines.append("  lock     pin anew every package the project uses, in both requirements files (needs uv)")
    return "\n".join(["usage: python dev.py COMMAND [ARGUMENTS]", "", *lines])


def refuse(message: str) -> int:
    """Say on stderr why nothing was done, and return the exit code for it."""
    print(f"dev.py: {message}", file=sys.stderr)
    return 2


def surroundings() -> dict[str, str]:
    """Return the environment of a chore: who wants no compiled files beside sources gets them in .venv.

    Without any, each start of Python compiles each package anew, and the chores start it many times.
    """
    own = dict(os.environ)
    if own.pop("PYTHONDONTWRITEBYTECODE", ""):
        own.setdefault("PYTHONPYCACHEPREFIX", str(VENV / "compiled"))
    return own


def run(command: list[str], folder: Path = ROOT, environment: dict[str, str] | None = None) -> int:
    """Run a command, by itself in the project's folder, and return its exit code; Ctrl-C ends it with 130."""
    process = subprocess.Popen(command, cwd=folder, env=environment)
    try:
        return process.wait()
    except KeyboardInterrupt:
        # The child got the same Ctrl-C and is about to end; wait for what it still wants to say.
        try:
            process.wait(timeout=10)
        except (KeyboardInterrupt, subprocess.TimeoutExpired):
            process.kill()
        return 130


def wanted() -> str:
    """Return a digest of all that decides what is installed: the packages named, the pins and the Python."""
    import tomllib  # not there before 3.11, where main() must still get as far as its message

    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    facts = {
        "build": project["build-system"],
        "project": project["project"],
        "locks": [lock.read_text(encoding="utf-8").splitlines() for lock in LOCKS.values()],
        "python": sys.version_info[:2],
        "place": str(ROOT),
    }
    return hashlib.sha256(json.dumps(facts, sort_keys=True).encode()).hexdigest()


def prepare(what: str) -> None:
    """Make the environment, or mend it where the project does not match any more; compile the C if it changed."""
    digest = wanted()
    stamp = STAMP.read_text(encoding="utf-8").split() if PYTHON.exists() and STAMP.exists() else []
    if stamp[:1] != [digest]:
        install(digest, what, anew=True)
    elif what == "whole" and stamp[1:] != ["whole"]:
        install(digest, what, anew=False)
    run([str(PYTHON), "tools/native_library.py", "--if-changed"])


def install(digest: str, what: str, anew: bool) -> None:
    """Install into the environment what its lock names, each file held to its hash; `anew` makes it first."""
    count = sum("==" in line for line in LOCKS[what].read_text(encoding="utf-8").splitlines())
    again = "once, and again when the packages change"
    print(f"dev.py: preparing .venv with up to {count} packages ({again}) ...", file=sys.stderr, flush=True)
    STAMP.unlink(missing_ok=True)
    uv = shutil.which("uv")
    quiet = [] if sys.stderr.isatty() else ["--quiet"]  # on a terminal they show how far they are
    if anew and uv:
        step([uv, "venv", "--quiet", "--clear", "--python", sys.executable, str(VENV)], "no environment could be made")
    elif anew:
        step(
            [sys.executable, "-m", "venv", "--clear", str(VENV)],
            "no environment could be made; some systems keep venv in a package of its own, such as python3-venv",
        )
    if uv:
        command = [uv, "pip", "install", *quiet, "--python", str(PYTHON)]
    elif (PYTHON.parent / "pip").exists() or (PYTHON.parent / "pip.exe").exists():
        command = [str(PYTHON), "-m", "pip", "install", *(2 * quiet), "--disable-pip-version-check"]
    else:  # made by a uv that is gone
        return install(digest, what, anew=True)
    trouble = "the packages could not be installed; is the package index reachable?"
    step([*command, "--require-hashes", "--requirement", str(LOCKS[what])], trouble)
    print("dev.py: installing tickwright itself ...", file=sys.stderr, flush=True)
    step([*command, "--no-deps", "--editable", str(ROOT)], trouble)
    STAMP.write_text(f"{digest} {what}\n", encoding="utf-8")
    return None


def step(command: list[str], trouble: str) -> None:
    """Run one step of preparing; raise Refusal with the trouble named when it fails."""
    code = run(command)
    if code:
        raise Refusal(f"{trouble} (exit code {code} from: {' '.join(command)})")


def lock(arguments: list[str]) -> int:
    """Write both locks from pyproject.toml: exact versions with hashes, markers for every system and Python."""
    uv = shutil.which("uv")
    if uv is None:
        raise Refusal("lock needs uv, which is not on the PATH; install it and try again.")
    form = ["--universal", "--python-version", "3.11", "--no-header", "--no-annotate", "--generate-hashes"]
    base = [uv, "pip", "compile", "--quiet", "pyproject.toml", *form]
    extras = [word for extra in EXTRAS for word in ("--extra", extra)]
    code = run([*base, *extras, "-o", LOCKS["whole"].name, *arguments])
    return code or run([*base, "--constraint", LOCKS["whole"].name, "-o", LOCKS["plain"].name, *arguments])


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
