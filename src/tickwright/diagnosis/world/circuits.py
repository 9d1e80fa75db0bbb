"""The circuits of the bench: one plan file each, and the order in which they tell most for their parts."""

from __future__ import annotations

from pathlib import Path

from tickwright.errors import UsageError, near
from tickwright.plan.files import load
from tickwright.plan.model import Plan

FOLDER = Path(__file__).with_name("plans")


def bench_names() -> tuple[str, ...]:
    """The circuits of the bench, in the order in which they tell most for their parts."""
    return tuple((FOLDER / "order.txt").read_text("utf-8").split())


def bench_plan(name: str) -> Plan:
    """A circuit of the bench. Raises UsageError for a name that is none.

    >>> bench_plan("button-lamp").title
    'Button and lamp'
    """
    if name not in bench_names():
        raise UsageError(f'There is no circuit "{name}" on the bench.{near(name, bench_names())}')
    return load(FOLDER / f"{name}.toml")
