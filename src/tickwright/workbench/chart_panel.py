"""Chart: what the plan must do over time. Its claims with their verdicts, and its run with edges to be dragged."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any

from nicegui import background_tasks, ui

from tickwright import Plan, TickwrightError, parse_duration
from tickwright.charts import ClaimVerdict, Names, NotationError, charts_of, moved, parse_claim
from tickwright.durations import duration_text
from tickwright.errors import UsageError
from tickwright.plan import Chart
from tickwright.workbench.cells import rules_of
from tickwright.workbench.elements import ChartLanes, attempt, button, choice, field, section
from tickwright.workbench.jobs import Cancelled
from tickwright.workbench.telling import EdgeMoved, hear

if TYPE_CHECKING:
    from tickwright.workbench.page import Page

MARKS = {True: "✓", False: "✗", None: "…"}
SAID = {True: "kept", False: "not kept", None: "being tried"}
MOST_SECONDS = 120


class ClaimRow:
    """One claim as a line of text, with its verdict before it and what differs below it."""

    def __init__(self, panel: ChartPanel, number: int, text: str) -> None:
        with ui.element("div").classes("claim").mark(f"claim-{number}"):
            with ui.element("div").classes("claim-line"):
                self.mark = ui.label(MARKS[None]).classes("claim-mark").props("role=img")
                self.text = field(f"Claim {number + 1}", text).mark(f"claim-text-{number}")
                self.text.props("autogrow")
                for event in ("change", "keydown.enter.prevent"):
                    self.text.on(event, lambda _: attempt(lambda: panel.set_claim(number, self)))
                button("Take out", partial(panel.take_out, number), kind="small", name=f"Take out claim {number + 1}")
            self.detail = ui.label("").classes("hint")
        self.show(None)

    def refuse(self, trouble: str | None) -> None:
        """Say at the field why its text cannot be read, with no verdict of another one beside it; None: it can."""
        self.text.error = trouble
        if trouble is not None:
            self.show(None)

    def show(self, verdict: ClaimVerdict | None) -> None:
        """Show the verdict; None while it is not known."""
        passed = verdict.passed if verdict is not None else None
        self.mark.set_text("" if self.text.error else MARKS[passed])
        self.mark.props(f'aria-label="{SAID[passed]}"')
        self.mark.classes(remove="good bad", add={True: "good", False: "bad", None: ""}[passed])
        told = verdict.detail if verdict is not None else ""
        if verdict is not None and verdict.follows:
            told += f" (follows {verdict.follows})"
        self.detail.set_text(told)
        self.detail.classes(remove="hint bad", add="bad" if passed is False else "hint")
        self.detail.set_visibility(bool(told))


class ChartPanel:
    """The panel of the plan's charts: `refresh` it when the plan is another one, `show` it when it comes into view."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.session = page.session
        self.name: str | None = None  # of the chart that is shown
        self.rows: list[ClaimRow] = []
        self.asked: tuple[Any, ...] | None = None  # what is shown, or being worked out
        with ui.element("div").classes("chart"):
            with ui.element("div").classes("stack"):
                self._left()
            with ui.element("div").classes("stack"):
                self.lanes = ChartLanes()
                hear(self.lanes, "edge", EdgeMoved, lambda told: attempt(lambda: self.move_edge(told)))
                self.script = ui.label("").classes("hint code")
                ui.label(
                    "A band is what is wanted, a bar what was seen; what is missing is hatched. Drag an edge, or press "
                    "the left and right arrow keys on it. Times assume a world at its full 20 steps a second."
                ).classes("hint")

    def _left(self) -> None:
        with section("Claims", "What each output must do after the hand acts; kept in the plan's file."):
            self.which = choice("Chart", [], None, self._choose).mark("chart-name")
            self.verdict = ui.label("").classes("answer-name").props('aria-live="polite"')
            self.trouble = ui.label("").classes("bad").props("role=alert").mark("chart-trouble")
            self.claims = ui.element("div").classes("stack")
            self.added = field("Add a claim, such as lamp: on from press + 0.4 s for 2 s").mark("claim-add")
            self.added.on("keydown.enter", lambda _: attempt(self.add_claim))
            with ui.element("div").classes("row-line"):
                button("Add claim", self.add_claim)
                button("Write what it does now", self.draft, "A chart of the plan as it is, in claims that are exact")
        with section("Hand and time"):
            self.hand = field("Hand, one act after another with ; between").mark("chart-hand")
            self.hand.props('placeholder="the one trigger, worked at 0"')
            self.hand.on("change", lambda _: attempt(lambda: self.set_hand(self.hand)))
            self.watch = field("Watched for").mark("chart-watch").props('placeholder="until all rests"')
            self.watch.on("change", lambda _: attempt(lambda: self.set_watch(self.watch)))

    # --- what is shown ---------------------------------------------------------------------------------------------

    @property
    def plan(self) -> Plan:
        """The plan that is open."""
        return self.session.document.plan

    @property
    def number(self) -> int | None:
        """Which of the plan's charts is shown; None if it has none."""
        names = [chart.name for chart in self.plan.charts]
        return names.index(self.name) if self.name in names else 0 if names else None

    @property
    def chart(self) -> Chart | None:
        """The chart that is shown."""
        return self.plan.charts[self.number] if self.number is not None else None

    def show(self) -> None:
        """The panel comes into view."""
        self.refresh()

    def refresh(self) -> None:
        """Show the chart as it is now, and work out what comes of it if that is not known; nothing while unseen."""
        if not self.page.shows_chart:
            return
        chart = self.chart
        names = [one.name for one in self.plan.charts]
        self.which.set_options(names, value=chart.name if chart else None)
        self.which.set_visibility(len(names) > 1)
        shows = chart.shows if chart else ()
        if [row.text.value for row in self.rows] != list(shows):
            self.claims.clear()
            with self.claims:
                self.rows = [ClaimRow(self, number, text) for number, text in enumerate(shows)]
        self.hand.set_value("; ".join(chart.hand) if chart and chart.hand else "")
        self.watch.set_value(duration_text(chart.watch_steps) if chart and chart.watch_steps else "")
        asked = (self.plan, rules_of(self.session.document)[0], chart.name if chart else None)
        if asked != self.asked:
            self.asked = asked
            self._tell_readable()
            background_tasks.create(self._work(asked), name="chart")

    def _tell_readable(self) -> None:
        """Say at each claim that cannot be read why."""
        for row in self.rows:
            try:
                parse_claim(row.text.value, names_of(self.plan))
            except NotationError as error:
                row.refuse(trouble_text(error))
            else:
                row.refuse(None)

    async def _work(self, asked: tuple[Any, ...]) -> None:
        """The run of the chart, and then its policies, each told when it is known if nothing newer was asked."""
        plan, rules, name = asked
        self.session.worker("policies").cancel()
        if name is None:
            self._tell(None, (), "")
            return
        try:
            found = await self.session.worker("chart").do("chart", plan, rules, name, most_seconds=MOST_SECONDS)
            if asked != self.asked:
                return
            verdicts = placed(plan, name, found["verdicts"])
            self._tell(found, verdicts, "")
            if None in verdicts:
                every = await self.session.worker("policies").do("policies", plan, rules, name, keeps=False)
                if asked == self.asked:
                    self._tell(found, every, "")
        except Cancelled:
            return
        except TickwrightError as error:
            if asked == self.asked:
                self._tell(None, (), str(error))

    def _tell(self, found: dict[str, Any] | None, verdicts: Sequence[ClaimVerdict | None], trouble: str) -> None:
        self.trouble.set_text(trouble)
        self.trouble.set_visibility(bool(trouble))
        for number, row in enumerate(self.rows):
            row.show(verdicts[number] if number < len(verdicts) else None)
        self.verdict.set_text(summary(verdicts) if self.rows else "The plan claims nothing yet.")
        self.verdict.classes(remove="good bad", add=_tone(verdicts))
        self.script.set_text("The hand: " + " ".join(found["script"]) if found and found["script"] else "")
        if found is None:
            self.lanes.show({})
            return
        self.lanes.show({name: found[name] for name in ("light", "dark", "size", "zero", "step", "edges")})

    # --- edits -----------------------------------------------------------------------------------------------------

    def _choose(self, name: str | None) -> None:
        if name is not None and name != self.name:
            self.name = name
            self.refresh()

    def set_claim(self, number: int, row: ClaimRow) -> None:
        """Take the text of a field as that claim; what cannot be read is said at the field, and the plan stays."""
        chart = self.chart
        text = " ".join((row.text.value or "").split())
        if chart is None or number >= len(chart.shows):
            return
        if not text:
            self.take_out(number)
            return
        shows = (*chart.shows[:number], text, *chart.shows[number + 1 :])
        if not self._keep(row.text, text, replace(chart, shows=shows), f"change a claim of {_name_in(text)}"):
            row.show(None)

    def add_claim(self) -> None:
        """Take the text of the last field as a further claim."""
        text = " ".join((self.added.value or "").split())
        if not text:
            raise UsageError('Write a claim first, such as "lamp: on from press + 0.4 s for 2 s".')
        chart = self.chart or Chart("wanted", ())
        if self._keep(self.added, text, replace(chart, shows=(*chart.shows, text)), f"add a claim of {_name_in(text)}"):
            self.added.set_value("")

    def take_out(self, number: int) -> None:
        """Take a claim out; with its last claim the chart goes."""
        chart = self.chart
        if chart is not None and number < len(chart.shows):
            shows = tuple(text for at, text in enumerate(chart.shows) if at != number)
            self._change("take a claim out", replace(chart, shows=shows) if shows else None)

    def move_edge(self, told: EdgeMoved) -> None:
        """Change the numbers of a claim so that one of its edges lies elsewhere: one edit."""
        chart = self.chart
        if chart is None or not 0 <= told.claim < len(chart.shows):
            return
        text = moved(chart.shows[told.claim], names_of(self.plan), told.clause, told.side, told.by)
        shows = (*chart.shows[: told.claim], text, *chart.shows[told.claim + 1 :])
        changed = replace(chart, shows=shows)
        try:
            charts_of(self._with(changed))
        except TickwrightError:
            self.asked = None  # so that the edge is shown where it still is
            self.refresh()
            raise
        self._change(f"move an edge of {_name_in(text)}", changed)

    def set_hand(self, made: ui.input) -> None:
        """Take the text of a field as the hand."""
        lines = tuple(line.strip() for line in (made.value or "").split(";") if line.strip())
        if self.chart is not None:
            self._keep(made, None, replace(self.chart, hand=lines or None), "change the hand")

    def set_watch(self, made: ui.input) -> None:
        """Take the text of a field as how long the run is watched."""
        text = (made.value or "").strip()
        steps = parse_duration(text) if text else None
        if steps == 0:
            raise UsageError("A run of no time shows nothing: give it at least one step.")
        if self.chart is not None:
            self._keep(made, None, replace(self.chart, watch_steps=steps), "change how long is watched")

    async def draft(self) -> None:
        """Add the chart of what the plan does now."""
        names = [chart.name for chart in self.plan.charts]
        name = next(free for n in range(1, 1000) if (free := "now" if n == 1 else f"now {n}") not in names)
        rules = rules_of(self.session.document)[0]
        made = await self.session.worker("chart").do("draft", self.plan, rules, name, most_seconds=MOST_SECONDS)
        self.name = name
        self.session.change("write what it does", lambda plan: replace(plan, charts=(*plan.charts, made)))

    def _keep(self, made: ui.input, claim: str | None, chart: Chart, label: str) -> bool:
        """Put a changed chart into the plan if it can be read; else say at the field why not. Whether it is kept."""
        try:
            if claim is not None:
                parse_claim(claim, names_of(self.plan))
            charts_of(self._with(chart))
        except NotationError as error:
            made.error = trouble_text(error)
            self.lanes.run_method("mark", made.id, error.at)
            return False
        except TickwrightError as error:
            made.error = str(error)
            return False
        made.error = None
        self._change(label, chart)
        return True

    def _with(self, chart: Chart | None) -> Plan:
        """The plan with the chart that is shown changed so; None takes it out. The text it came from is left out."""
        number = self.number
        charts = list(self.plan.charts)
        at = len(charts) if number is None else number
        charts[at : at + 1] = [chart] if chart is not None else []
        return replace(self.plan, charts=tuple(charts), source=None)

    def _change(self, label: str, chart: Chart | None) -> None:
        charts = self._with(chart).charts
        self.session.change(label, lambda plan: replace(plan, charts=charts))


