"""The bench: the answer, the parts, the plan from above, in section and lifted apart, side panels and the time line."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import TYPE_CHECKING, Any

from nicegui import ui

from tickwright.publish import scene_data
from tickwright.workbench import modules
from tickwright.workbench.cell_panel import CellPanel, PlanPanel
from tickwright.workbench.cells import SectionView, View, rules_of
from tickwright.workbench.elements import Board, Lifted, Segments, Solid, Timeline, attempt, button, heading
from tickwright.workbench.head_line import HeadLine
from tickwright.workbench.late import ask_panel, judge_panel
from tickwright.workbench.parts_panel import PartsPanel
from tickwright.workbench.rooms import Rooms
from tickwright.workbench.telling import AtCell, CellPressed, Cursor, Edit, Picked, Question, TryNumber, hear
from tickwright.workbench.watch_panel import WatchPanel
from tickwright.workbench.why_panel import WhyPanel

if TYPE_CHECKING:
    from tickwright.workbench.page import Page

SIDES = {"cell": "Cell", "judge": "Judge", "why": "Why", "press": "Press", "plan": "Plan", "ask": "Ask"}
SHOWN_FOR = {
    "judge": ("judged", "plan", "document"),
    "why": ("run", "plan", "document"),
    "plan": ("plan", "document"),
    "ask": ("plan", "document"),
}
SPACES = {"lifted": "lifted", "built": "built", "solid": "3D"}
MOST_LAYER_BUTTONS = 6
SPARE_ROWS = 0.8  # of the height of a cell: names and rulers beside a grid


class BenchRoom:
    """What is on the bench of one page."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.session = page.session
        self.view = View()
        self.cut = SectionView()
        self.solid: Solid | None = None
        self.space = "lifted"
        self.shown_modules: list[dict[str, Any]] | None = None
        with ui.element("section").classes("answer-line").props('aria-label="Answer"'):
            self.head = HeadLine(page)
        with ui.element("div").classes("bench"):
            with ui.element("section").classes("card parts").props('aria-label="Parts"'):
                self._parts = ui.element("div").classes("stack")
            with ui.element("div").classes("card work"):
                self._views()
            with ui.element("aside").classes("card side").props('aria-label="Panel"'):
                self.sides = Rooms(
                    SIDES,
                    "Panel",
                    {
                        "cell": lambda: CellPanel(page),
                        "judge": lambda: judge_panel(page),
                        "why": lambda: WhyPanel(page),
                        "press": lambda: self.watch.build(),  # noqa: PLW0108 - it is made below
                        "plan": lambda: PlanPanel(page),
                        "ask": lambda: ask_panel(page),
                    },
                    self._side_shown,
                )
                self.sides.make_tabs()
                self.sides.make_panels("side-panel")
        with ui.element("div").classes("card line"):
            self.timeline = Timeline()
        self.watch = WatchPanel(page, self.timeline)
        page.bench = self
        with self._parts:
            self.parts = PartsPanel(page)
        self.sides.show("cell")
        self._hear()

    def _views(self) -> None:
        with ui.element("div").classes("flat") as self.flat:
            with ui.element("div").classes("view-head"):
                self.above_title = heading("From above")
                self.back = button(
                    "Back", lambda: self.page.edit("leave-module"), "Shift + U", "small", "Back to the whole"
                )
                self.back.mark("back")
                ui.element("div").classes("spring")
                self.layers = Segments("Layer", {0: "0"}, 0, lambda z: self.board.run_method("show", z))
                with ui.element("div").classes("tools-row").props('role="toolbar" aria-label="Layer view"'):
                    button("↓", lambda: self.board.run_method("climb", -1), "Page Down", "small", "Layer down")
                    self.layer_label = ui.label("").classes("hint")
                    button("↑", lambda: self.board.run_method("climb", 1), "Page Up", "small", "Layer up")
                    button("+", lambda: self.board.run_method("zoom", 1.25), "Zoom in (+)", "small", "Zoom in").classes(
                        "spare"
                    )
                    button(
                        "−", lambda: self.board.run_method("zoom", 0.8), "Zoom out (-)", "small", "Zoom out"
                    ).classes("spare")
                    button("Fit", lambda: self.board.run_method("fit"), "0", "small").classes("spare")
            self.board = Board().classes("above-board")
            with ui.element("div").classes("view-head"):
                self.section_title = heading("Section")
                ui.element("div").classes("spring")
                planes = {"south": "south", "east": "east"}
                self.planes = Segments("Section from", planes, "south", self._turn_section)
            self.section = Board(plane="south").classes("section-board")
        with ui.element("div").classes("space"):
            with ui.element("div").classes("view-head"):
                heading("Layers")
                ui.element("div").classes("spring")
                self.spaces = Segments("Layers", SPACES, "lifted", self._show_space)
            self.lifted = Lifted()
            self.solid_box = ui.element("div").classes("solid-box hidden")
            ui.html(SCALE, sanitize=False).classes("scale")

    def _hear(self) -> None:
        page = self.page
        self.board.on("ready", lambda _: self.send_whole())
        self.section.on("ready", lambda _: self._section_ready())
        for board in (self.board, self.section):
            hear(board, "edit", Edit, page.on_edit)
            hear(board, "cursor", Cursor, partial(page.on_cursor, board))
            hear(board, "ask", Question, page.on_ask)
            hear(board, "try", TryNumber, lambda told: page.trying.choose(told.number))
            hear(board, "press", CellPressed, lambda told: attempt(lambda: self.watch.press_cell(told.cell, told.step)))
            hear(board, "lane", AtCell, lambda told: self.watch.toggle_lane(told.cell))
        hear(self.timeline, "ask", Question, page.on_ask)

    def boards(self) -> Iterator[tuple[Board, str]]:
        """The grids, with the plane that each shows."""
        yield self.board, "above"
        yield self.section, self.cut.plane

    # --- what they show --------------------------------------------------------------------------------------------

    def send_whole(self) -> None:
        """Another plan is open."""
        document = self.session.document
        self.board.run_method("open", self.view.whole(document.plan, *rules_of(document)))
        self.shown_modules = None
        self.send_modules()
        self.parts.tell_tool()
        self.send_section()

    def send_plan(self) -> None:
        """The plan is changed."""
        document = self.session.document
        self.board.run_method("take", self.view.patch(document.plan, *rules_of(document)))
        self.send_modules()
        self.send_section()

    def send_modules(self) -> None:
        """Show where the modules lie, and which of them is open, if that is another."""
        session = self.session
        rows = modules.rows(session.document.plan, session.inside)
        if rows != self.shown_modules:
            self.shown_modules = rows
            for board, _ in self.boards():
                board.run_method("house", rows)
        title = f"In {session.inside}" if session.inside else "From above"
        self.above_title.default_slot.children[0].set_text(title)  # type: ignore[attr-defined]
        self.back.set_visibility(bool(session.inside))
        self.flat.classes(add="opened" if session.inside else "", remove="" if session.inside else "opened")

    def send_section(self, anew: bool = False) -> None:
        """Show the section through the cursor, if that is another one."""
        document, cell = self.session.document, self.page.cell
        if anew:
            self.cut = SectionView()
        data = self.cut.cut(document.plan, rules_of(document)[0], cell)
        if data is not None:
            self.section.run_method("open" if anew else "cut", data)
        axis = "y" if self.cut.plane == "south" else "x"
        title = f"Section {axis} {cell[self.cut.axis]}, from the {self.cut.plane}"
        self.section_title.default_slot.children[0].set_text(title)  # type: ignore[attr-defined]

    def _section_ready(self) -> None:
        self.send_section(anew=True)
        self.shown_modules = None
        self.send_modules()

    def _turn_section(self, plane: str) -> None:
        self.cut.plane = plane
        self.section.set_plane(plane)
        self.send_section()
        self.parts.tell_tool()

    def show_layer(self) -> None:
        """Show which layer the cursor is in."""
        z, high = self.page.cell[2], max(1, self.session.document.plan.size[2])
        few = high <= MOST_LAYER_BUTTONS
        deep = self.session.document.plan.size[1 if self.cut.plane == "south" else 0]
        above, cut = max(3, deep + 1) + SPARE_ROWS, max(2, high + 1) + SPARE_ROWS
        self.flat.style(f"grid-template-rows: auto minmax(0, {above}fr) auto minmax(0, {cut}fr)")
        self.layers.box.set_visibility(few)
        if few:
            self.layers.set_options({number: str(number) for number in range(high)}, z)
        self.layer_label.set_visibility(not few or z >= high)
        self.layer_label.set_text(f"layer {z} of 0 to {high - 1}")

    # --- the view in space -----------------------------------------------------------------------------------------

    def _show_space(self, space: str) -> None:
        self.space = space
        if space == "solid" and self.solid is None:
            with self.solid_box:
                self.solid = Solid()
            self.solid.on("ready", lambda _: self.send_solid(True))
            hear(self.solid, "pick", Picked, self._on_pick)
        elif space != "solid" and self.solid is not None:
            self.solid = None
            self.solid_box.clear()
        solid = space == "solid"
        self.solid_box.classes(add="" if solid else "hidden", remove="hidden" if solid else "")
        self.lifted.classes(add="hidden" if solid else "", remove="" if solid else "hidden")
        if not solid:
            self.lifted.set_apart(space == "lifted")

    def send_solid(self, look: bool) -> None:
        """Show the plan in the 3D view, if that is there."""
        if self.solid is not None:
            document = self.session.document
            self.solid.run_method("show", scene_data(document.plan, rules_of(document)[0]), look)
            self.solid.run_method("watch", True)

    def _on_pick(self, told: Picked) -> None:
        if told.cell is not None:
            self.board.run_method("goto", *told.cell)

    # --- the side --------------------------------------------------------------------------------------------------

    def _side_shown(self, name: str) -> None:
        self.refresh_side(name)

    def refresh_side(self, name: str = "", topic: str = "") -> None:
        """Show the side panel as things are now; `topic` is what changed, "" for anything."""
        name = name or self.sides.now
        panel: Any = self.sides.get(name)
        if name == "cell":
            if topic in ("", "plan", "document", "cursor"):
                panel.show_cell()
                panel.show_ghost()
            if topic in ("", "judged"):
                panel.show_known()
        elif name in SHOWN_FOR and topic in ("", *SHOWN_FOR[name]):
            panel.show()


SCALE = (
    '<div class="scale-row" aria-hidden="true">'
    + "".join(f'<span style="background:var(--level-{n});color:var(--on-level-{n})">{n}</span>' for n in range(1, 16))
    + '</div><div class="hint">level 1 to 15; 0 is an outline</div>'
)
