"""Write the pages of docs/ that follow from the program itself: python dev.py docs [--check] [PAGE ...].

With --check nothing is written: a page that differs from what the program says now is shown as a diff, and the exit
code is 1. A new page is a function here and a row in PAGES; FOLDERS has folders of pages of one sort.
"""

from __future__ import annotations

import argparse
import difflib
import sys
from collections.abc import Callable, Iterator, Sequence
from itertools import takewhile
from pathlib import Path
from typing import Any

import atlas
import choosing
import dossiers
import json_page
import licences
import matter
import reasons
import site_build
import troubleshooting
import typer

import sweeps
from tickwright import Measurement, Plan, load, measure
from tickwright.cli import SAMPLES, program
from tickwright.durations import time_text
from tickwright.kinds import PARTS, choices_text, signature
from tickwright.measurement import find_trigger, observe
from tickwright.plan.setup import Setup
from tickwright.rules import BUILT_IN, load_rules, values_of

DOCS = Path(__file__).resolve().parent
NOTICE = "<!-- Written by `python dev.py docs`; change the program, not this page. -->\n"
EXIT_CODES = (
    "Exit codes: 0 done; 1 an expectation or a proof failed, or could not be decided; 2 the input or usage is wrong: "
    "then one message says what, where, by which rule and what to do; 130 stopped by Ctrl-C: what was found is printed."
)
OWN_RULES = """A rule set of your own, `my-world.toml`, names the one it is based on and says what differs:

```toml
based_on = "standard"

[lamp]
off_delay = 2
```

Put it beside the plan and name it there, `rules = "my-world.toml"`, or give it to a command, `--rules my-world.toml`.
`tickwright rules diff standard my-world.toml` shows what differs. What each value does is told in [rules.md](rules.md).

What your world's rules are can be [found from what you build in it](rules-fit.md): `tickwright rules fit`.

Delays are in steps. A switch under `conducts`, `carries` or `movable` is `false` for each part that is not listed. What
differs from the first column is bold."""


def cli_page() -> str:
    """The reference of the command line: every command as its `--help` has it."""
    command: Any = typer.main.get_command(program())
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
    for sample in SAMPLES.get(command.name, ()):
        lines += [f"{sample.what[0].upper()}{sample.what[1:]}:", "", "```", f"tickwright {sample.line}", "```", ""]
    return lines


