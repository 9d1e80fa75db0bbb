"""What every command shares in taking plans: several of them, folders, standard input, and outputs on standard output.

Each command is written for one plan, or for a list of files; `shared` makes of it what the program has.
"""

from __future__ import annotations

import inspect
import re
import sys
from collections.abc import Callable, Iterable
from copy import copy
from pathlib import Path
from typing import Annotated, Any

import typer

from tickwright import Plan
from tickwright import load as load_file
from tickwright.cli.completing import completions
from tickwright.cli.files import is_folder, write_whole
from tickwright.cli.refusing import error_data, error_text
from tickwright.cli.settings import CALL, STANDARD, silenced
from tickwright.cli.show import print_json
from tickwright.cli.stopping import STOPPED
from tickwright.cli.style import styled
from tickwright.errors import PlanError, UsageError
from tickwright.plan import dumps, loads
from tickwright.plan import save as save_file

PLANS_HELP = "Plan files; a folder stands for the plans in it and one level below; - for standard input."
WRITES = ("to", "vcd", "junit", "mended")  # the options that name one file to write
_PLAN = re.compile(rb"^\s*format\s*=\s*[\"']tickwright plan", re.MULTILINE)
HEAD_BYTES = 65_536  # of a file, in which its format is sought

Quiet = Annotated[bool, typer.Option("--quiet", "-q", help="Print nothing but errors and the data you ask for.")]
NoColor = Annotated[bool, typer.Option("--no-color", help="No colours; NO_COLOR in the environment does the same.")]


def load(path: Path) -> Plan:
    """The plan in a file, or on standard input; there files that it names are sought in the folder one is in."""
    if path != STANDARD:
        return load_file(path)
    try:
        text = sys.stdin.buffer.read().decode("utf-8")
    except UnicodeDecodeError as error:
        raise PlanError(f"Standard input is not UTF-8 text (byte {error.start}): give it a plan file.") from None
    try:
        return loads(text, STANDARD)
    except PlanError as error:
        raise PlanError(error.message, error.line, error.column, "standard input", error.cells) from None


def save(plan: Plan, path: Path) -> None:
    """Write a plan to its file, or to standard output."""
    if path == STANDARD:
        write_whole(path, dumps(plan))
    else:
        save_file(plan, path)


def plans_of(paths: Iterable[Path]) -> list[Path]:
    """The plan files that paths stand for, folders opened: their plans and those one level below, in order of name.

    Raises UsageError for a folder without plans, and if standard input is named twice.
    """
    found: list[Path] = []
    for path in paths:
        if not path.is_dir():
            found.append(path)
            continue
        inside = [file for file in sorted((*path.glob("*.toml"), *path.glob("*/*.toml"))) if _is_plan(file)]
        if not inside:
            raise UsageError(f'There is no plan in the folder "{path}", nor one level below: name another one.')
        found += inside
    if found.count(STANDARD) > 1:
        raise UsageError("Standard input can be read only once: name - once among the plans.")
    return found


def _is_plan(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            return _PLAN.search(file.read(HEAD_BYTES)) is not None
    except OSError:
        return True  # which is told when it is loaded


def shared(command: Callable[..., None]) -> Callable[..., None]:
    """A command as the program has it: `plan` takes several plans, and there are --quiet and --no-color."""
    own = list(inspect.signature(command, eval_str=True).parameters.values())
    each = any(parameter.name == "plan" for parameter in own)
    options = {parameter.name: _option_name(parameter) for parameter in own}

    def made(**given: Any) -> None:
        CALL.quiet |= given.pop("quiet")
        CALL.colours &= not given.pop("no_color")
        paths = given.get("plan" if each else "plans") or []
        plans = plans_of(paths)
        several = len(plans) > 1 or plans != paths
        to_stdout = _check_outputs(given, options, each and several)
        with silenced(CALL.quiet or to_stdout):
            if each and several:
                _call_each(command, plans, given)
            elif each:
                command(**given | {"plan": plans[0]})
            else:
                command(**given | ({"plans": plans} if paths else {}))

    made.__name__, made.__doc__ = command.__name__, command.__doc__
    parameters = [_shared_parameter(parameter) for parameter in own]
    for name, annotation in (("quiet", Quiet), ("no_color", NoColor)):
        parameters.append(inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, default=False, annotation=annotation))
    vars(made)["__signature__"] = inspect.Signature(parameters)
    return made


def _shared_parameter(parameter: inspect.Parameter) -> inspect.Parameter:
    """A parameter of the command as the shell meets it: plans are several, and what can be known is completed."""
    parameter = parameter.replace(kind=inspect.Parameter.KEYWORD_ONLY)
    if parameter.name == "plan":
        argument = typer.Argument(help=PLANS_HELP, metavar="PLAN...")
        return parameter.replace(annotation=Annotated[list[Path], argument])
    infos = getattr(parameter.annotation, "__metadata__", ())
    complete = completions(parameter.name)
    if complete is None or not infos:
        return parameter
    info = copy(infos[0])
    info.autocompletion = complete
    return parameter.replace(annotation=Annotated[parameter.annotation.__origin__, info])


def _option_name(parameter: inspect.Parameter) -> str:
    """What the option of a parameter is called."""
    for info in getattr(parameter.annotation, "__metadata__", ()):
        for word in (info.default, *(getattr(info, "param_decls", None) or ())):  # typer keeps the first as default
            if isinstance(word, str) and word.startswith("-"):
                return word
    return parameter.name


def _check_outputs(given: dict[str, Any], options: dict[str, str], several: bool) -> bool:
    """Whether an output goes to standard output; refuse what cannot be: two of them, or one file for several plans."""
    written = [name for name in WRITES if isinstance(given.get(name), Path)]
    if several:
        for name in written:
            if not is_folder(given[name]):
                raise UsageError(f"{options[name]} names one file, and there are several plans: give them one by one.")
    standard = [options[name] for name in written if given[name] == STANDARD]
    if given.get("as_json") and standard:
        standard.append("--json")
    if len(standard) > 1:
        raise UsageError(f"{' and '.join(standard)} both write to standard output: give one of them.")
    return bool(standard)


def _call_each(command: Callable[..., None], plans: list[Path], given: dict[str, Any]) -> None:
    """Run a command for one plan after another; a plan that is wrong is told, and the others are done all the same.

    The exit code is 2 if one is wrong, else 1 if one failed. As data all is one document, {"plans": [...]}.
    """
    as_json = bool(given.get("as_json"))
    CALL.collected = [] if as_json else None
    codes = [0]
    try:
        for number, path in enumerate(plans):
            if not as_json:
                print("\n" * (number > 0) + styled(str(path), "bold"))
            codes.append(_code_of(command, path, given))
            if codes[-1] == STOPPED:
                break
    finally:
        documents, CALL.collected = CALL.collected, None
        if as_json:
            print_json({"plans": documents})
    if max(codes):
        raise typer.Exit(max(codes))


def _code_of(command: Callable[..., None], path: Path, given: dict[str, Any]) -> int:
    """The exit code of a command for one of several plans."""
    try:
        command(**given | {"plan": path})
    except typer.Exit as end:
        return end.exit_code
    except Exception as error:
        text = error_text(error)
        if text is None:
            raise
        if CALL.collected is not None:
            CALL.collected.append({"plan": str(path), "error": error_data(error)})
        else:
            print(f"tickwright: {text}", file=sys.stderr)
        return 2
    return 0
