"""Tickwright: design, run, verify, compare and publish timing circuits made of blocks.

>>> from tickwright import loads, measure
>>> plan = loads('''format = "tickwright plan 1"
... key = {"#" = "block", b = "short-button", L = "lamp"}
... layer = [{rows = "#"}, {rows = "bL"}]
... triggers = {press = [0, 0, 1]}
... outputs = {lamp = [1, 0, 1]}''')
>>> measure(plan)[0].hold_steps
24
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from tickwright.durations import parse_duration
from tickwright.engine import Run, Trace, first_difference, run
from tickwright.errors import TickwrightError
from tickwright.findings import Finding
from tickwright.measure import Measurement, measure
from tickwright.plan import Expectation, Plan, load, loads
from tickwright.rules import RuleSet, load_rules

if TYPE_CHECKING:
    from tickwright.dossier import Dossier, gather
    from tickwright.verify import Proof, Verdict, check, compare, prove

__version__ = "0.1.0"
__all__ = [
    "Dossier",
    "Expectation",
    "Finding",
    "Measurement",
    "Plan",
    "Proof",
    "RuleSet",
    "Run",
    "TickwrightError",
    "Trace",
    "Verdict",
    "check",
    "compare",
    "first_difference",
    "gather",
    "load",
    "load_rules",
    "loads",
    "measure",
    "parse_duration",
    "prove",
    "run",
]

_LATE = {
    "Dossier": "dossier",
    "Proof": "verify",
    "Verdict": "verify",
    "check": "verify",
    "compare": "verify",
    "gather": "dossier",
    "prove": "verify",
}


def __getattr__(name: str) -> Any:
    """Import what takes many runs only when it is asked for: a short job starts sooner without it."""
    if name in _LATE:
        return getattr(import_module(f"tickwright.{_LATE[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