def names_of(plan: Plan) -> Names:
    """The names that the claims of a plan may use."""
    return Names.of(plan.triggers, plan.outputs, plan.machines)


def placed(plan: Plan, name: str, verdicts: Sequence[ClaimVerdict]) -> list[ClaimVerdict | None]:
    """Verdicts of the claims about outputs at the places of their claims; None where a policy stands."""
    left = iter(verdicts)
    shows = next(chart.shows for chart in plan.charts if chart.name == name)
    return [None if _name_in(text) in plan.triggers else next(left, None) for text in shows]


def trouble_text(error: NotationError) -> str:
    """What is wrong with a claim, and where in it."""
    return f"At character {error.at + 1}: {error.sentence}"


def summary(verdicts: Sequence[ClaimVerdict | None]) -> str:
    """How many claims are kept, in words."""
    kept = sum(verdict is not None and verdict.passed for verdict in verdicts)
    open_ones = sum(verdict is None for verdict in verdicts)
    if not verdicts:
        return ""
    more = f", {open_ones} being tried" if open_ones else ""
    if kept == len(verdicts):
        return "Its claim is kept." if kept == 1 else f"All {kept} claims are kept."
    return f"{kept} of {len(verdicts)} claims kept{more}."


def _tone(verdicts: Sequence[ClaimVerdict | None]) -> str:
    if any(verdict is not None and not verdict.passed for verdict in verdicts):
        return "bad"
    return "good" if verdicts and None not in verdicts else ""


def _name_in(text: str) -> str:
    return text.partition(":")[0].strip()
