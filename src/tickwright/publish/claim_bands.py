"""What charts want of outputs, as bands behind the lanes of a timing chart, with the difference to what was seen."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from tickwright.charts import ClaimVerdict
from tickwright.durations import duration_text
from tickwright.publish.canvas import Drawing
from tickwright.publish.chart import Band, Places, places_of, timing_chart
from tickwright.publish.tokens import Theme

if TYPE_CHECKING:
    from tickwright.recording import ChartRun

SpanSteps = tuple[int, int | None]


def bands_of_claims(verdicts: Sequence[ClaimVerdict], steps: int, later_steps: int = 0) -> dict[str, list[Band]]:
    """The wanted spans of each output, its claims in their order; those of a failed claim tell the difference.

    `steps` is how long the run of the chart is, where spans without an end stop; all lie `later_steps` later.

    >>> claim = ClaimVerdict("lamp", "lamp: on from press for 1 s", False, ((0, 20),), ((4, 14),))
    >>> band = bands_of_claims([claim], 60)["lamp"][0]
    >>> band.text, band.missing, band.missing_from
    ('wanted 1 s, begins 0.2 s late', '0.3 s short', 14)
    """
    bands: dict[str, list[Band]] = {}
    for verdict in verdicts:
        for begin, end in verdict.wanted:
            stop = min(steps if end is None else end, steps)
            if begin >= stop:
                continue
            text = f"wanted {duration_text(end - begin)}" if end is not None else "wanted for good"
            seen = next(
                (span for span in verdict.seen if span[0] < stop and (span[1] is None or span[1] > begin)), None
            )
            missing, missing_from = "", None
            if not verdict.passed and seen is None:
                missing = "missing"
            elif not verdict.passed and seen is not None:
                text += _shift(begin, seen[0])
                if seen[1] is not None and seen[1] < stop:
                    missing, missing_from = f"{duration_text(stop - seen[1])} short", seen[1] + later_steps
                elif end is not None and (seen[1] is None or seen[1] > end):
                    text += ", too long" if seen[1] is None else f", {duration_text(seen[1] - end)} too long"
            band = Band(begin + later_steps, stop + later_steps, text, missing, missing_from)
            bands.setdefault(verdict.name, []).append(band)
    return bands


def run_bands(run: ChartRun) -> dict[str, list[Band]]:
    """The bands of a chart's run, by output, in steps after the first act of it."""
    return bands_of_claims(run.verdict.claims, run.verdict.played.timeline.steps, run.later_steps)


def claims_drawing(run: ChartRun, theme: Theme = "light") -> Drawing:
    """The run of a chart over time, with what its claims want of each output behind the bars: the one picture of it."""
    return timing_chart({_title(run): run.recording}, theme, run_bands(run))


def claims_places(run: ChartRun) -> Places:
    """Where `claims_drawing` draws its lanes."""
    return places_of({_title(run): run.recording}, run_bands(run))


def _title(run: ChartRun) -> str:
    plan = run.recording.plan
    called = plan.title or (Path(plan.path).stem if plan.path else "Untitled plan")
    return f"{called}: {run.verdict.chart}"


def _shift(wanted: int, seen: int) -> str:
    if wanted == seen:
        return ""
    return f", begins {duration_text(abs(seen - wanted))} {'late' if seen > wanted else 'early'}"
