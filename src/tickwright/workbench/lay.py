"""Lay: the part list, the chosen part, and what is said of the cell under the cursor and of the plan."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

from nicegui import ui

from tickwright.kinds import PARTS, parse_part, part_text
from tickwright.rules import BUILT_IN
from tickwright.space import Cell, cell_text
from tickwright.workbench import laying
from tickwright.workbench.actions import choose_kind
from tickwright.workbench.cells import kind_groups, part_data, rules_of, sample_part
from tickwright.workbench.elements import Glyph, attempt, button, choice, field, section

if TYPE_CHECKING:
    from tickwright.workbench.page import Page

TOOLS = {"part": "Lay", "select": "Select", "erase": "Erase"}


class LayPanel:
    """The panel beside the layer view."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.session = page.session
        self.sort = "part"
        with section("Tool"):
            tools = ui.toggle(TOOLS, value="part").classes("tools")
            tools.props("no-caps unelevated spread :ripple=false toggle-color=chosen toggle-text-color=on-chosen")
            tools.props["aria-label"] = "What a click on the grid does"
            tools.on_value_change(lambda event: self._sort(event.value))
        with section("Part"):
            self._kinds: dict[str, ui.button] = {}
            with ui.element("div").classes("kinds").props('role="group" aria-label="Parts"'):
                for title, kinds in kind_groups():
                    ui.label(title).classes("kinds-title")
                    for kind in kinds:
                        self._kind_button(kind)
            self.chosen = ui.element("div").classes("chosen")
        with section("Cell"):
            self.cell = ui.element("div").classes("stack")
        with section("Plan"):
            self.plan = ui.element("div").classes("stack")
        self.show_tool()
        self.show_cell()
        self.show_plan()

    def _kind_button(self, kind: str) -> None:
        made = ui.button(on_click=partial(choose_kind, self.session, kind), color=None)
        made.props("flat no-caps unelevated align=left :ripple=false").classes("kind").mark(f"part-{kind}")
        made.props["title"] = PARTS[kind].help
        with made:
            Glyph(sample_part(kind))
            ui.label(kind)
        self._kinds[kind] = made

    def _sort(self, sort: str) -> None:
        self.sort = sort
        self.show_tool()

    # --- the chosen part -------------------------------------------------------------------------------------------

    def show_tool(self) -> None:
        """Show the part that is chosen, with its direction and arguments, and tell the grid."""
        part = self.session.tool
        kind = PARTS[part.kind]
        for name, made in self._kinds.items():
            made.props["aria-pressed"] = "true" if name == part.kind else "false"
        self.chosen.clear()
        with self.chosen:
            with ui.element("div").classes("chosen-line"):
                Glyph(part, 32)
                ui.label(part_text(part)).classes("code").mark("chosen-part")
            if kind.directions:
                choice("Direction", list(kind.directions), part.facing, partial(self._set_one, "facing"))
            for argument in kind.arguments:
                name, now = argument.name, getattr(part, argument.name)
                if len(argument.choices) <= 4:
                    shown = {value: _shown(value) for value in argument.choices}
                    choice(name.capitalize(), shown, now, partial(self._set_one, name))
                else:
                    number = ui.number(name.capitalize(), value=now, min=0, max=int(argument.choices[-1]), precision=0)
                    number.props("outlined dense stack-label").classes("field")
                    number.on("change", partial(self._set_number, name, number))
        self.page.board.run_method("choose", {"sort": self.sort, **part_data(part, rules_of(self.session.document)[0])})

    def _set_one(self, name: str, value: Any) -> None:
        values: dict[str, Any] = {name: value}
        self.session.tool = parse_part(part_text(self.session.tool._replace(**values)))
        self.session.tell("tool")

    def _set_number(self, name: str, number: ui.number) -> None:
        attempt(lambda: self._set_one(name, int(number.value or 0)))

    # --- the cell --------------------------------------------------------------------------------------------------

    def show_cell(self) -> None:
        """Show the names and the note of the cell under the cursor, to be changed."""
        cell, plan = self.page.cell, self.session.document.plan
        note = laying.pinned_notes(plan).get(cell, "")
        self.cell.clear()
        with self.cell:
            ui.label(f"{cell_text(cell)} {laying.cell_name(plan, cell)}").classes("code").mark("cell-words")
            for table, label in (("triggers", "Trigger"), ("outputs", "Output")):
                name = next((name for name, at in getattr(plan, table).items() if at == cell), "")
                made = field(f"{label} name", name).mark(f"name-{table}")
                made.on("change", partial(self._name, table, made))
            made_note = field("Note at this cell", note).mark("cell-note")
            made_note.on("change", lambda _: attempt(lambda: self._note(cell, made_note.value)))

    def _name(self, table: str, made: ui.input) -> None:
        cell, name = self.page.cell, (made.value or "").strip()
        label = f"name {table[:-1]}"
        attempt(lambda: self.session.change(label, lambda plan: laying.name_cell(plan, table, name, cell)))

    def _note(self, cell: Cell, text: str) -> None:
        self.session.change("note", lambda plan: laying.with_note_at(plan, cell, text or ""))

    # --- the plan --------------------------------------------------------------------------------------------------

    def show_plan(self) -> None:
        """Show title, rules and notes of the plan, to be changed."""
        plan = self.session.document.plan
        self.plan.clear()
        with self.plan:
            title = field("Title", plan.title)
            title.on("change", lambda _: attempt(lambda: self._retitle(title.value)))
            known = list(dict.fromkeys([*BUILT_IN, plan.rules]))
            choice("Rules", known, plan.rules, self._rerule)
            notes = ui.textarea("Notes, kept as comments at the head of the file", value=laying.notes_of(plan))
            notes.props("outlined dense stack-label autogrow").classes("field notes")
            notes.on("change", lambda _: attempt(lambda: self._renote(notes.value)))
            button("Repeat a selection ...", self.page.ask_repeat, "Lay copies of the selected box side by side")

    def _retitle(self, title: str) -> None:
        self.session.change("title", lambda plan: laying.with_title(plan, title or ""))

    def _rerule(self, rules: str) -> None:
        self.session.change("rules", lambda plan: laying.with_rules(plan, rules))

    def _renote(self, text: str) -> None:
        self.session.change("notes", lambda plan: laying.with_notes(plan, text or ""))


def _shown(value: object) -> str:
    return ("yes" if value else "no") if isinstance(value, bool) else str(value)
