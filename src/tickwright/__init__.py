"""Tickwright: design, run, verify, compare and publish timing circuits made of blocks.

>>> from tickwright import loads, measure
>>> plan = loads('''format = "tickwright plan 1"
... legend = {"#" = "block", b = "short-button", L = "lamp"}
... layer = [{rows = "#"}, {rows = "bL"}]
... triggers = {press = [0, 0, 1]}
... outputs = {lamp = [1, 0, 1]}''')
>>> measure(plan)[0].hold_steps
24
"""

from __future__ import annotations

from tickwright.lazy import lazy_exports
from tickwright.looks import register_looks

TYPE_CHECKING = False  # typing loads for longer than Ctrl-C should have to wait for the program to begin

if TYPE_CHECKING:
    from tickwright.charts import ChartVerdict, check_charts, draft_chart
    from tickwright.design import Chosen, Design, Tuned, Tuning, Wish, choose, tune
    from tickwright.design.compose import Composed, compose, load_brief
    from tickwright.diagnosis import Diagnosis, diagnose, why
    from tickwright.dossier import Dossier, gather
    from tickwright.durations import parse_duration
    from tickwright.engine import Run, Trace, first_difference, run
    from tickwright.errors import TickwrightError
    from tickwright.findings import Edit, Finding, Repair
    from tickwright.measurement import Measurement, measure
    from tickwright.plan import Chart, Expectation, Plan, load, loads
    from tickwright.rules import RuleSet, load_rules
    from tickwright.sweeps import grid, sweep
    from tickwright.verify import Proof, Verdict, check, compare, prove, prove_chart

__version__ = "0.1.0"
__all__ = [
    "Chart",
    "ChartVerdict",
    "Chosen",
    "Composed",
    "Design",
    "Diagnosis",
    "Dossier",
    "Edit",
    "Expectation",
    "Finding",
    "Measurement",
    "Plan",
    "Proof",
    "Repair",
    "RuleSet",
    "Run",
    "TickwrightError",
    "Trace",
    "Tuned",
    "Tuning",
    "Verdict",
    "Wish",
    "check",
    "check_charts",
    "choose",
    "compare",
    "compose",
    "diagnose",
    "draft_chart",
    "first_difference",
    "gather",
    "grid",
    "load",
    "load_brief",
    "load_rules",
    "loads",
    "measure",
    "parse_duration",
    "prove",
    "prove_chart",
    "run",
    "sweep",
    "tune",
    "why",
]

register_looks(
    {
        "Measurement": ("tickwright.notebook", "measurement_html"),
        "Plan": ("tickwright.notebook", "plan_svg"),
        "Proof": ("tickwright.notebook", "proof_html"),
        "Run": ("tickwright.notebook", "run_html"),
        "Trace": ("tickwright.notebook", "trace_html"),
    }
)
__getattr__ = lazy_exports(
    __name__,
    {
        "charts": ("ChartVerdict", "check_charts", "draft_chart"),
        "design.compose": ("Composed", "compose", "load_brief"),
        "design": ("Chosen", "Design", "Tuned", "Tuning", "Wish", "choose", "tune"),
        "diagnosis": ("Diagnosis", "diagnose", "why"),
        "dossier": ("Dossier", "gather"),
        "durations": ("parse_duration",),
        "engine": ("Run", "Trace", "first_difference", "run"),
        "errors": ("TickwrightError",),
        "findings": ("Edit", "Finding", "Repair"),
        "measurement": ("Measurement", "measure"),
        "plan": ("Chart", "Expectation", "Plan", "load", "loads"),
        "rules": ("RuleSet", "load_rules"),
        "sweeps": ("grid", "sweep"),
        "verify": ("Proof", "Verdict", "check", "compare", "prove", "prove_chart"),
    },
)
