"""The program: its commands, and what becomes of errors (one message, exit code 2, never a traceback)."""

from __future__ import annotations

import os
import sys

import typer
import typer.core

from tickwright import TickwrightError
from tickwright.cli import bill, check, compare, demo, measure, parts, prove, rules, run

typer.core.HAS_RICH = False  # plain help, and usage errors of one message; else help shows "\\[default"

app = typer.Typer(
    name="tickwright",
    help="Design, run, verify and compare timing circuits made of blocks. Times assume 20 steps a second.",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)
app.command("run")(run.command)
app.command("measure")(measure.command)
app.command("check")(check.command)
app.command("bill")(bill.command)
app.command("compare")(compare.command)
app.command("prove")(prove.command)
app.command("parts")(parts.command)
app.command("rules")(rules.command)
app.command("demo")(demo.command)


def main() -> None:
    """Run the command line and leave with its exit code."""
    try:
        app()
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
