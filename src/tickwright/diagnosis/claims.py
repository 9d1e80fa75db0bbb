"""Charts in a diagnosis: claims that a plan does not keep, with changes of one part that may let it keep them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from tickwright.diagnosis.evidence import Evidence
from tickwright.diagnosis.suspicion import Suspicion, put, suspicion
from tickwright.durations import duration_text
from tickwright.errors import PlanError
from tickwright.findings import Repair
from tickwright.kinds import part_text
from tickwright.space import Cell

if TYPE_CHECKING:
    from tickwright.charts import ClaimVerdict, Played
    from tickwright.charts.notation import ReadChart

OTHERWISE = ("wrong-delay", "wrong-mode", "wrong-facing")  # what one part set otherwise is called in a build
MOST_SPANS = 3
SpanSteps = tuple[int, int | None]


def claims_not_kept(ev: Evidence) -> Iterator[Suspicion]:
    """Every claim of the plan's charts that its run does not keep; if one trigger is named, of charts that work it.

    Raises PlanError for a chart that cannot be read.
    """
    if not ev.plan.charts or ev.length_steps is not None:
        return
    from tickwright.charts import charts_of, check_charts  # most plans have none, and measuring should start at once

    for chart in charts_of(ev.plan).charts:
        if ev.trigger is not None and all(line.who != ev.trigger for line in chart.hand or ()):
            continue
        try:
            verdict = check_charts(ev.plan, ev.rules, chart.name)[0]
        except PlanError as error:
            message = f'The chart "{chart.name}" cannot be judged. {error.message}'
            yield suspicion("claim-not-kept", message, _cells(ev, chart, None))
            continue
        for claim in verdict.claims:
            if not claim.passed:
                yield suspicion(
                    "claim-not-kept",
                    _message(chart.name, claim),
                    _cells(ev, chart, claim),
                    _steps(claim, verdict.played),
                    _set_otherwise(ev),
                )


def _message(chart: str, claim: ClaimVerdict) -> str:
    follows = f", which follows {claim.follows}," if claim.follows else ""
    spans = ""
    if claim.wanted or claim.seen:
        spans = f" Wanted {spans_text(claim.wanted)}; seen {spans_text(claim.seen)}."
    return f'In chart "{chart}" the claim "{claim.claim}"{follows} is not kept: {claim.detail}.{spans}'


def spans_text(spans: Sequence[SpanSteps]) -> str:
    """Spans of steps from time 0 in words.

    >>> spans_text([(8, 32), (40, None)])
    '0.4 s to 1.6 s, 2 s for good'
    """
    told = [
        f"{duration_text(begin)} " + ("for good" if end is None else f"to {duration_text(end)}")
        for begin, end in spans[:MOST_SPANS]
    ]
    more = [f"{len(spans) - MOST_SPANS} more"] if len(spans) > MOST_SPANS else []
    return ", ".join([*told, *more]) or "nothing"


def _cells(ev: Evidence, chart: ReadChart, claim: ClaimVerdict | None) -> tuple[Cell, ...]:
    """The cell of the output or trigger that the claim is about; of all claims of the chart if none is given."""
    places = {**ev.plan.triggers, **ev.plan.outputs}
    return tuple(places[name] for name in ([claim.name] if claim else [one.name for one in chart.claims]))


def _steps(claim: ClaimVerdict, played: Played) -> tuple[int, ...]:
    """The first edge that is wanted and not seen, or seen and not wanted, as a step of the world."""
    wanted, seen = (
        {step for span in spans for step in span if step is not None} for spans in (claim.wanted, claim.seen)
    )
    return tuple(played.zero_step + step for step in sorted(wanted ^ seen)[:1])


def _set_otherwise(ev: Evidence) -> Iterator[Repair]:
    """One part set otherwise: another delay, mode or facing, what is likeliest first."""
    from tickwright.diagnosis.mistakes import single_mistakes

    for mistake in single_mistakes(ev.setup):
        if mistake.kind in OTHERWISE:
            (cell, part), *_ = mistake.changes
            assert part is not None
            yield Repair(f"Make the {part.kind} at {cell} a {part_text(part)}.", (put(cell, part),))
