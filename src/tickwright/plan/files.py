"""Plan files: load and save, the text kept as it is wherever the plan did not change."""

from __future__ import annotations

import os
import stat
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

from tickwright.arguments import checked
from tickwright.errors import PlanError, RuleSetError, reason
from tickwright.memory import collection_paused
from tickwright.plan.limits import check_limits
from tickwright.plan.model import Plan
from tickwright.plan.modules import own
from tickwright.plan.reading import read_plan
from tickwright.plan.validate import validate
from tickwright.rules import load_rules
from tickwright.toml import BYTE_ORDER_MARK, LARGEST_PLAN_BYTES, plain_newlines, read_text, shown


@checked
def load(path: str | os.PathLike[str], checked: bool = True) -> Plan:
    """Read the plan file at `path` and check it under the rules that it names; `checked` is as for `loads`.

    Raises PlanError, with the file, line and column, for whatever is wrong with the file or the plan.
    """
    try:
        return loads(read_text(path, LARGEST_PLAN_BYTES), path, checked)
    except PlanError as error:
        raise PlanError(error.message, error.line, error.column, str(path), error.cells) from None


@checked
def loads(text: str, path: str | os.PathLike[str] | None = None, checked: bool = True) -> Plan:
    r"""Read a plan file's text; a rules file that it names is sought beside `path`.

    Without `checked` rules are not looked at, so that work in progress can be read. Raises PlanError with line and
    column.

    >>> plan = loads('format = "tickwright plan 1"\nlegend = {w = "wire", "#" = "block"}\n'
    ...              'layer = [{rows = "##"}, {rows = "ww"}]')
    >>> plan.size, plan.bill()
    ((2, 1, 2), {'block': 2, 'wire': 2})
    """
    with collection_paused():
        plan, places = read_plan(text, *_home(path))
        if checked:
            folder = Path(path).parent if path is not None else None
            try:
                rules = load_rules(plan.rules, folder)
            except RuleSetError as error:
                raise places.error(str(error), "rules") from None
            validate(plan, rules, places)
    return replace(plan, path=str(path) if path is not None else None, source=text)


@checked
def dumps(plan: Plan) -> str:
    """The plan as the text of a plan file, which `loads` reads back to an equal plan.

    A plan that is as its `source` says gives that text back, byte for byte. After an edit only what changed is changed:
    comments, layout, line ends and key characters stay. A plan without source is laid out afresh. Rules are not looked
    at, so that work in progress can be saved.

    Raises PlanError if the plan is beyond the limits or holds what no plan file can say.

    >>> from tickwright.kinds import parse_part
    >>> print(dumps(Plan({(0, 0, 0): parse_part("block"), (1, 0, 0): parse_part("torch on=west")})), end="")
    format = "tickwright plan 1"
    <BLANKLINE>
    [legend]
    "#" = "block"
    "t" = "torch on=west"
    <BLANKLINE>
    [[layer]]
    rows = \"\"\"
    #t
    \"\"\"
    """
    from tickwright.plan.writing import changed_text, fresh_text  # not loaded by those who only read

    old = read_plan(plan.source, *_home(plan.path))[0] if plan.source is not None else None
    if plan.source is not None and plan == old:
        return plan.source
    if plan.size[2] == 0:
        raise PlanError("The plan is empty: a plan file has at least one layer; place a part first.")
    check_limits(plan)
    if plan.source is not None and old is not None:
        text = changed_text(own(plan), own(old), plain_newlines(plan.source))
    else:
        text = fresh_text(own(plan))
    _check_written(text, plan)
    return _like_source(text, plan.source) if plan.source is not None else text


@checked
def save(plan: Plan, path: str | os.PathLike[str]) -> None:
    """Write the plan file at `path`, whole or not at all; the text is that of `dumps`.

    Raises PlanError if the plan cannot be said in a file, or the file cannot be written.
    """
    data = dumps(plan).encode("utf-8")
    beside: Path | None = None
    try:
        goal = Path(path).resolve()  # what a link leads to is replaced, not the link
        beside = goal.with_name(f".{goal.name}.{os.getpid()}.new")
        beside.write_bytes(data)
        if goal.exists():
            beside.chmod(stat.S_IMODE(goal.stat().st_mode))
        beside.replace(goal)
    except (OSError, ValueError) as error:
        if beside is not None:
            with suppress(OSError):
                beside.unlink()
        raise PlanError(f"The file {shown(str(path), 200)} cannot be written: {reason(error)}.") from None


def examples_folder() -> Path:
    """Where the example plans lie: in the package as installed, else beside the source."""
    here = Path(__file__).resolve()
    for folder in (here.parents[1] / "examples", here.parents[3] / "examples"):
        if folder.is_dir():
            return folder
    raise PlanError(f"The example plans are not beside {here.parents[1]}: install tickwright again.")


def _home(path: str | os.PathLike[str] | None) -> tuple[Path | None, tuple[Path, ...]]:
    """The folder of a plan's file, where its modules lie, and the file itself, which none of them may use."""
    return (None, ()) if path is None else (Path(path).parent, (Path(path).resolve(),))


def _check_written(text: str, plan: Plan) -> None:
    """What was written must read as the plan; a Plan made by hand may hold what no file can say."""
    try:
        same = read_plan(text, *_home(plan.path))[0] == plan
    except PlanError as error:
        raise PlanError(f"The plan cannot be written as a file: {error.message}") from None
    if not same:
        raise PlanError("The plan holds a part that no plan file can say: make its parts with parse_part.")


def _like_source(text: str, source: str) -> str:
    """The text with the byte order mark and the line ends of the source."""
    mark = BYTE_ORDER_MARK if source.startswith(BYTE_ORDER_MARK) else ""
    return mark + (text.replace("\n", "\r\n") if "\r\n" in source else text)
