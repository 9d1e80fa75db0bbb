"""`tickwright rules`: show a rule set, or what two of them differ in."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from tickwright import RuleSet, load_rules
from tickwright.cli.files import check_writable, refuse_what_is_there, write_whole
from tickwright.cli.show import AsJson, print_json, print_table, stoppable
from tickwright.diagnosis import (
    Fitted,
    bench_names,
    bench_plan,
    bench_sheet,
    fit_rules,
    load_measured,
    measured_text,
    rules_text,
)
from tickwright.errors import UsageError
from tickwright.plan import dumps
from tickwright.rules import BUILT_IN, values_of

WORDS = "[NAME] | diff A B | fit MEASURED | bench"


def command(
    words: Annotated[
        list[str] | None,
        typer.Argument(
            metavar=WORDS,
            help="A rule set's name or file; two to compare; a file of what was measured; the bench of a world.",
        ),
    ] = None,
    based_on: Annotated[
        str | None,
        typer.Option("--based-on", metavar="NAME", help="With fit: the rule set to change; standard if not given."),
    ] = None,
    save: Annotated[
        Path | None,
        typer.Option(
            "--save",
            metavar="FILE|DIR",
            help="With fit: write the closest rule set there. With bench: write circuits, sheet and form there.",
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """List the rule sets, show one with all its values, or show what two of them differ in.

    `fit MEASURED.toml` finds the rules of a world from what circuits did that were built in it: all explanations with
    the fewest changes, what they leave open, and which circuit to build next. `bench` has small circuits for that.
    For example: tickwright rules bench --save bench; then tickwright rules fit bench/measured.toml --save world.toml.
    """
    match words or []:
        case ["fit", file]:
            _fit(Path(file), based_on or "standard", save, as_json)
            return
        case ["bench"] if based_on is None:
            _bench(save, as_json)
            return
    if based_on is not None or save is not None:
        raise UsageError("--based-on and --save go with tickwright rules fit MEASURED; --save with bench, too.")
    match words or []:
        case []:
            _list(as_json)
        case ["diff", first, second]:
            _diff(load_rules(first), load_rules(second), as_json)
        case [name] if name not in ("diff", "fit"):
            _one(load_rules(name), as_json)
        case _:
            raise UsageError(
                "Write tickwright rules, tickwright rules NAME, tickwright rules diff A B, tickwright rules fit "
                "MEASURED, or tickwright rules bench."
            )


def _list(as_json: bool) -> None:
    found = [load_rules(name) for name in BUILT_IN]
    if as_json:
        print_json({"rules": [{"name": rules.name, "title": rules.title} for rules in found]})
    else:
        print_table("Rule sets", ("name", "title"), [(rules.name, rules.title) for rules in found])


def _one(rules: RuleSet, as_json: bool) -> None:
    values = values_of(rules)
    if as_json:
        print_json({"name": rules.name, "title": rules.title, "values": values})
    else:
        title = f"{rules.name}: {rules.title} (delays in steps)"
        print_table(title, ("value", "is"), [(key, _text(value)) for key, value in values.items()])


def _diff(first: RuleSet, second: RuleSet, as_json: bool) -> None:
    a, b = values_of(first), values_of(second)
    rows = [(key, a.get(key), b.get(key)) for key in dict.fromkeys((*a, *b)) if a.get(key) != b.get(key)]
    if as_json:
        differences = [{"value": key, "a": left, "b": right} for key, left, right in rows]
        print_json({"a": first.name, "b": second.name, "differences": differences})
    elif rows:
        heads = ("value", first.name, second.name)
        print_table("Differences", heads, [(key, _text(left), _text(right)) for key, left, right in rows])
    else:
        print(f"{first.name} and {second.name} have the same values.")


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "-" if value is None else str(value)


def _fit(file: Path, based_on: str, save: Path | None, as_json: bool) -> None:
    """Find the rules; exit code 1 if none give what was measured."""
    if save is not None:
        check_writable(save)
    base = load_rules(based_on)
    with stoppable() as tell:
        fitted = fit_rules(load_measured(file), based_on, tell)
    if save is not None and fitted.explained:
        write_whole(save, rules_text(based_on, fitted.explained[0].changes, f"As measured in {file.name}"))
    values = values_of(base)
    if as_json:
        saved = str(save) if save is not None and fitted.explained else None
        print_json({"file": str(file), **fitted.as_data(values), "saved": saved})
    else:
        _show_fitted(fitted, values, save)
    if not fitted.explained and not fitted.stopped:
        raise typer.Exit(1)


def _show_fitted(fitted: Fitted, values: dict[str, Any], save: Path | None) -> None:
    count = len(fitted.explained)
    print(f"{fitted.measured} circuits were measured; {fitted.runs:,} runs under changed rules.")
    if fitted.stopped:
        print("Stopped before the end: there may be more.")
    elif not count:
        print("No rule set with up to four changes gives all that. Look at the claims again: one may be wrong.")
    elif not fitted.explained[0].changes:
        print(f"The rules {fitted.based_on} give all of it as they are.")
    else:
        print(f"{count} explanation{'s' * (count != 1)} with the fewest changes, the closest first:")
    for number, one in enumerate(fitted.explained, 1):
        for name, value in one.changes.items():
            more = one.as_well.get(name, [])
            also = f"; {', '.join(_text(other) for other in more)} will do as well" if more else ""
            was = _text(values.get(name, False))
            print(f"  {number}. {name} is {_text(value)} instead of {was}{also}")
    if not fitted.complete:
        print("Not all was tried: the search ended at its bound.")
    if fitted.next_circuit is not None:
        name, told = fitted.next_circuit
        print(f"Build bench:{name} next: of all on the bench it tells these apart best ({told:g} bits).")
    if fitted.undecided:
        print(f"Nothing measured depends on: {', '.join(fitted.undecided)}.")
    if save is not None and count:
        print(f"{save}: written, the first of them.")


def _bench(save: Path | None, as_json: bool) -> None:
    """List the bench, or write it to a folder."""
    names = bench_names()
    if save is not None:
        refuse_what_is_there(save, "*.toml")
        save.mkdir(parents=True, exist_ok=True)
        for name in names:
            write_whole(save / f"{name}.toml", dumps(bench_plan(name)))
        write_whole(save / "measured.toml", measured_text(names))
        write_whole(save / "sheet.md", bench_sheet(names))
    plans = {name: bench_plan(name) for name in names}
    if as_json:
        rows = [{"name": name, "title": plan.title, "parts": len(plan.cells)} for name, plan in plans.items()]
        print_json({"circuits": rows, "saved": str(save) if save is not None else None})
        return
    print_table(
        f"The bench: {sum(len(plan.cells) for plan in plans.values())} parts in all",
        ("circuit", "is", "parts"),
        [(name, plan.title, str(len(plan.cells))) for name, plan in plans.items()],
    )
    if save is not None:
        print(f"{save}: {len(names)} circuits, sheet.md, and measured.toml: change its claims to what you see.")