def parts_page() -> str:
    """Every kind of part: how it is written, what it does, and what the rules and the hand make of it."""
    rules = load_rules()
    lines = [
        "# Parts",
        "",
        "How each part is written in a plan, with defaults in brackets; `tickwright parts KIND` shows the same.",
        "[rules.md](rules.md) explains them. *Conducts*, *carries* and *pushable* are as in the rule set `standard`.",
        "",
        "| written | what it does | directions | stands on | conducts | carries | pushable | the hand can |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for name, kind in PARTS.items():
        stands = {"below": "the cell below", "facing": "the cell it is fixed to", None: "–"}[kind.support]
        switches = [yes(table.get(name, False)) for table in (rules.conducts, rules.carries, rules.movable)]
        acts = ", ".join(f"`{act}`" for act in (*kind.acts, "place", "clear"))
        facts = [f"`{signature(kind)}`", kind.help, ", ".join(kind.directions) or "–", stands, *switches, acts]
        lines.append(f"| {' | '.join(cell(fact) for fact in facts)} |")
    lines += ["", "## Arguments", "", "| part | argument | meaning | values | default |", "|---|---|---|---|---|"]
    for kind in PARTS.values():
        for argument in kind.arguments:
            default = yes(argument.default) if isinstance(argument.default, bool) else str(argument.default)
            facts = [f"`{kind.name}`", f"`{argument.name}`", argument.help, choices_text(argument), f"`{default}`"]
            lines.append(f"| {' | '.join(facts)} |")
    return "\n".join(lines)


def rule_sets_page() -> str:
    """Every value of every built-in rule set, side by side, and how to make one's own."""
    sets = [load_rules(name) for name in BUILT_IN]
    lines = ["# Rule sets", "", *(f"- `{rules.name}`: {rules.title.lower()}." for rules in sets), ""]
    lines += OWN_RULES.splitlines()
    lines += ["", f"| value | {' | '.join(f'`{rules.name}`' for rules in sets)} |", "|---" * (len(sets) + 1) + "|"]
    first, *others = [values_of(rules) for rules in sets]
    for key, value in first.items():
        texts = [shown(value)]
        texts += [shown(other[key]) if other[key] == value else f"**{shown(other[key])}**" for other in others]
        lines.append(f"| `{key}` | {' | '.join(texts)} |")
    return "\n".join(lines)


def shown(value: object) -> str:
    """A value as a rule set file writes it."""
    return str(value).lower() if isinstance(value, bool) else f'"{value}"' if isinstance(value, str) else str(value)


def yes(switch: bool) -> str:
    """A switch in words."""
    return "yes" if switch else "no"


def cell(text: str) -> str:
    """Text as it may stand in a cell of a table."""
    return " ".join(text.replace("|", "\\|").split())


def examples_page() -> str:
    """Every example: what it is and, from runs, what a press does to its outputs under its own rules."""
    lines = [
        "# Examples",
        "",
        "Circuits at the Saltmarsh ferry landing, in `examples/`. Each file says at its top what to watch, and holds",
        "the expectations that `tickwright check` tries. The figures below were measured by runs, one press of the",
        "trigger at a time. A lamp stays on two ticks longer than what lights it, and so needs less of a trigger.",
        "[dossiers.md](dossiers.md) leads to all that is known of each.",
        "",
        "| example | trigger → output | delay | hold | pulses | minimum trigger |",
        "|---|---|---|---|---|---|",
    ]
    about = ["", "## What they are", ""]
    for path in sorted((DOCS.parent / "examples").glob("*.toml")):
        plan = load(path)
        link = f"[{path.stem}](../examples/{path.name})"
        lines += [measured_row(link, found) for found in measure(plan)]
        for name in BUILT_IN:
            if name != plan.rules and acts_otherwise(plan, name):
                lines += [measured_row(f"{link}, under `{name}`", found) for found in measure(plan, rules=name)]
        about.append(f"- {link}: {opening(path)}")
    return "\n".join(lines + about)


def measured_row(name: str, found: Measurement) -> str:
    """One row of the table of examples."""
    held = found.hold_steps
    hold = {"latched": "for good", "clock": "a clock"}.get(found.kind, "–") if held is None else time_text(held)
    delay, least = found.delay_steps, found.minimum_trigger_steps
    count = "for ever" if found.kind == "clock" else str(len(found.pulses))
    what = f"{found.trigger} → {found.output}"
    facts = [
        name,
        what,
        "–" if delay is None else time_text(delay),
        hold,
        count,
        "–" if least is None else time_text(least),
    ]
    return f"| {' | '.join(facts)} |"


def acts_otherwise(plan: Plan, rules: str) -> bool:
    """Whether a press shows anything else under that rule set than under the plan's own."""
    own, other = load_rules(plan.rules), load_rules(rules)
    setup = Setup(plan, own)
    triggers = [find_trigger(setup, name) for name in plan.triggers]
    return any(observe(setup, one).changes != observe(Setup(plan, other), one).changes for one in triggers)


def opening(path: Path) -> str:
    """What the comment at the top of a plan file says before it says what to watch."""
    lines = takewhile(lambda line: line.startswith("#"), path.read_text(encoding="utf-8").splitlines())
    return " ".join(line.removeprefix("#").strip() for line in lines).split(" Watch ")[0]


PAGES: dict[str, Callable[[], str]] = {
    "atlas.md": atlas.page,
    "choosing.md": choosing.page,
    "cli.md": cli_page,
    "dossiers.md": dossiers.page,
    "examples.md": examples_page,
    "items-and-pistons.md": matter.page,
    "json.md": json_page.page,
    "licences.md": licences.page,
    "parts.md": parts_page,
    "rule-sets.md": rule_sets_page,
    "smallest-designs.md": choosing.smallest_page,
    "sweeps.md": sweeps.page,
    "troubleshooting.md": troubleshooting.page,
    "why.md": reasons.page,
}
FOLDERS: dict[str, Callable[[], dict[str, str]]] = {"dossiers": dossiers.pages, "findings": troubleshooting.pages}


def main() -> int:
    """Write or check every page; return the exit code."""
    parser = argparse.ArgumentParser(prog="python dev.py docs", description="Write the generated pages of docs/.")
    parser.add_argument("--check", action="store_true", help="write nothing; show what is stale and end with 1")
    parser.add_argument(
        "pages", nargs="*", choices=[*PAGES, *FOLDERS, []], metavar="PAGE", help="only these, such as cli.md"
    )
    parser.add_argument("--site", action="store_true", help="build all pages as a site in out/site, and nothing else")
    options = parser.parse_args()
    if options.site:
        return site_build.build()
    stale = sum(not settled(name, text, options.check) for name, text in made(options.pages))
    if stale and options.check:
        print(f"{stale} {'page is' if stale == 1 else 'pages are'} stale: run python dev.py docs")
        return 1
    return 0


def made(wanted: Sequence[str]) -> Iterator[tuple[str, str | None]]:
    """Each page by its place in docs/, with what it would be now; None for one of a folder that is to be gone."""
    for name, page in PAGES.items():
        if not wanted or name in wanted:
            yield name, page()
    for folder, pages in FOLDERS.items():
        if wanted and folder not in wanted:
            continue
        now = pages()
        for name in sorted({*now, *(path.name for path in (DOCS / folder).glob("*.md"))}):
            yield f"{folder}/{name}", now.get(name)


def settled(name: str, text: str | None, only_check: bool) -> bool:
    """Whether a page is as it should be; if not, it is written, or its difference shown."""
    path = DOCS / name
    old = path.read_text(encoding="utf-8") if path.exists() else None
    new = None if text is None else f"{NOTICE}\n{text.rstrip()}\n"
    if old == new:
        return True
    if only_check:
        names = (f"docs/{name}", f"docs/{name} as it would be now")
        lines = [(each or "").splitlines() for each in (old, new)]
        print("\n".join(difflib.unified_diff(*lines, *names, lineterm="")))
    elif new is None:
        path.unlink()
        print(f"docs/{name} taken away")
    else:
        path.parent.mkdir(exist_ok=True)
        path.write_text(new, encoding="utf-8", newline="\n")
        print(f"docs/{name} written")
    return False


if __name__ == "__main__":
    sys.exit(main())
