"""Values as notebooks show them: a plan as a picture, a run as lanes, a measurement and a proof as a table."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from tickwright.durations import time_text
from tickwright.engine import Run, Trace
from tickwright.measurement import Measurement
from tickwright.plan import Plan
from tickwright.publish import isometric_drawing, lanes, svg_text
from tickwright.rules import load_rules
from tickwright.verify import Proof

__all__ = ["measurement_html", "plan_svg", "proof_html", "run_html", "trace_html"]

WIDTH = 100  # characters of lanes


def plan_svg(plan: Plan) -> str:
    """The picture of a plan as laid, as SVG."""
    return svg_text(isometric_drawing(plan, load_rules(plan.rules)))


def trace_html(trace: Trace) -> str:
    """A trace as lanes."""
    return f"<pre>{escape(chr(10).join(lanes(trace, None, WIDTH)))}</pre>"


def run_html(run: Run) -> str:
    """A run as its lanes, and what came up."""
    found = "".join(f"<p>{escape(finding.severity)}: {escape(finding.message)}</p>" for finding in run.findings)
    return f"{trace_html(run.trace)}{found}"


def measurement_html(found: Measurement) -> str:
    """A measurement as a table of one row."""
    times = (found.delay_steps, found.hold_steps, found.minimum_trigger_steps, found.margin_steps)
    cells = [found.trigger, found.output, found.kind_text, *("-" if one is None else time_text(one) for one in times)]
    return _table(("trigger", "output", "kind", "delay", "hold", "minimum trigger", "margin"), [cells])


def proof_html(proof: Proof) -> str:
    """A proof as a table: its verdict, its claim, and for what it holds."""
    rows = [("verdict", proof.verdict), ("claim", proof.claim), ("for", proof.bound), ("states", f"{proof.states:,}")]
    if proof.counterexample:
        rows.append(("counterexample", ", ".join(proof.counterexample)))
    return _table(("", ""), rows)


def _table(heads: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    head = "".join(f"<th>{escape(one)}</th>" for one in heads)
    body = "".join("<tr>" + "".join(f"<td>{escape(one)}</td>" for one in row) + "</tr>" for row in rows)
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
