"""Write the pages of docs/ that follow from the program itself: python dev.py docs [--check].

With --check nothing is written: a page that differs from what the program says now is shown as a diff, and the exit
code is 1. A new page is a function here and a row in PAGES.
"""

from __future__ import annotations

import argparse
import difflib
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import typer

from tickwright.cli import app

DOCS = Path(__file__).resolve().parent
NOTICE = "<!-- Written by `python dev.py docs`; change the program, not this page. -->\n"
EXIT_CODES = (
    "Exit codes: 0 done; 1 an expectation or a proof failed, or could not be decided; 2 the input or usage is wrong: "
    "then one message says what, where, by which rule and what to do."
)


def cli_page() -> str:
    """The reference of the command line: every command as its `--help` has it."""
    command: Any = typer.main.get_command(app)
    lines = ["# Commands", "", "Every command takes `--help`. " + EXIT_CODES, ""]
    for words, found in commands("tickwright", command):
        lines += section(words, found)
    return "\n".join(lines)


def commands(words: str, command: Any) -> Iterator[tuple[str, Any]]:
    """Every command below a command, itself first, each with the words that call it."""
    yield words, command
    for name, below in sorted(getattr(command, "commands", {}).items()):
        yield from commands(f"{words} {name}", below)


def section(words: str, command: Any) -> list[str]:
    """One command: its usage, what it does, and a table of its arguments and options."""
    context = command.context_class(command, info_name=words, terminal_width=100)
    lines = [f"## {words}", "", "```", context.get_usage().removeprefix("Usage: "), "```", "", command.help or "", ""]
    parameters = [parameter for parameter in command.get_params(context) if parameter.name != "help"]
    rows = [parameter.get_help_record(context) for parameter in parameters if not getattr(parameter, "hidden", False)]
    if rows:
        lines += ["| argument or option | what it is |", "|---|---|"]
        lines += [f"| `{cell(left)}` | {cell(text)} |" for left, text in rows]
        lines.append("")
    return lines


def cell(text: str) -> str:
    """Text as it may stand in a cell of a table."""
    return " ".join(text.replace("|", "\\|").split())


PAGES: dict[str, Callable[[], str]] = {"cli.md": cli_page}


def main() -> int:
    """Write or check every page; return the exit code."""
    parser = argparse.ArgumentParser(prog="python dev.py docs", description="Write the generated pages of docs/.")
    parser.add_argument("--check", action="store_true", help="write nothing; show what is stale and end with 1")
    options = parser.parse_args()
    stale = 0
    for name, page in PAGES.items():
        path = DOCS / name
        old = path.read_text(encoding="utf-8") if path.exists() else ""
        new = f"{NOTICE}\n{page().rstrip()}\n"
        if old == new:
            continue
        stale += 1
        if options.check:
            names = (f"docs/{name}", f"docs/{name} as it would be now")
            print("\n".join(difflib.unified_diff(old.splitlines(), new.splitlines(), *names, lineterm="")))
        else:
            path.write_text(new, encoding="utf-8", newline="\n")
            print(f"docs/{name} written")
    if stale and options.check:
        print(f"{stale} of {len(PAGES)} pages are stale: run python dev.py docs")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
