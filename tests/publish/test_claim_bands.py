"""What charts want as bands over the lanes, and the drawn charts of docs/charts.md, which runs make now."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from golden import hold_to
from tickwright import load
from tickwright.charts import ClaimVerdict
from tickwright.publish import bands_of_claims, claims_drawing, svg_text
from tickwright.recording import record_chart

ROOT = Path(__file__).resolve().parents[2]


def drawn(plan):
    return svg_text(claims_drawing(record_chart(plan)))


def test_the_drawn_charts_of_the_page():
    plan = load(ROOT / "examples/gate-and-bell.toml")
    hold_to(ROOT / "docs/pictures/chart-kept.svg", drawn(plan))
    longer = tuple(text.replace("for 1.4 s", "for 2 s") for text in plan.charts[0].shows)
    changed = replace(plan, charts=(replace(plan.charts[0], shows=longer),))
    hold_to(ROOT / "docs/pictures/chart-failed.svg", drawn(changed))


def bands(wanted, seen, passed=False):
    claim = ClaimVerdict("lamp", "lamp: ...", passed, tuple(wanted), tuple(seen))
    return [(one.start, one.stop, one.text, one.missing) for one in bands_of_claims([claim], 100).get("lamp", [])]


def test_bands_tell_the_difference():
    assert bands([(0, 20)], [(0, 20)], True) == [(0, 20, "wanted 1 s", "")]
    assert bands([(0, 20)], []) == [(0, 20, "wanted 1 s", "missing")]
    assert bands([(10, 30)], [(4, 30)]) == [(10, 30, "wanted 1 s, begins 0.3 s early", "")]
    assert bands([(10, 30)], [(10, 20)]) == [(10, 30, "wanted 1 s", "0.5 s short")]
    assert bands([(10, 30)], [(10, None)]) == [(10, 30, "wanted 1 s, too long", "")]
    assert bands([(10, None)], [(10, 60)]) == [(10, 100, "wanted for good", "2 s short")]
