"""The program: its commands, and what becomes of errors (one message, exit code 2, never a traceback)."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable
from importlib import import_module

import typer
import typer.core

from tickwright import TickwrightError

COMMANDS = (
    "run", "measure", "check", "chart", "bill", "compare", "choose", "prove", "diagnose", "explain", "why", "tune",
    "sweep", "place", "sheet", "export", "parts", "rules", "workbench", "demo",
)  # fmt: skip

typer.core.HAS_RICH = False  # plain help, and usage errors of one message; else help shows "\\[default"


def program(commands: Iterable[str] = COMMANDS) -> typer.Typer:
    """The program with these of its commands; each lies in the file of its name."""
    made = typer.Typer(
        name="tickwright",
        no_args_is_help=True,
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        context_settings={"help_option_names": ["-h", "--help"]},
    )
    made.callback()(_about)
    for name in commands:
        made.command(name)(import_module(f"tickwright.cli.{name}").command)
    return made


def _about() -> None:
    """Design, run, verify and compare timing circuits made of blocks. Times assume 20 steps a second."""


def main() -> None:
    """Run the command line and leave with its exit code."""
    first = sys.argv[1:2]
    try:
        program(first if first and first[0] in COMMANDS else COMMANDS)()
    except TickwrightError as error:
        sys.exit(_refuse(str(error)))
    except KeyboardInterrupt:
        sys.exit(130)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(1)
    except OSError as error:
        where = f'"{error.filename}": ' if error.filename else ""
        sys.exit(_refuse(f"{where}{error.strerror or error}. Check the path and what you may read and write there."))


def _refuse(message: str) -> int:
    print(f"tickwright: {message}", file=sys.stderr)
    return 2
