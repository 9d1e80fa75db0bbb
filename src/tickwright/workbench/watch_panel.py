"""Pressing and watching: the run of the plan on grids and lanes, its script of acts, and what the run found."""

from __future__ import annotations

import time
from functools import partial
from typing import TYPE_CHECKING, Any

from nicegui import background_tasks, ui

from tickwright import TickwrightError, parse_duration
from tickwright.durations import duration_text
from tickwright.errors import UsageError
from tickwright.kinds import PARTS
from tickwright.plan import parse_script
from tickwright.space import Cell, cell_text
from tickwright.workbench.answering import wanted_bands
from tickwright.workbench.cells import rules_of
from tickwright.workbench.elements import Timeline, ask_flashing, attempt, button, field, finding_line, section
from tickwright.workbench.jobs import Cancelled
from tickwright.workbench.telling import Acts, AtCell, AtStep, Flashing, TriggerPressed, hear

if TYPE_CHECKING:
    from tickwright.workbench.page import Page

MOST_STEPS = 20_000
MOST_LANES = 8  # shown unasked
ROOMY = 3  # so many lanes leave room for ghosts
PATIENCE_SECONDS = 1.0  # a run that takes longer is ended when another is wanted


class WatchPanel:
    """The run of the bench. Without a script the first trigger is pressed once, at rest: the clock begins there."""

    def __init__(self, page: Page, timeline: Timeline) -> None:
        self.page = page
        self.session = page.session
        self.timeline = timeline
        self.lanes: list[tuple[str, Cell]] = []
        self.steps: int | None = None  # how long a run is, if not until all is at rest
        self.pressed_at = 0  # the step of the usual press, which is 0 of the clock
        self._hidden: set[Cell] = set()  # named cells whose lanes are not shown
        self._anew = True
        self._running = False
        self._wanted: tuple[bool] | None = None  # a run to be made next, and whether it is to be played
        self._began = 0.0
        self._built = False
        self._findings: tuple[list[dict[str, Any]], str] = ([], "")
        hear(timeline, "acts", Acts, lambda told: attempt(lambda: self.set_script(told.acts)))
        hear(timeline, "hide", AtCell, lambda told: self.toggle_lane(told.cell))
        hear(timeline, "flashing", Flashing, self.ask_flashing)
        hear(timeline, "add", AtStep, lambda told: attempt(lambda: self._add_at(told.step)))
        hear(timeline, "press", TriggerPressed, lambda told: attempt(lambda: self._press_trigger(told.name, told.step)))

    def build(self) -> WatchPanel:
        """Make its side panel here."""
        with section("Press", "Click a part with the Press tool, or press a trigger: it falls on the step shown."):
            self.triggers = ui.element("div").classes("row-line")
        with section("Script of the hand", "Without a script the first trigger is pressed once, at rest."):
            self.script = ui.element("div").classes("stack")
            act = field("Act, such as 20:press or 5:3,0,1:place=wire").mark("act")
            act.on("keydown.enter", lambda _: attempt(lambda: self._add(act)))
            with ui.element("div").classes("row-line"):
                button("Add act", lambda: self._add(act))
                button("Clear script", lambda: self.set_script([]))
            length = field("Length of the run").mark("run-length")
            length.props('placeholder="until all is at rest"')
            length.on("change", lambda _: attempt(lambda: self._set_length(length.value)))
        with section("What the run found"):
            self.findings = ui.element("div").classes("stack")
        self._built = True
        self._show_side()
        self._show_findings()
        return self

    def show(self, anew: bool = False) -> None:
        """Run the plan as it is now; `anew`, it is another one, and the clock begins again."""
        plan = self.session.document.plan
        if anew:
            self.lanes, self._anew = [], True
        here = {**plan.triggers, **plan.outputs}
        named = {cell: name for name, cell in here.items()}
        if not self.lanes:
            self.lanes = [(name, cell) for cell, name in named.items()][:MOST_LANES]
        else:
            self.lanes = [(named.get(cell, cell_text(cell)), cell) for _, cell in self.lanes]
            known = {cell for _, cell in self.lanes}
            fresh = [(name, cell) for cell, name in named.items() if cell not in known and cell not in self._hidden]
            self.lanes += fresh[: max(0, MOST_LANES - len(self.lanes))]
        self._hidden = set(named) - {cell for _, cell in self.lanes}
        self.show_bands()
        self._show_side()
        self.run()

    def _show_side(self) -> None:
        if not self._built:
            return
        plan = self.session.document.plan
        self.triggers.clear()
        with self.triggers:
            for name in plan.triggers:
                made = button(name, partial(self._press_now, name), kind="main", name=f"Press {name} now")
                made.mark(f"press-{name}")
            if not plan.triggers:
                hint = "The plan names no trigger yet: put the cursor on a button and press Shift + T."
                ui.label(hint).classes("hint")
        self._show_script()

    # --- acts ------------------------------------------------------------------------------------------------------

    def press_cell(self, cell: Cell, step: int) -> None:
        """Do the usual act of what is in a cell at that step; what takes no act gets a lane."""
        part = self.session.document.plan.cells.get(cell)
        if part is not None and PARTS[part.kind].acts:
            self._press(cell, ",".join(map(str, cell)), step)
        elif part is not None:
            self.toggle_lane(cell)

    def _press_now(self, name: str) -> None:
        self.timeline.run_method("press", name)  # the time line says at which step: only the page knows that

    def _press_trigger(self, name: str, step: int) -> None:
        cell = self.session.document.plan.triggers.get(name)
        if cell is not None:  # it may have got another name meanwhile
            self._press(cell, name, step)

    def _press(self, cell: Cell, who: str, step: int) -> None:
        script = list(self.session.script)
        first = next(iter(self.session.document.plan.triggers), None)
        usual = f"{self.pressed_at}:{first}"
        if not script and first is not None:
            step += self.pressed_at  # the usual press goes on being made
            script = [usual]
        act = f"{step}:{who}"
        self._check([act])
        if act not in script:
            script.append(act)
        self.session.script = script
        if cell not in [known for _, known in self.lanes]:
            self.toggle_lane(cell)
        self._show_side()
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
            raise UsageError("The plan names no trigger to press: name one first (Shift + T).")
        self.set_script([*self.session.script, f"{step}:{name}"])

    def set_script(self, acts: list[str]) -> None:
        """Take another script and run the plan by it. Raises TickwrightError for acts that cannot be meant."""
        self._check(acts)
        self.session.script = list(acts)
        self._show_side()
        self.show_bands()
        self.run()

    def _check(self, acts: list[str]) -> None:
        for act in parse_script(self.session.document.plan, acts):
            if act.step >= MOST_STEPS:
                raise UsageError(
                    f"Step {act.step:,} is too late: a run that is watched has at most {MOST_STEPS:,} steps."
                )

    def _set_length(self, text: str) -> None:
        steps = parse_duration(text) if (text or "").strip() else None
        if steps is not None and not 1 <= steps <= MOST_STEPS:
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
                ui.label("Nothing is written.").classes("hint")

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
            self._hidden.discard(cell)
        else:
            self._hidden.add(cell)
        self.lanes = kept
        self.show_bands()

    def show_bands(self) -> None:
        """Show the lanes, with what is wanted of them and what the part that is tried would do, after one press."""
        plan, known, one = self.session.document.plan, self.session.judging.known, self.page.trying.chosen
        first = next(iter(plan.triggers), "")
        usual = not self.session.script and self.session.length_steps is None
        wanted = wanted_bands(plan, known.judged, first) if usual and known.whole and known.plan is plan else {}
        rows: list[dict[str, Any]] = []
        for name, cell in self.lanes:
            part = plan.cells.get(cell)
            row: dict[str, Any] = {"name": name, "cell": list(cell)}
            row["lamp"] = part is not None and PARTS[part.kind].behaviour == "lamp"
            output = next((each for each, at in plan.outputs.items() if at == cell), "")
            if output in wanted:
                row["wanted"] = wanted[output]
            if output and usual and len(self.lanes) <= ROOMY:
                row["roomy"] = True  # so that nothing moves when something is tried
            if usual and one is not None and output in one.pulses:
                row["ghost"] = {"pulses": one.pulses[output], "text": one.ghost_text(output)}
            rows.append(row)
        self.timeline.show(rows, list(plan.triggers))
        self.page.board.run_method("mark", [list(cell) for _, cell in self.lanes])

    # --- runs ------------------------------------------------------------------------------------------------------

    def run(self, play: bool = False) -> None:
        """Run the plan by the script, in the background; of several that are wanted at once the last is made."""
        self._wanted = (play or (self._wanted is not None and self._wanted[0]),)
        if not self._running:
            self._running = True
            background_tasks.create(self._run_wanted(), name="watch")
        elif time.monotonic() - self._began > PATIENCE_SECONDS:
            self.session.worker("watch").cancel()

    async def _run_wanted(self) -> None:
        try:
            while self._wanted is not None:
                (play,) = self._wanted
                self._wanted = None
                self._began = time.monotonic()
                await self._run(play)
        finally:
            self._running = False

    async def _run(self, play: bool) -> None:
        document, script = self.session.document, list(self.session.script)
        latest = max((int(act.split(":", 1)[0]) for act in script), default=0)
        steps = None if self.steps is None else min(MOST_STEPS, max(self.steps, latest + self.steps // 2))
        asked = document.plan, rules_of(document)[0], script or None, steps, self.session.length_steps
        anew, self._anew = self._anew, False
        try:
            data, findings, pressed_at = await self.session.worker("watch").do("watch", *asked, most_seconds=60)
        except Cancelled:
            self._anew |= anew
            return
        except TickwrightError as error:
            self._found([], str(error))
            self.timeline.run_method("none")
            self._anew |= anew
            return
        self.pressed_at = 0 if script else pressed_at
        number = self.session.keep(data, "application/octet-stream")
        told = {
            "url": f"/bench/kept/{number}",
            "play": play,
            "offset": self.pressed_at,
            "scripted": bool(script),
            "anew": anew,
        }
        self.timeline.run_method("load", told)
        self.page.bench.refresh_side(topic="run")
        self._found([finding.as_data() for finding in findings], "")

    def _found(self, findings: list[dict[str, Any]], trouble: str) -> None:
        self._findings = findings, trouble
        self._show_findings()

    def _show_findings(self) -> None:
        if not self._built:
            return
        findings, trouble = self._findings
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
        self.timeline.run_method("allow", allowed)
