"""Charts: claims over time. Notation and its parser, moments, machines, and the verdicts that a run earns.

Imports up to `measurement`. Claims ask a Timeline, whatever made it; no other package has an idea of its own of a span,
a moment or a state of a machine.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tickwright.lazy import lazy_exports

if TYPE_CHECKING:
    from tickwright.charts.checking import ChartVerdict, check_charts, judge_run, machines_for, play_chart, run_chart
    from tickwright.charts.drafting import Drafted, draft_chart
    from tickwright.charts.judging import ClaimVerdict, judge, wanted_trace
    from tickwright.charts.machines import watched
    from tickwright.charts.moments import EarlySpan, moment_times, next_time, solved, wanted_spans
    from tickwright.charts.notation import Names
    from tickwright.charts.parsing import NotationError, parse_claim, parse_condition, parse_hand_line, parse_transition
    from tickwright.charts.playing import Played, Stage, play
    from tickwright.charts.reading import ChartReader, Charts, charts_of
    from tickwright.charts.shifting import Edge, edges_of, moved
    from tickwright.charts.timeline import Timeline, Wave

__all__ = [
    "ChartReader",
    "ChartVerdict",
    "Charts",
    "ClaimVerdict",
    "Drafted",
    "EarlySpan",
    "Edge",
    "Names",
    "NotationError",
    "Played",
    "Stage",
    "Timeline",
    "Wave",
    "charts_of",
    "check_charts",
    "draft_chart",
    "edges_of",
    "judge",
    "judge_run",
    "machines_for",
    "moment_times",
    "moved",
    "next_time",
    "parse_claim",
    "parse_condition",
    "parse_hand_line",
    "parse_transition",
    "play",
    "play_chart",
    "run_chart",
    "solved",
    "wanted_spans",
    "wanted_trace",
    "watched",
]

__getattr__ = lazy_exports(
    __name__,
    {
        "checking": ("ChartVerdict", "check_charts", "judge_run", "machines_for", "play_chart", "run_chart"),
        "drafting": ("Drafted", "draft_chart"),
        "judging": ("ClaimVerdict", "judge", "wanted_trace"),
        "machines": ("watched",),
        "moments": ("EarlySpan", "moment_times", "next_time", "solved", "wanted_spans"),
        "notation": ("Names",),
        "parsing": ("NotationError", "parse_claim", "parse_condition", "parse_hand_line", "parse_transition"),
        "playing": ("Played", "Stage", "play"),
        "reading": ("ChartReader", "Charts", "charts_of"),
        "shifting": ("Edge", "edges_of", "moved"),
        "timeline": ("Timeline", "Wave"),
    },
)
