"""The program: its commands, and what becomes of errors (one message, exit code 2, never a traceback)."""

from __future__ import annotations

import os
import re
import signal
import sys
from collections.abc import Iterable
from contextlib import suppress
from importlib import import_module
from typing import Annotated

import click
import typer
import typer.core
import typer.main

from tickwright.cli.inputs import NoColor, Quiet, shared
from tickwright.cli.refusing import error_data, error_text
from tickwright.cli.samples import samples_text
from tickwright.cli.settings import CALL, begin_call
from tickwright.cli.show import print_json
from tickwright.cli.stopping import STOPPED, begin, leave, was_stopped
from tickwright.errors import reason

# Each command with what it does, short enough for one line of 80 columns in the list of commands.
COMMANDS = {
    "run": "Play a plan step by step, and show what its outputs do.",
    "measure": "Press once and measure: delay, hold, shortest press.",
    "check": "Hold plans to their expectations and charts.",
    "chart": "Write the timing chart of what a plan does now.",
    "bill": "Count the parts of a plan, and add up their prices.",
    "compare": "Show in what several plans differ, and why.",
    "choose": "Find the circuits that give a hold, and save them.",
    "compose": "Make a plan from a timing chart, and prove it.",
    "prove": "Prove a claim for all presses, or show which break it.",
    "diagnose": "Find what is wrong with a plan or a build.",
    "explain": "Explain a finding of diagnose on a small circuit.",
    "why": "Tell why an output holds as long as it does.",
    "tune": "Change a plan a little, to give another hold or chart.",
    "sweep": "Run every combination of settings, into one file.",
    "place": "Lay a netlist (BLIF or Verilog) as blocks.",
    "characterise": "Measure a module with ports: delays, least pulses.",
    "discover": "Find the smallest layout in a box by trying them all.",
    "sheet": "Make all files to build, teach and show a plan.",
    "export": "Write one file of a plan: a picture, chart or film.",
    "parts": "List the kinds of parts, and how each is written.",
    "rules": "List, show, compare or find sets of rules.",
    "schema": "Print a JSON Schema of answers, plans or briefs.",
    "workbench": "Lay, press and watch a circuit on a page.",
    "demo": "Show three circuits for one lamp, and a gate.",
}

typer.core.HAS_RICH = False  # plain help, and usage errors of one message; else help shows "\\[default"


def program(commands: Iterable[str] = COMMANDS) -> typer.Typer:
    """The program with these of its commands; each lies in the file of its name."""
    made = typer.Typer(
        name="tickwright",
        epilog="New here? Type: tickwright demo. Then: tickwright COMMAND --help.",
        no_args_is_help=True,
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        context_settings={"help_option_names": ["-h", "--help"]},
    )
    made.callback()(_about)
    for name in commands:
        command = import_module(f"tickwright.cli.{name}").command
        made.command(name, short_help=COMMANDS[name], epilog=samples_text(name))(shared(command))
    return made


def _version(wanted: bool) -> None:
    """Say the version, whether the fast engine is there, and what is installed with it, and end."""
    if not wanted:
        return
    import platform
    from importlib.metadata import distribution, version

    from tickwright.engine import is_installed
    from tickwright.extras import EXTRAS, without_extra

    own = distribution("tickwright")
    engine = "is installed" if is_installed("fast") else "is missing: all runs on the reference"
    tags = re.findall(r"^Tag: (.+)$", own.read_text("WHEEL") or "", re.MULTILINE)
    needed = [re.split(r"[^\w.-]", need)[0] for need in own.requires or () if "extra ==" not in need]
    there = [name for name in EXTRAS if not without_extra(name)]
    missing = [name for name in EXTRAS if name not in there]
    print(f"tickwright {own.version}; the fast engine {engine}")
    print(f"Python {platform.python_version()}; wheel {', '.join(tags) or 'unknown'}")
    print(f"with {', '.join(f'{name} {version(name)}' for name in sorted(needed))}")
    print(f"extras: {', '.join(there) or 'none'}; not installed: {', '.join(missing) or 'none'}")
    raise typer.Exit


def _about(
    version: Annotated[  # noqa: ARG001 - the option ends the program by itself
        bool,
        typer.Option(
            "--version", callback=_version, is_eager=True, help="Say the version, the engines and the packages."
        ),
    ] = False,
    quiet: Quiet = False,
    no_color: NoColor = False,
) -> None:
    """Design, run, verify and compare timing circuits made of blocks. Times assume 20 steps a second."""
    CALL.quiet, CALL.colours = quiet, not no_color
    begin()


def run_program() -> None:
    """Run the command line and leave with its exit code; whatever goes wrong is one message."""
    begin_call()
    as_json = "--json" in sys.argv[1:]
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:  # closed by whoever called
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115 - open until the end
    code = 1
    try:
        code = _answered(as_json)
        sys.stdout.flush()
    except (KeyboardInterrupt, OSError) as error:
        code = _unprinted(error, code)
    signal.signal(signal.SIGINT, leave)
    if was_stopped():
        code = STOPPED
        print("Stopped.", file=sys.stderr)
    sys.exit(code)


def _answered(as_json: bool) -> int:
    """The exit code of the command, its answer printed."""
    first = sys.argv[1] if len(sys.argv) > 1 else ""
    needed = (first,) if first in COMMANDS else ("run",) if first == "--version" else COMMANDS
    try:
        made = typer.main.get_command(program(needed))
        return made.main(prog_name="tickwright", standalone_mode=False) or 0
    except SystemExit:  # nobody reads the rest of the answer
        return 0
    except (KeyboardInterrupt, click.Abort):
        return STOPPED
    except Exception as error:
        text = error_text(error)
        if text is None:
            raise
        return _refuse(error, text, as_json)


def _unprinted(error: KeyboardInterrupt | OSError, code: int) -> int:
    """The exit code when the answer could not be printed; the reason is said, unless it is that nobody reads it."""
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    if isinstance(error, KeyboardInterrupt):
        return STOPPED
    if isinstance(error, BrokenPipeError):
        return code
    with suppress(OSError):
        print(f"tickwright: The answer cannot be printed: {reason(error)}.", file=sys.stderr)
    return 2


def _refuse(error: Exception, message: str, as_json: bool) -> int:
    """Say in one message what is wrong with the input, and return the exit code for it."""
    if not as_json:
        print(f"tickwright: {message}", file=sys.stderr)
        return 2
    print_json({"error": error_data(error)})
    return 2
