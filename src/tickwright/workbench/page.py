"""The page: its head with the tabs of the four rooms, and what is told between session, rooms and user."""

from __future__ import annotations

import time
from functools import partial
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from msgspec.structs import asdict
from nicegui import ui
from nicegui.slot import Slot

from tickwright.space import Cell
from tickwright.workbench import dialogs, laying
from tickwright.workbench.actions import perform
from tickwright.workbench.bench_room import BenchRoom
from tickwright.workbench.colours import variables
from tickwright.workbench.document import Box
from tickwright.workbench.elements import Board, Drop, attempt, button, say
from tickwright.workbench.journal import state_folder
from tickwright.workbench.late import designs_room, save_document, sheet_room, shelf_room
from tickwright.workbench.module_panel import choose_module
from tickwright.workbench.rooms import ROOMS, Rooms
from tickwright.workbench.session import Session
from tickwright.workbench.telling import Cursor, Edit, Flashing, Question, Said, hear
from tickwright.workbench.trying import Trying

if TYPE_CHECKING:
    from tickwright.workbench.designs_room import DesignsRoom

STUCK_AFTER_SECONDS = 5.0  # a page acknowledges every 3 s what it was sent
THEMES = {None: "Colours of the system", False: "Light", True: "Dark"}


class Page:
    """One browser page on the session."""

    bench: BenchRoom

    def __init__(self, session: Session) -> None:
        self.session = session
        self.client = ui.context.client
        self.cell: Cell = (0, 0, 0)
        self.box: Box | None = None
        self.trying = Trying(self)
        style = files("tickwright.workbench").joinpath("web/bench.css").read_text(encoding="utf-8")
        ui.add_head_html('<meta name="viewport" content="width=device-width, initial-scale=1">')
        ui.add_head_html(f"<style>{variables()}{style}</style>")
        ui.page_title("Tickwright workbench")
        self.dark = ui.dark_mode(value=None)
        self.rooms = Rooms(
            ROOMS,
            "Rooms",
            {
                "bench": lambda: BenchRoom(self),
                "designs": lambda: designs_room(self),
                "sheet": lambda: sheet_room(self),
                "shelf": lambda: shelf_room(self),
            },
            self._room_shown,
        )
        with ui.element("div").classes("frame"):
            self._top()
            with ui.element("main").classes("main"):
                self.rooms.make_panels("room")
            hear(Drop(), "said", Said, lambda told: say(told.text, bad=told.bad))
        self._missed: set[str] = set()  # topics that the page was not told of while it was away or stuck
        self._stale = True  # whether the bench is to be told of the plan when it is shown
        self.client.on_connect(self._begin_hearing)
        self.client.on_disconnect(self._stop_hearing)
        self.client.on_delete(self._stop_hearing)
        ui.timer(1.0, self._catch_up)
        ui.timer(2.0, self._look_outside)
        self._asked_outside = ""
        self._lost = ""  # what the page has said of changes that are not kept
        self.show_room(session.room)
        self._refresh_top()
        if session.document.notice:
            say(session.document.notice)

    # --- the frame -------------------------------------------------------------------------------------------------

    def _top(self) -> None:
        with ui.element("header").classes("top"):
            with ui.element("div").classes("top-left"):
                with ui.element("h1").classes("brand"):
                    ui.label("Tickwright")
                with ui.element("div").classes("file"):
                    self.title = ui.label("").classes("title")
                    with ui.element("div").classes("file-line"):
                        self.file_name = ui.label("").classes("file-name")
                        self.state = ui.label("").classes("state").mark("state")
            self.rooms.make_tabs()
            with ui.element("div").classes("top-right"):
                self.undo = button("Undo", lambda: self.edit("undo"), kind="small")
                self.redo = button("Redo", lambda: self.edit("redo"), kind="small")
                button("Save", lambda: save_document(self), "Write the plan to its file (Ctrl+S)", kind="small")
                self._menu()

    def _menu(self) -> None:
        made = button("⋯", lambda: None, "More", "small", "More").classes("more-button").mark("more")
        with made, ui.menu().props('auto-close aria-label="More"') as self.menu:
            ui.menu_item("Undo", lambda: self.edit("undo")).classes("narrow-only")
            ui.menu_item("Redo", lambda: self.edit("redo")).classes("narrow-only")
            ui.menu_item("Save", lambda: attempt(lambda: save_document(self))).classes("narrow-only")
            ui.menu_item("Keys", dialogs.show_keys).mark("keys")
            ui.menu_item("New plan", lambda: self.show_room("shelf"))
            for value, text in THEMES.items():
                ui.menu_item(text, partial(self.dark.set_value, value))

    @property
    def board(self) -> Board:
        """The layer view."""
        return self.bench.board

    @property
    def tab(self) -> str:
        """The room that is shown."""
        return self.rooms.now

    @property
    def shows_chart(self) -> bool:
        """Whether the chart of the plan is shown."""
        return self.tab == "designs" and "designs" in self.rooms.built and self.designs().inner.now == "chart"

    def planes(self) -> list[tuple[Board, str]]:
        """The grids of the bench, each with its plane."""
        return list(self.bench.boards())

    def designs(self) -> DesignsRoom:
        """The room of the designs."""
        room: DesignsRoom = self.rooms.get("designs")
        return room

    def show_room(self, name: str) -> None:
        """Show a room."""
        self.rooms.show(name if name in ROOMS else "bench")

    def show_side(self, name: str) -> None:
        """Show a side panel of the bench."""
        self.show_room("bench")
        self.bench.sides.show(name)

    def _room_shown(self, name: str) -> None:
        self.session.room = name
        room = self.rooms.get(name)
        if name == "bench":
            if self._stale and self._hear in self.session.listeners:
                self._show_bench("document")
            self.bench.timeline.run_method("turn", ["main"])
        else:
            room.show()

    # --- what happens ----------------------------------------------------------------------------------------------

    def _begin_hearing(self) -> None:
        """The page's socket is there, for the first time or again: a page without one is told of nothing."""
        if self._hear in self.session.listeners:
            return
        self.session.listeners.append(self._hear)
        with self.client:
            if self._stale and self.tab == "bench":
                self._show_bench("document")
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
        if topic == "document":
            self.cell, self.box = (0, 0, 0), None
        if self.tab == "bench":
            self._show_bench(topic)
        elif topic in ("plan", "document", "judged", "length", "tool"):
            self._stale = True
        if topic in ("plan", "document") and self.shows_chart:
            self.designs().refresh_chart()
        if topic != "judged":
            self._refresh_top()

    def _show_bench(self, topic: str) -> None:
        bench = self.bench
        if topic == "document":
            self._stale = False
            bench.send_whole()
        elif topic == "plan":
            bench.send_plan()
        if topic in ("plan", "document"):
            bench.show_layer()
            bench.send_solid(topic == "document")
            bench.watch.show(topic == "document")
            self.trying.look()
        if topic in ("tool", "document"):
            bench.parts.show_tool()
        if topic == "length":
            bench.watch.run()
        if topic in ("judged", "document"):
            bench.head.show()
            bench.watch.show_bands()
        if topic != "tool":
            bench.refresh_side(topic=topic if topic != "document" else "")

    def show_boxes(self) -> None:
        """Show modules as boxes, or with their parts, whichever is not so now."""
        for board, _ in self.planes():
            board.run_method("fold")

    def hold_module(self, plan: str) -> None:
        """Take a module in hand, on the bench."""
        self.session.hold_module(plan)
        self.show_room("bench")
        self.bench.parts.lay()
        self.board.run_method("grab")

    def show_ghost(self) -> None:
        """Another part is tried at the cursor, or none any more."""
        self.bench.watch.show_bands()
        if self.bench.sides.now == "cell":
            self.bench.sides.get("cell").show_ghost()

    def goto(self, cell: Cell) -> None:
        """Lead the cursor of the layer view to a cell."""
        self.show_room("bench")
        self.board.run_method("goto", *cell)

    # --- edits -----------------------------------------------------------------------------------------------------

    def edit(self, op: str) -> None:
        """Do an edit at the cursor, in the selected box."""
        self._perform({"op": op, "cell": self.cell, "box": self.box})

    def on_edit(self, told: Edit) -> None:
        """A grid asks for an edit."""
        if told.op == "save":
            attempt(lambda: save_document(self))
        elif told.op == "put":
            attempt(self.trying.put)
        else:
            self._perform(asdict(told))

    def _perform(self, asked: dict[str, Any]) -> None:
        outcome = attempt(lambda: perform(self.session, asked))
        turn = asked.get("turn")  # of the grid, which may have foreseen where this leaves cursor and selection
        if outcome is None:
            self.board.run_method("settle", turn, asked["cell"], asked["box"])
            return
        if outcome.box is not None:
            self.box = outcome.box if outcome.box.low != outcome.box.high or asked.get("box") else None
            self.board.run_method("settle", turn, outcome.box.low, self.box and list(self.box))
        if outcome.message:
            say(outcome.message)

    def on_cursor(self, board: Board, told: Cursor) -> None:
        """The cursor of a grid is elsewhere: the other one follows it."""
        self.cell = told.cell
        self.box = laying.box_of(*told.box) if told.box else None
        bench = self.bench
        bench.send_section()
        for other, _ in self.planes():
            if other is not board:
                other.run_method("meet", told.cell, told.box)
        bench.show_layer()
        self.trying.look()
        bench.refresh_side(topic="cursor")

    def on_ask(self, told: Question) -> None:
        """A dialog, or a panel, is asked for."""
        if told.what == "keys":
            dialogs.show_keys()
        elif told.what == "repeat":
            self.ask_repeat()
        elif told.what == "boxes":
            self.show_boxes()
        elif told.what == "module":
            attempt(lambda: choose_module(self))
        elif told.what in ("promise", "proof"):
            self.show_side("judge")
            ui.run_javascript(
                f"document.getElementById('judge-{told.what}')?.scrollIntoView({{block: 'start'}});"
                f"document.querySelector('#judge-{told.what} input')?.focus()"
            )
        else:
            dialogs.ask_line(self, told.what)

    def ask_flashing(self, told: Flashing) -> None:
        """Ask before what flashes is played unguarded."""
        self.rooms.get("bench")
        self.bench.watch.ask_flashing(told)

    def ask_repeat(self) -> None:
        """Ask how often and how far apart to lay copies of the selected box."""
        dialogs.ask_repeat(self)

    # --- the top line ----------------------------------------------------------------------------------------------

    def _refresh_top(self) -> None:
        document = self.session.document
        self.title.set_text(document.plan.title or "Untitled plan")
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
