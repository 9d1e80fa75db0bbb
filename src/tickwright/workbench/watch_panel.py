"""Press and watch: triggers pressed live, a script of acts on the time line, the run played on grid and lanes."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

from nicegui import background_tasks, ui

from tickwright import TickwrightError, parse_duration
from tickwright.durations import duration_text
from tickwright.errors import UsageError
from tickwright.kinds import PARTS
from tickwright.plan import parse_script
from tickwright.space import Cell, cell_text
from tickwright.workbench.cells import rules_of
from tickwright.workbench.elements import Timeline, ask_flashing, attempt, button, field, finding_line, section
from tickwright.workbench.jobs import Cancelled
from tickwright.workbench.telling import Acts, AtCell, AtStep, Flashing, TriggerPressed, hear

if TYPE_CHECKING:
    from tickwright.workbench.page import Page

USUAL_STEPS = 600
MOST_STEPS = 20_000


class WatchPanel:
    """The panel beside the grid; the time line below it is `timeline`."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.session = page.session
        self.timeline: Timeline | None = None
        self.lanes: list[tuple[str, Cell]] = []
        self.steps = USUAL_STEPS
        self.stale = True
        with section("Press", "Click a part on the grid, or press a trigger here. The press falls on the step shown."):
            self.triggers = ui.element("div").classes("row-line")
        with section("Script of the hand", "Drag the marks on the time line, or write an act."):
            self.script = ui.element("div").classes("stack")
            act = field("Act, such as 20:press or 5:3,0,1:place=wire").mark("act")
            act.on("keydown.enter", lambda _: attempt(lambda: self._add(act)))
            with ui.element("div").classes("row-line"):
                button("Add act", lambda: self._add(act))
                button("Clear script", lambda: self.set_script([]))
            length = field("Length of the run", duration_text(USUAL_STEPS))
            length.on("change", lambda _: attempt(lambda: self._set_length(length.value)))
        with section("What the run found"):
            self.findings = ui.element("div").classes("stack")

    def attach(self, timeline: Timeline) -> None:
        """Take the time line that is below the grid."""
        self.timeline = timeline
        hear(timeline, "acts", Acts, lambda told: attempt(lambda: self.set_script(told.acts)))
        hear(timeline, "hide", AtCell, lambda told: self.toggle_lane(told.cell))
        hear(timeline, "flashing", Flashing, self.ask_flashing)
        hear(timeline, "add", AtStep, lambda told: attempt(lambda: self._add_at(told.step)))
        hear(timeline, "press", TriggerPressed, lambda told: attempt(lambda: self._press_trigger(told.name, told.step)))

    def show(self) -> None:
        """Show the panel for the plan as it is, and run it again if that changed."""
        plan = self.session.document.plan
        self.triggers.clear()
        with self.triggers:
            for name in plan.triggers:
                made = button(name, partial(self._press_now, name), kind="main", name=f"Press {name}")
                made.mark(f"press-{name}")
            if not plan.triggers:
                ui.label("The plan names no trigger yet: put the cursor on a button and name it (T).").classes("hint")
        known = {cell for _, cell in self.lanes}
        if not self.lanes:
            self.lanes = [*plan.triggers.items(), *((n, c) for n, c in plan.outputs.items() if c not in known)]
        self._show_lanes()
        self._show_script()
        if self.stale:
            self.run()

    # --- acts ------------------------------------------------------------------------------------------------------

    def press_cell(self, cell: Cell, step: int) -> None:
        """Do the usual act of what is in a cell at that step; what takes no act gets a lane."""
        part = self.session.document.plan.cells.get(cell)
        if part is not None and PARTS[part.kind].acts:
            self._press(cell, ",".join(map(str, cell)), step)
        elif part is not None:
            self.toggle_lane(cell)

    def _press_now(self, name: str) -> None:
        if self.timeline is not None:
            self.timeline.run_method("press", name)  # the time line says at which step: only the page knows that

    def _press_trigger(self, name: str, step: int) -> None:
        cell = self.session.document.plan.triggers.get(name)
        if cell is not None:  # it may have got another name meanwhile
            self._press(cell, name, step)

    def _press(self, cell: Cell, who: str, step: int) -> None:
        act = f"{step}:{who}"
        self._check([act])
        self.session.script.append(act)
        if cell not in [known for _, known in self.lanes]:
            self.toggle_lane(cell)
        self._show_script()
        self.run(play=True)

    def _add(self, line: ui.input) -> None:
        text = (line.value or "").strip()
        if not text:
            raise UsageError('Write an act first: STEP:WHO or STEP:WHO:ACT, such as "20:press".')
        self._check([text])
        line.set_value("")
        self.set_script([*self.session.script, text])

    def _add_at(self, step: int) -> None:
        name = next(iter(self.session.document.plan.triggers), None)
        if name is None:
            raise UsageError("The plan names no trigger to press: name one first (T).")
        self.set_script([*self.session.script, f"{step}:{name}"])

    def set_script(self, acts: list[str]) -> None:
        """Take another script and run the plan by it. Raises TickwrightError for acts that cannot be meant."""
        self._check(acts)
        self.session.script = list(acts)
        self._show_script()
        self.run()

    def _check(self, acts: list[str]) -> None:
        for act in parse_script(self.session.document.plan, acts):
            if act.step >= MOST_STEPS:
                raise UsageError(
                    f"Step {act.step:,} is too late: a run that is watched has at most {MOST_STEPS:,} steps."
                )

    def _set_length(self, text: str) -> None:
        steps = parse_duration(text or "")
        if not 1 <= steps <= MOST_STEPS:
            raise UsageError(f'A run of "{text}" cannot be watched: use up to {duration_text(MOST_STEPS)}.')
        self.steps = steps
        self.run()

    def _show_script(self) -> None:
        self.script.clear()
        with self.script:
            for number, act in enumerate(self.session.script):
                with ui.element("div").classes("row-line"):
                    ui.label(act).classes("code")
                    button("Take out", partial(self._take_out, number), kind="small", name=f"Take out {act}")
            if not self.session.script:
                ui.label("Nothing is pressed yet.").classes("hint")

    def _take_out(self, number: int) -> None:
        self.set_script([act for at, act in enumerate(self.session.script) if at != number])

    # --- lanes -----------------------------------------------------------------------------------------------------

    def toggle_lane(self, cell: Cell) -> None:
        """Show a lane of the cell, or hide it."""
        kept = [lane for lane in self.lanes if lane[1] != cell]
        if len(kept) == len(self.lanes):
            plan = self.session.document.plan
            names = [name for name, at in {**plan.triggers, **plan.outputs}.items() if at == cell]
            kept.append((names[0] if names else cell_text(cell), cell))
        self.lanes = kept
        self._show_lanes()

    def _show_lanes(self) -> None:
        if self.timeline is not None:
            self.timeline.show([{"name": name, "cell": list(cell)} for name, cell in self.lanes])
        self.page.board.run_method("mark", [list(cell) for _, cell in self.lanes] if self.page.tab == "watch" else [])

    # --- runs ------------------------------------------------------------------------------------------------------

    def run(self, play: bool = False) -> None:
        """Run the plan by the script, in the background."""
        background_tasks.create(self._run(play), name="watch")

    async def _run(self, play: bool) -> None:
        document, script = self.session.document, list(self.session.script)
        latest = max((int(act.split(":", 1)[0]) for act in script), default=0)
        steps = min(MOST_STEPS, max(self.steps, latest + self.steps // 2))
        worker = self.session.worker("watch")
        worker.cancel()
        self.stale = False
        try:
            data, findings = await worker.do(
                "watch", document.plan, rules_of(document)[0], script, steps, self.session.length_steps, most_seconds=60
            )
        except Cancelled:
            return
        except TickwrightError as error:
            self._found([], str(error))
            if self.timeline is not None:
                self.timeline.run_method("none")
            return
        number = self.session.keep(data, "application/octet-stream")
        if self.timeline is not None:
            self.timeline.run_method("load", f"/bench/kept/{number}", play)
        self._found([finding.as_data() for finding in findings], "")

    def _found(self, findings: list[dict[str, Any]], trouble: str) -> None:
        self.findings.clear()
        with self.findings:
            if trouble:
                ui.label(trouble).classes("bad").props("role=alert")
            for finding in findings:
                finding_line(finding, self.page.goto)
            if not findings and not trouble:
                ui.label("Nothing.").classes("hint")

    def ask_flashing(self, told: Flashing) -> None:
        """Ask before what flashes is played unguarded, and guard it again without asking."""
        if not told.allow:
            self._allow(False)
            return
        more = "Play it at this speed only if nobody who sees this screen may be harmed."
        ask_flashing(more, "Play it guarded", "Let it flash", lambda: self._allow(True))

    def _allow(self, allowed: bool) -> None:
        if self.timeline is not None:
            self.timeline.run_method("allow", allowed)
