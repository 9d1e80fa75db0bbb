"""Charts on traces of either engine: an output that shows a part, and the verdicts that the traces earn."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import pytest

from tickwright import check_charts, load, run
from tickwright.charts import charts_of, judge
from tickwright.charts.timeline import Timeline, wave_of
from tickwright.engine.native import is_installed
from tickwright.engine.trace import Trace

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"


if not is_installed() and not os.environ.get("TICKWRIGHT_REQUIRE_TOOLS"):
    pytest.skip("the fast engine is not built here", allow_module_level=True)


def seen_in(trace: Trace, zero: int, timeline: Timeline) -> Timeline:
    """The run with what a trace from the start of the world shows in the place of what was recorded."""
    outputs, levels = {}, {}
    for name, pairs in trace.changes.items():
        before = [value for step, value in pairs if step < max(zero, 1)][-1]
        levels[name] = ((0, before), *((step - zero, value) for step, value in pairs if step >= max(zero, 1)))
        outputs[name] = wave_of(levels[name], before > 0)
    return replace(timeline, outputs=outputs, levels=levels)


@pytest.mark.parametrize("name", ["piston-gate", "gate-and-bell", "toggle", "standing-light"])
def test_both_engines_show_the_same_and_keep_the_same_claims(name):
    plan = load(EXAMPLES / f"{name}.toml")
    verdict = check_charts(plan)[0]
    played = verdict.played
    steps = played.zero_step + played.timeline.steps
    traces = [run(plan, played.script, steps, engine=engine).trace for engine in ("reference", "fast")]
    assert traces[0] == traces[1]
    chart = charts_of(plan).chart(verdict.chart)
    claims = [claim for claim in chart.claims if not claim.is_policy]
    own = [claim for claim, read in zip(verdict.claims, chart.claims, strict=True) if not read.is_policy]
    assert judge(claims, seen_in(traces[1], played.zero_step, played.timeline)) == own
    assert own


def test_the_gate_shows_its_part_under_both_engines():
    plan = load(EXAMPLES / "piston-gate.toml")
    assert "gate" in plan.part_outputs
    shown = [dict(run(plan, ["0:press"], 80, engine=engine).trace.changes)["gate"] for engine in ("reference", "fast")]
    assert shown[0] == shown[1]
    assert {value for _, value in shown[0]} == {0, 15}
