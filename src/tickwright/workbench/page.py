"""The page: its frame with tabs, the views of the plan, the panel of each tab, and the dialogs."""

from __future__ import annotations

import time
from functools import partial
from importlib.resources import files
from typing import Any

from msgspec.structs import asdict
from nicegui import ui
from nicegui.slot import Slot

from tickwright.publish import scene_data
from tickwright.space import Cell
from tickwright.workbench import laying
from tickwright.workbench.actions import perform
from tickwright.workbench.cells import View, rules_of
from tickwright.workbench.chart_panel import ChartPanel
from tickwright.workbench.choose_panel import ChoosePanel
from tickwright.workbench.colours import variables
from tickwright.workbench.compare_panel import ComparePanel
from tickwright.workbench.document import Box
from tickwright.workbench.elements import Board, Drop, Solid, Timeline, attempt, button, heading, say
from tickwright.workbench.files_panel import FilesPanel, save_document
from tickwright.workbench.journal import state_folder
from tickwright.workbench.judge_panel import JudgePanel
from tickwright.workbench.keys import KEYS
from tickwright.workbench.lay import LayPanel
from tickwright.workbench.publish_panel import PublishPanel
from tickwright.workbench.session import Session
from tickwright.workbench.strip import Strip
from tickwright.workbench.telling import AtCell, CellPressed, Cursor, Edit, Picked, Question, Said, hear
from tickwright.workbench.watch_panel import WatchPanel

TABS = {
    "lay": "Lay",
    "watch": "Press and watch",
    "judge": "Judge",
    "chart": "Chart",
    "choose": "Choose",
    "compare": "Compare",
    "publish": "Publish",
    "files": "Files",
}
WIDE = ("chart", "choose", "compare", "publish", "files")
EDITS = (
    ("Turn", "turn", "R"),
    ("Mirror E-W", "mirror-x", "Swap east and west (X)"),
    ("Mirror N-S", "mirror-y", "Swap north and south (Y)"),
    ("Copy", "copy", "Ctrl+C"),
    ("Cut", "cut", "Ctrl+X"),
    ("Paste", "paste", "Ctrl+V"),
)
STUCK_AFTER_SECONDS = 5.0  # a page acknowledges every 3 s what it was sent
THEMES = {None: "System", False: "Light", True: "Dark"}


