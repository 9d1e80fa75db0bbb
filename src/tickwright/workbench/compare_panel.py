"""Compare: up to six plans side by side on one clock, and their figures as a table."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

from nicegui import background_tasks, ui

from tickwright import Plan, TickwrightError, load, load_rules, parse_duration
from tickwright.durations import time_text
from tickwright.errors import UsageError
from tickwright.kinds import PARTS
from tickwright.publish import flat_views
from tickwright.verify import SORT_KEYS, Compared
from tickwright.workbench.cells import SectionView, View
from tickwright.workbench.choose_panel import open_plan
from tickwright.workbench.elements import Board, Timeline, button, choice, field, heading, say, table
from tickwright.workbench.job_view import JobView
from tickwright.workbench.jobs import Cancelled
from tickwright.workbench.telling import Flashing, hear

if TYPE_CHECKING:
    from tickwright.workbench.page import Page

MOST_COMPARED = 6
PLANES = {"z": "above", "y": "south", "x": "east"}
HEADS = (
    "plan", "kind", "delay", "hold", "error", "minimum trigger", "margin", "recovery", "parts", "box", "pitch x, y",
    "rule sets",
)  # fmt: skip


class ComparePanel:
    """The plans that are compared, in `session.compared`, by the names they are shown under."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.session = page.session
        self._shown: list[str] = []
        with ui.element("div").classes("stack"):
            self.told = ui.element("div").classes("stack differs").props("aria-live=polite")
            heading("Compare up to six plans on one clock")
            with ui.element("div").classes("row-line"):
                self.add = choice("Add a plan", [], None, self._add).classes("narrow").mark("compare-add")
                button("Add the plan that is open", self.add_open)
                button("Clear", self._clear)
            self.boards = ui.element("div").classes("boards")
            self.timeline = Timeline(fixed=True)
            with ui.element("div").classes("row-line"):
                self.hold = field("Hold wanted, for the error").classes("narrow")
                self.sort = choice("Sort by", ["as added", *SORT_KEYS], "as added").classes("narrow")
            self.figures = JobView(page, "Work out the figures", self._rank, self._show_figures)
        hear(self.timeline, "flashing", Flashing, page.ask_flashing)

    def show(self) -> None:
        """Show the plans; run them again if others came."""
        self.add.set_options([plan.name for plan in self.session.folder.plans()], value=None)
        if list(self.session.compared) != self._shown:
            self._lay_out()
        else:
            self.timeline.run_method("turn", self._shown)

    def add_open(self) -> None:
        """Add the plan that is open, as it is now."""
        self.add_plan(self.session.document.path.stem, self.session.document.plan)

    def add_plan(self, name: str, plan: Plan) -> None:
        """Add a plan. Raises UsageError if there are six already."""
        if name not in self.session.compared and len(self.session.compared) >= MOST_COMPARED:
            raise UsageError(f"{MOST_COMPARED} plans are compared already: take one out first.")
        self.session.compared[name] = plan
        if self.page.designs().comparing:
            self._lay_out()
        else:
            say(f"{name} is among those compared: see Side by side.")

    def _add(self, name: str | None) -> None:
        if name:
            path = self.session.folder.place(name, ".toml")
            self.add_plan(name.removesuffix(".toml"), load(path))
            self.add.set_value(None)

    def _take_out(self, name: str) -> None:
        self.session.compared.pop(name, None)
        self._lay_out()

    def _clear(self) -> None:
        self.session.compared.clear()
        self._lay_out()

    def _lay_out(self) -> None:
        plans = self.session.compared
        self._shown = list(plans)
        self.told.clear()
        self.boards.clear()
        with self.boards:
            for name, plan in plans.items():
                with ui.element("section").classes("card compared").props(f'aria-label="{name}"'):
                    with ui.element("div").classes("row-line"):
                        heading(name, 3)
                        button("Open", partial(self._open, name), kind="small", name=f"Open {name}")
                        button("Take out", partial(self._take_out, name), kind="small", name=f"Take out {name}")
                    axis, at = next(iter(flat_views(plan)), ("z", 0))
                    board = Board("show", name, PLANES[axis])
                    board.on("ready", partial(self._send, board, plan, axis, at))
                    ui.label(f"section {axis} {at}" if axis != "z" else f"layer {at}").classes("hint centre")
            if not plans:
                ui.label("Add plans of this folder, the plan that is open, or designs that were chosen.").classes(
                    "hint"
                )
        background_tasks.create(self._race(dict(plans)), name="race")

    def _send(self, board: Board, plan: Plan, axis: str, at: int) -> None:
        if axis == "z":
            board.run_method("open", {**View().whole(plan, self._rules(plan)), "layer": at})
        else:
            cut = SectionView(PLANES[axis])
            board.run_method("open", cut.cut(plan, self._rules(plan), (at, at, 0)))

    def _rules(self, plan: Plan) -> Any:
        try:
            return load_rules(plan.rules, self.session.folder.root)
        except TickwrightError:
            return load_rules("standard")

    def _open(self, name: str) -> None:
        open_plan(self.page, name, self.session.compared[name])

    async def _race(self, plans: dict[str, Plan]) -> None:
        runs: list[dict[str, Any]] = []
        lanes: list[dict[str, Any]] = []
        for name, plan in plans.items():
            try:
                data, pressed_at = await self.session.worker("watch").do(
                    "race", plan, self._rules(plan), most_seconds=60
                )
            except Cancelled:
                self._shown = []  # so that it is done when this panel is shown again
                return
            except TickwrightError as error:
                with self.boards:
                    say(f"{name}: {error}", bad=True)
                continue
            number = self.session.keep(data, "application/octet-stream")
            runs.append({"id": name, "url": f"/bench/kept/{number}", "offset": pressed_at})
            output = next(iter(plan.outputs.items()), None)
            if output is not None:
                part = plan.cells.get(output[1])
                lamp = part is not None and PARTS[part.kind].behaviour == "lamp"
                lanes.append({"name": f"{name} {output[0]}", "cell": list(output[1]), "run": name, "lamp": lamp})
        self.timeline.show(lanes)
        self.timeline.run_method("loadAll", runs)

    # --- figures ---------------------------------------------------------------------------------------------------

    def _rank(self) -> tuple[Any, ...]:
        if not self.session.compared:
            raise UsageError("There is nothing to compare yet: add plans first.")
        text = (self.hold.value or "").strip()
        sort = None if self.sort.value == "as added" else self.sort.value
        return ("rank", dict(self.session.compared), parse_duration(text) if text else None, sort)

    def _show_figures(self, found: tuple[tuple[Compared, ...], tuple[str, ...]]) -> None:
        rows, said = found
        self.told.clear()
        with self.told:
            for number, sentence in enumerate(said):
                ui.label(sentence).classes("answer-line" if number == 0 else "hint")
        with ui.element("div").classes("scroll").props('role="group" aria-label="Figures" tabindex="0"'):
            table(HEADS, [_row(row) for row in rows])


def _row(row: Compared) -> tuple[str, ...]:
    times = [row.delay_steps, row.hold_steps, row.error_steps, row.minimum_trigger_steps, row.margin_steps]
    return (
        row.plan,
        row.kind,
        *(time_text(steps) for steps in (*times, row.recovery_steps)),
        str(row.parts),
        " × ".join(map(str, row.box)),
        f"{row.pitch_x_cells or '-'}, {row.pitch_y_cells or '-'}",
        row.rule_sets,
    )
