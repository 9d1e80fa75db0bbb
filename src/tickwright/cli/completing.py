"""What the shell completes: kinds of parts, rule sets, codes, claims, and the names in the plan that stands before."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import suppress
from pathlib import Path

import typer

from tickwright import Plan
from tickwright import load as load_file
from tickwright.errors import TickwrightError
from tickwright.kinds import PARTS
from tickwright.rules import BUILT_IN

Complete = Callable[[typer.Context, str], list[str]]


def completions(name: str) -> Complete | None:
    """What completes a command's parameter of this name; None if nothing is known."""
    return _KNOWN.get(name)


def _among(words: Callable[[Path | None], Iterable[str]]) -> Complete:
    """Complete to those of some words, got when asked for, that begin with what is typed; after a comma go on."""

    def complete(context: typer.Context, incomplete: str) -> list[str]:
        before, comma, typed = incomplete.rpartition(",")
        found = words(_plan_file(context))
        return [f"{before}{comma}{word}" for word in found if word.startswith(typed.lstrip())]

    return complete


def _plan_file(context: typer.Context) -> Path | None:
    """The plan that stands on the line already, if there is one."""
    given = context.params.get("plan") or context.params.get("plans") or ()
    return next((Path(path) for path in (*given, *context.args) if Path(path).is_file()), None)


def _names(read: Callable[[Plan], Iterable[str]]) -> Complete:
    def names(path: Path | None) -> Iterable[str]:
        with suppress(TickwrightError, OSError):
            return list(read(load_file(path))) if path is not None else []
        return []

    return _among(names)


def _acts(context: typer.Context, incomplete: str) -> list[str]:
    """STEP:NAME and STEP:NAME:ACT, once the step is typed."""
    step, colon, rest = incomplete.partition(":")
    path = _plan_file(context)
    if not colon or path is None:
        return []
    with suppress(TickwrightError, OSError):
        plan = load_file(path)
        name, second, typed = rest.partition(":")
        if not second:
            return [f"{step}:{one}" for one in plan.triggers if one.startswith(name)]
        if name in plan.triggers:
            acts = PARTS[plan.cells[plan.triggers[name]].kind].acts
            return [f"{step}:{name}:{act}" for act in acts if act.startswith(typed)]
    return []


def _codes(_path: Path | None) -> Iterable[str]:
    from tickwright.diagnosis import CODES

    return list(CODES)


def _claims(_path: Path | None) -> Iterable[str]:
    from tickwright.verify import CLAIMS

    return list(CLAIMS)


def _rule_sets(_path: Path | None) -> Iterable[str]:
    own = []
    for path in sorted(Path().glob("*.toml")):
        with suppress(OSError):
            if "based_on" in path.read_text(encoding="utf-8", errors="replace"):
                own.append(str(path))
    return [*BUILT_IN, *own]


_KINDS = _among(lambda _path: list(PARTS))
_KNOWN: dict[str, Complete] = {
    "chart": _names(lambda plan: [chart.name for chart in plan.charts]),
    "claim": _among(_claims),
    "code": _among(_codes),
    "do": _acts,
    "kind": _KINDS,
    "only": _KINDS,
    "order": _among(lambda _path: ["canonical", "reversed"]),
    "output": _names(lambda plan: plan.outputs),
    "name": _among(lambda _path: ["answers", "plan", "brief"]),
    "rules": _among(_rule_sets),
    "trigger": _names(lambda plan: plan.triggers),
    "without": _KINDS,
    "words": _among(lambda path: [*_rule_sets(path), "diff"]),
}