class Page:
    """One browser page on the session."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.client = ui.context.client
        self.view = View()
        self.cell: Cell = (0, 0, 0)
        self.box: Box | None = None
        style = files("tickwright.workbench").joinpath("web/bench.css").read_text(encoding="utf-8")
        ui.add_head_html(f"<style>{variables()}{style}</style>")
        ui.page_title("Tickwright workbench")
        self.dark = ui.dark_mode(value=None)
        self.panels: dict[str, ui.element] = {}
        self.tab = "lay"
        self.solid: Solid | None = None
        with ui.element("div").classes("frame"):
            self._top()
            with ui.element("main").classes("main"):
                self._work()
                with ui.element("aside").classes("side").props('aria-label="Panel"') as self.side, self._panel("lay"):
                    self.lay = LayPanel(self)
                with self.side, self._panel("watch"):
                    self.watch = WatchPanel(self)
                with self.side, self._panel("judge"):
                    self.judge = JudgePanel(self)
                with ui.element("div").classes("wide hidden") as self.wide:
                    with self._panel("chart"):
                        self.chart = ChartPanel(self)
                    with self._panel("choose"):
                        self.choose = ChoosePanel(self)
                    with self._panel("compare"):
                        self.compare = ComparePanel(self)
                    with self._panel("publish"):
                        self.publish = PublishPanel(self)
                    with self._panel("files"):
                        self.files = FilesPanel(self)
            hear(Drop(), "said", Said, lambda told: say(told.text, bad=told.bad))
            with ui.element("footer").classes("foot").props('aria-label="Measures"'):
                self.strip = Strip(self)
        self.watch.attach(self.timeline)
        self._missed: set[str] = set()  # topics that the page was not told of while it was away or stuck
        self.client.on_connect(self._begin_hearing)
        self.client.on_disconnect(self._stop_hearing)
        self.client.on_delete(self._stop_hearing)
        ui.timer(1.0, self._catch_up)
        ui.timer(2.0, self._look_outside)
        self._asked_outside = ""
        self._lost = ""  # what the page has said of changes that are not kept
        self.show_tab(session.tab)
        self._refresh_top()
        if session.document.notice:
            say(session.document.notice)

    def _panel(self, name: str) -> ui.element:
        self.panels[name] = ui.element("div").props(f'role="tabpanel" aria-label="{TABS[name]}"')
        return self.panels[name]

    # --- the frame -------------------------------------------------------------------------------------------------

    def _top(self) -> None:
        with ui.element("header").classes("top"):
            with ui.element("h1").classes("brand"):
                ui.label("Tickwright")
            with ui.element("div").classes("file"):
                self.file_name = ui.label("").classes("code")
                self.state = ui.label("").classes("state").mark("state")
            ui.element("div").classes("spring")
            with ui.tabs(on_change=lambda event: self.show_tab(event.value)).props(
                "dense no-caps :ripple=false inline-label"
            ) as self.tabs:
                for name, title in TABS.items():
                    ui.tab(name, title)
            ui.element("div").classes("spring")
            self.undo = button("Undo", lambda: self.edit("undo"), kind="small")
            self.redo = button("Redo", lambda: self.edit("redo"), kind="small")
            button("Save", lambda: save_document(self), "Write the plan to its file (Ctrl+S)", kind="small")
            button("Keys", self.show_keys, "All keys (F1)", kind="small")
            theme = ui.select(THEMES, value=None).props("dense borderless options-dense").classes("theme")
            theme.props["aria-label"] = "Colours"
            theme.on_value_change(lambda event: self.dark.set_value(event.value))

    def _work(self) -> None:
        with ui.element("div").classes("work") as self.work:
            with ui.element("div").classes("bar").props('role="toolbar" aria-label="Layer view"'):
                button("Layer down", lambda: self.board.run_method("climb", -1), "Page Down", "small")
                self.layer_label = ui.label("").classes("code")
                button("Layer up", lambda: self.board.run_method("climb", 1), "Page Up", "small")
                with ui.element("div").classes("bar-group") as self.edit_buttons:
                    for text, op, hint in EDITS:
                        button(text, partial(self.edit, op), hint, "small")
                ui.element("div").classes("gap")
                button("+", lambda: self.board.run_method("zoom", 1.25), "Zoom in (+)", "small", "Zoom in")
                button("−", lambda: self.board.run_method("zoom", 0.8), "Zoom out (-)", "small", "Zoom out")
                button("Fit", lambda: self.board.run_method("fit"), "0", "small")
                ui.element("div").classes("gap")
                self.solid_button = button("3D", self._toggle_solid, "Show the plan in space beside the layer", "small")
            with ui.element("div").classes("views") as self.views:
                self.board = Board()
                self.solid_box = ui.element("div").classes("solid-box hidden")
            self.timeline = Timeline().classes("hidden")
        self.board.on("ready", lambda _: self._send_whole())
        hear(self.board, "edit", Edit, self._on_edit)
        hear(self.board, "cursor", Cursor, self._on_cursor)
        hear(self.board, "ask", Question, self._on_ask)
        hear(
            self.board, "press", CellPressed, lambda told: attempt(lambda: self.watch.press_cell(told.cell, told.step))
        )
        hear(self.board, "lane", AtCell, lambda told: self.watch.toggle_lane(told.cell))

    def show_tab(self, name: str) -> None:
        """Show the panel of a tab, with the views of the plan beside it unless it takes the whole width."""
        wide = name in WIDE
        self.board.set_mode("watch" if name == "watch" else "lay")
        shown = [(self.timeline, name == "watch"), (self.edit_buttons, name == "lay")]
        for other, panel in self.panels.items():
            panel.classes(add="hidden" if other != name else "", remove="hidden" if other == name else "")
        for element, on in (*shown, (self.work, not wide), (self.side, not wide), (self.wide, wide)):
            element.classes(remove="hidden") if on else element.classes(add="hidden")
        if name != self.tab:
            ui.run_javascript("document.querySelector('.side').scrollTop = 0")
        self.tab = self.session.tab = name
        if self.tabs.value != name:
            self.tabs.set_value(name)
        shows = {
            "chart": self.chart.show,
            "compare": self.compare.show,
            "publish": self.publish.show,
            "files": self.files.show,
        }
        if name in shows:
            shows[name]()
        elif name == "watch":
            self.timeline.run_method("turn", ["main"])
            self.watch.show()
        else:
            self.board.run_method("mark", [])
        if self.solid is not None:
            self.solid.run_method("watch", name == "watch")

    # --- what happens ----------------------------------------------------------------------------------------------

    def _begin_hearing(self) -> None:
        """The page's socket is there, for the first time or again: a page without one is told of nothing."""
        if self._hear in self.session.listeners:
            return
        self.session.listeners.append(self._hear)
        with self.client:
            self._tell_missed()
            self.session.judging.begin()

    def _stop_hearing(self) -> None:
        if self._hear in self.session.listeners:
            self.session.listeners.remove(self._hear)
        self._missed.add("document")

    def _is_stuck(self) -> bool:
        """Whether the page has for long not acknowledged what it was sent."""
        unread = self.client.outbox.message_history
        return bool(unread) and time.time() - unread[0][1] > STUCK_AFTER_SECONDS

    def _catch_up(self) -> None:
        """Show what the page missed while it was stuck."""
        if self._missed and self._hear in self.session.listeners and not self._is_stuck():
            self._tell_missed()

    def _tell_missed(self) -> None:
        missed, self._missed = self._missed, set()
        for topic in sorted(missed - ({"plan", "tool"} if "document" in missed else set())):
            self._show(topic)

    def _hear(self, topic: str) -> None:
        """Show what a topic is about; nothing is built for a page that is stuck, unless it asks for it itself."""
        slots = Slot.get_stack()
        asks = bool(slots) and slots[-1].parent.client is self.client
        if self._is_stuck() and not asks:
            self._missed.add(topic)
        else:
            self._show(topic)

    def _show(self, topic: str) -> None:
        if topic == "plan":
            self.board.run_method("take", self.view.patch(self.session.document.plan, *rules_of(self.session.document)))
        elif topic == "document":
            self._send_whole()
        if topic in ("plan", "document"):
            self.lay.show_cell()
            self.lay.show_plan()
            self._send_solid(topic == "document")
            self.chart.refresh()
            self.watch.stale = True
            if topic == "document":
                self.watch.lanes = []
            if self.tab == "watch":
                self.watch.show()
        if topic == "tool":
            self.lay.show_tool()
        if topic == "length":
            self.watch.run()
        if topic == "judged":
            self.judge.show()
            self.strip.show()
            return
        self._refresh_top()

    def _send_whole(self) -> None:
        self.board.run_method("open", self.view.whole(self.session.document.plan, *rules_of(self.session.document)))
        self.lay.show_tool()

    def goto(self, cell: Cell) -> None:
        """Lead the cursor of the layer view to a cell."""
        if self.tab in WIDE:
            self.show_tab("lay")
        self.board.run_method("goto", *cell)

    # --- the 3D view -----------------------------------------------------------------------------------------------

    def _toggle_solid(self) -> None:
        shown = self.solid is None
        self.solid_button.props["aria-pressed"] = "true" if shown else "false"
        if shown:
            with self.solid_box:
                self.solid = Solid()
            self.solid.on("ready", lambda _: self._send_solid(True))
            hear(self.solid, "pick", Picked, self._on_pick)
            self.solid_box.classes(remove="hidden")
        else:
            self.solid = None
            self.solid_box.clear()
            self.solid_box.classes(add="hidden")

    def _send_solid(self, look: bool) -> None:
        if self.solid is not None:
            document = self.session.document
            self.solid.run_method("show", scene_data(document.plan, rules_of(document)[0]), look)
            self.solid.run_method("watch", self.tab == "watch")

    def _on_pick(self, told: Picked) -> None:
        if told.cell is not None:
            self.board.run_method("goto", *told.cell)

    # --- edits -----------------------------------------------------------------------------------------------------

    def edit(self, op: str) -> None:
        """Do an edit at the cursor, in the selected box."""
        self._perform({"op": op, "cell": self.cell, "box": self.box})

    def _on_edit(self, told: Edit) -> None:
        if told.op == "save":
            attempt(lambda: save_document(self))
        else:
            self._perform(asdict(told))

    def _perform(self, asked: dict[str, Any]) -> None:
        outcome = attempt(lambda: perform(self.session, asked))
        turn = asked.get("turn")  # of the layer view, which may have foreseen where this leaves cursor and selection
        if outcome is None:
            self.board.run_method("settle", turn, asked["cell"], asked["box"])
            return
        if outcome.box is not None:
            self.box = outcome.box if outcome.box.low != outcome.box.high or asked.get("box") else None
            self.board.run_method("settle", turn, outcome.box.low, self.box and list(self.box))
        if outcome.message:
            say(outcome.message)

    def _on_cursor(self, told: Cursor) -> None:
        self.cell = told.cell
        self.box = laying.box_of(*told.box) if told.box else None
        self.layer_label.set_text(f"Layer {told.cell[2]} of 0 to {max(0, self.session.document.plan.size[2] - 1)}")
        self.lay.show_cell()

    def _on_ask(self, told: Question) -> None:
        what = told.what
        if what == "keys":
            self.show_keys()
        elif what == "repeat":
            self.ask_repeat()
        else:
            self._ask_line(what)

    # --- the top line ----------------------------------------------------------------------------------------------

    def _refresh_top(self) -> None:
        document = self.session.document
        self.file_name.set_text(self.session.folder.name_of(document.path))
        self._show_state()
        for made, label, word in ((self.undo, document.undo_label, "Undo"), (self.redo, document.redo_label, "Redo")):
            made.set_enabled(label is not None)
            made.props["title"] = f"{word}: {label}" if label else f"Nothing to {word.lower()}"

    def _show_state(self) -> None:
        document = self.session.document
        lost = document.not_kept
        if lost:
            self.state.set_text(f"not kept: {lost}")
        else:
            self.state.set_text("kept here, not yet in its file" if document.unsaved else "saved in its file")
        self.state.classes(add="state-bad" if lost else "", remove="" if lost else "state-bad")
        if lost and not self._lost:
            with self.client:  # not the page whose edit this is told of
                say(
                    f"Not kept: {lost}. Your changes are on this page only, and lost if the workbench ends. Make room "
                    f"on the disk of {state_folder()}: they are kept as soon as there is room.",
                    bad=True,
                )
        self._lost = lost

    def _look_outside(self) -> None:
        if self.session.document.not_kept:
            self.session.document.keep()
        if self.session.document.not_kept != self._lost:
            self._show_state()
        now = self.session.document.outside()
        if now == "changed" and self._asked_outside != now:
            say("The file was changed by another program. Saving will ask what to keep.", bad=True)
        self._asked_outside = now

    # --- dialogs ---------------------------------------------------------------------------------------------------

    def show_keys(self) -> None:
        """Show all keys of the layer view."""
        with ui.dialog() as dialog, ui.card():
            heading("Keys of the layer view")
            with ui.element("table"):
                for keys, text in KEYS:
                    with ui.element("tr"):
                        with ui.element("td").classes("code"):
                            ui.label(keys)
                        with ui.element("td"):
                            ui.label(text)
            button("Close", dialog.close, kind="main")
        dialog.on("hide", dialog.delete)
        dialog.open()

    def ask_repeat(self) -> None:
        """Ask how often and how far apart to lay copies of the selected box."""
        box = self.box
        if box is None:
            say("Select a box first: drag with the Select tool, or hold Shift with the arrow keys.", bad=True)
            return
        with ui.dialog() as dialog, ui.card():
            heading("Repeat the selection")
            axis = ui.radio({"x": "eastward", "y": "southward", "z": "upward"}, value="x").props("inline")
            count = ui.number("How often in all", value=2, min=2, max=200, precision=0).props("outlined dense")
            pitch = ui.number("Cells from one to the next", value=box.high[0] - box.low[0] + 1, min=1, precision=0)
            pitch.props("outlined dense")

            def do() -> None:
                numbers = int(count.value or 0), int(pitch.value or 0)
                self.session.change("repeat", lambda plan: laying.again(plan, box, axis.value, *numbers))
                dialog.close()

            with ui.element("div").classes("row-line"):
                button("Repeat", do, kind="main")
                button("Cancel", dialog.close)
        dialog.on("hide", dialog.delete)
        dialog.open()

    def _ask_line(self, what: str) -> None:
        cell, plan = self.cell, self.session.document.plan
        tables = {"trigger": "triggers", "output": "outputs"}
        if what in tables:
            now = next((name for name, at in getattr(plan, tables[what]).items() if at == cell), "")
        else:
            now = laying.pinned_notes(plan).get(cell, "")
        with ui.dialog() as dialog, ui.card():
            heading(f"{what.capitalize()} at this cell")
            line = ui.input("Name" if what in tables else "Note", value=now).props("outlined dense autofocus")

            def do() -> None:
                text = (line.value or "").strip()
                if what in tables:
                    self.session.change(f"name {what}", lambda plan: laying.name_cell(plan, tables[what], text, cell))
                else:
                    self.session.change("note", lambda plan: laying.with_note_at(plan, cell, text))
                dialog.close()
                self.board.run_method("grab")

            line.on("keydown.enter", lambda _: attempt(do))
            with ui.element("div").classes("row-line"):
                button("Set", do, kind="main")
                button("Cancel", dialog.close)
        dialog.on("hide", dialog.delete)
        dialog.open()
